"""What is misconfigured, in plain words. Each check answers with what is wrong and what to do, or nothing."""

from __future__ import annotations

import shutil
import socket
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import get_connection
from django.db import DatabaseError, connection
from django.utils import timezone
from pypdf import PdfReader

from coaching import backing_up
from plans import paper
from plans.models import Job

LITTLE_SPACE = 1_000_000_000  # bytes
SILENT_WORKER = timedelta(minutes=5)
SILENT_BEAT = timedelta(hours=2)
CLOCK_OFF = timedelta(seconds=30)
SAMPLE = "Žluťoučký běh 4:30–4:40"


@dataclass(frozen=True)
class Finding:
    """`about` names the part; `words` say what is wrong and what to do."""

    about: str
    words: str


def examine() -> list[Finding]:
    """With the database away, what only it knows is passed over."""
    found = [Finding("database", words) for words in _database()]
    asked = [(about, check) for about, check in CHECKS.items() if about != "database"]
    if found:
        asked = [(about, check) for about, check in asked if about not in KNOWN_TO_DATABASE]
    return found + [Finding(about, words) for about, check in asked for words in check()]


def _database() -> Iterator[str]:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError as error:
        yield f"The database does not answer ({error.__class__.__name__}). Is DATABASE_URL right and the server up?"


def _time() -> Iterator[str]:
    """The database's clock against this machine's, where they are two."""
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        theirs = cursor.fetchone()[0]
    off = abs(timezone.now() - theirs)
    if off > CLOCK_OFF:
        yield f"The clocks of this machine and of the database are {off.seconds} s apart. Set both by NTP."


def _disk() -> Iterator[str]:
    for folder in (Path(settings.DATA_DIR), Path(settings.BACKUP_DIR)):
        there = folder if folder.exists() else folder.parent
        if there.exists() and shutil.disk_usage(there).free < LITTLE_SPACE:
            yield f"Less than 1 GB is free for {folder}. Make room: logs are refused when the disk is full."


def _folders() -> Iterator[str]:
    """Others on this machine must not read what is kept here."""
    for folder in dict.fromkeys((Path(settings.DATA_DIR), Path(settings.BACKUP_DIR))):
        if folder.exists() and folder.stat().st_mode & 0o077 and not _is_shut_above(folder):
            yield f"Anybody with an account on this machine can look into {folder}. Shut it: chmod 700 {folder}"


def _is_shut_above(folder: Path) -> bool:
    return any(not above.stat().st_mode & 0o077 for above in folder.parents)


def _worker() -> Iterator[str]:
    late = Job.objects.filter(state="waiting", not_before__lt=timezone.now() - SILENT_WORKER).count()
    if late:
        how = (
            "the process of `serve`" if not settings.REDIS_URL else "the worker (`celery -A coaching worker`)"
        )
        yield f"{late} job{'s have' if late > 1 else ' has'} waited over five minutes. Is {how} running?"
    failed = Job.objects.filter(state="failed", finished_at__gte=timezone.now() - timedelta(days=7)).first()
    if failed:
        yield f"A job of kind {failed.kind} gave up within the past week: {failed.error}"


def _beat() -> Iterator[str]:
    newest = Job.objects.filter(kind="look").order_by("-made_at").first()
    if newest is None or timezone.now() - newest.made_at > SILENT_BEAT:
        how = "the process of `serve`" if not settings.REDIS_URL else "the beat (`celery -A coaching beat`)"
        yield f"No hourly look was written in the past two hours. Is {how} running?"


def _broker() -> Iterator[str]:
    if not settings.REDIS_URL:
        return
    address = urlsplit(settings.REDIS_URL)
    try:
        socket.create_connection((address.hostname or "localhost", address.port or 6379), timeout=3).close()
    except OSError as error:
        yield (
            f"Redis does not answer at {address.hostname}:{address.port or 6379} ({error}). Work is still done, by the"
            " sweep, but late."
        )


def _mail() -> Iterator[str]:
    backend = settings.EMAIL_BACKEND
    if "console" in backend:
        yield "Mail goes to the console only. Set EMAIL_HOST and its fellows if letters are to leave this machine."
        return
    try:
        mail = get_connection(timeout=5)
        mail.open()
        mail.close()
    except OSError as error:
        yield f"The mail server does not take us in ({error}). Check EMAIL_HOST, EMAIL_PORT, EMAIL_HOST_USER."


def _fonts() -> Iterator[str]:
    if not can_be_read(paper.render(f"<p>{SAMPLE}</p>", title="A sample")):
        yield "What is printed can't be read back. Install fonts-dejavu and fonts-noto-core."


def can_be_read(pdf: bytes) -> bool:
    """Whether the sample stands in the PDF: without a font its letters come back as nothing."""
    return SAMPLE in PdfReader(BytesIO(pdf)).pages[0].extract_text()


def _backup() -> Iterator[str]:
    if settings.DEMO or not backing_up.is_late():
        return
    last = backing_up.last_good()
    when = f"The last good backup was made on {last.at:%d %B}." if last else "There is no good backup yet."
    yield f"{when} Run `manage.py backup`; the nightly one needs worker and beat."


def _address() -> Iterator[str]:
    address = urlsplit(settings.PUBLIC_URL)
    if address.hostname not in settings.ALLOWED_HOSTS and "*" not in settings.ALLOWED_HOSTS:
        yield f"PUBLIC_URL says {address.hostname}, but HOSTS does not have it: every page would be refused."
    local = address.hostname in ("localhost", "127.0.0.1", "::1")
    if address.scheme != "https" and not local:
        yield "PUBLIC_URL is not https: passwords travel in the open, and neither offline logging nor passkeys work."
    if settings.DEBUG and not local:
        yield "DEBUG is on: error pages show the program's inside to anybody. Switch it off."


KNOWN_TO_DATABASE = {"time", "worker", "beat", "backup"}
CHECKS: dict[str, Callable[[], Iterator[str]]] = {
    "database": _database,
    "time": _time,
    "disk": _disk,
    "folders": _folders,
    "worker": _worker,
    "beat": _beat,
    "broker": _broker,
    "mail": _mail,
    "fonts": _fonts,
    "backup": _backup,
    "address": _address,
}
