"""Handouts as files, and batches of them for the printer.

Law: a page is made again only when its content changed; a batch that was stopped goes on where it was, since each
page it made is a row and a file already. One file serves an athlete and the printer: it is tagged for a screen reader,
and merging for the printer drops the tags (`paper.merge`).
"""

from __future__ import annotations

import hashlib
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.db.models import Min, Q, QuerySet
from django.utils import timezone

from athletes.models import Athlete, Coach, Group, Practice
from plans import paper
from plans.handout_contents import page_of, pages_of, running, span
from plans.handout_page import HandoutPage, content_hash, pdf_of
from plans.jobs import carries, enqueue, progress
from plans.models import Handout, HandoutBatch, Job
from plans.reading import week_of

FOLDER = "handouts"
PARTIAL = ".part"
A_DAY_S = 86_400
KEEP_BATCHES = timedelta(days=30)
KEEP_PAGES = timedelta(days=120)
AT_ONCE = 100  # athletes whose contents are read together
CATCH_UP = timedelta(days=2)  # a Sunday without the server is made good until Tuesday evening
SUNDAY = 6


def start_batch(
    coach: Coach,
    athletes: Sequence[Athlete],
    first_day: date,
    group: Group | None,
    shape: str = "one",
    *,
    scheduled: bool = False,
) -> HandoutBatch:
    with transaction.atomic():
        batch = HandoutBatch.objects.create(
            coach=coach,
            group=group,
            first_day=first_day,
            made_at=timezone.now(),
            shape=shape,
            scheduled=scheduled,
        )
        batch.athletes.set(athletes)
        enqueue("handouts", str(batch.pk))
    return batch


@dataclass(frozen=True)
class Made:
    """One athlete's page in a batch."""

    athlete: Athlete
    group: str
    file: Path
    digest: str


@carries("handouts")
def make_batch(job: Job) -> None:
    """Make the pages of a batch that are not there yet, by group then name, and put them together."""
    batch = HandoutBatch.objects.filter(pk=UUID(job.key)).first()
    if batch is None or batch.file:
        return
    athletes = list(
        batch.athletes.annotate(first_group=Min("groups__name")).order_by("first_group", "name", "pk")
    )
    firsts = dict(batch.athletes.annotate(group=Min("groups__name")).values_list("pk", "group"))
    group = batch.group.name if batch.group else None
    made: list[Made] = []
    anew = 0
    for start in range(0, len(athletes), AT_ONCE):
        some = athletes[start : start + AT_ONCE]
        pages = pages_of(running(some), batch.first_day)
        known = _known(some, batch.first_day)
        progress(job, start, len(athletes))
        for number, athlete in enumerate(some, start=start + 1):
            if (page := pages.get(athlete.pk)) is None:
                continue
            digest = content_hash(page)
            file = known.get((athlete.pk, digest))
            if file is None:
                file, anew = keep(athlete, batch.first_day, page, digest), anew + 1
                progress(job, number, len(athletes))
            made.append(Made(athlete, group or firsts[athlete.pk] or "", file, digest))
    if not made:
        raise ValueError("None of these athletes has a schedule for that week.")
    whole = str(together(batch, made))
    with transaction.atomic():
        # Where two workers made it (the lease of one ran out), the first tells of it, and only that one.
        mine = HandoutBatch.objects.filter(pk=batch.pk, file="")
        if mine.update(file=whole, pages=len(made), made_anew=anew) and batch.scheduled:
            enqueue("handout-mail", str(batch.pk))
    progress(job, len(athletes), len(athletes))


def _known(athletes: Sequence[Athlete], first_day: date) -> dict[tuple[int, str], Path]:
    rows = Handout.objects.filter(athlete__in=athletes, first_day=first_day)
    found = {
        (a, digest): made_dir() / file
        for a, digest, file in rows.values_list("athlete_id", "content_hash", "file")
    }
    return {key: path for key, path in found.items() if path.is_file()}


def keep(athlete: Athlete, first_day: date, page: HandoutPage, digest: str) -> Path:
    """Make one page, and remember what is on it."""
    path = write(f"{athlete.pk}-{first_day}-{digest[:16]}.pdf", pdf_of(page, tagged=True))
    file = str(path.relative_to(made_dir()))
    Handout.objects.update_or_create(
        athlete=athlete, first_day=first_day, content_hash=digest, defaults={"file": file}
    )
    return path


def make_page(athlete: Athlete, first_day: date) -> Path | None:
    """The athlete's own page as a tagged PDF: the one made before if nothing on it changed. None without such a week."""
    schedules = running([athlete])
    page = page_of(schedules[0], first_day) if schedules else None
    if page is None:
        return None
    digest = content_hash(page)
    return _known([athlete], first_day).get((athlete.pk, digest)) or keep(athlete, first_day, page, digest)


def together(batch: HandoutBatch, made: Sequence[Made]) -> Path:
    """One file of all pages, relative to where files are made; the same pages in the same order make the same file."""
    ending = "zip" if batch.shape == "each" else "pdf"
    content = "\n".join(f"{one.group}|{one.athlete.name}|{one.digest}" for one in made)
    digest = hashlib.sha256(f"{batch.first_day}|{content}".encode()).hexdigest()
    name = f"all-{batch.first_day}-{digest[:24]}.{ending}"
    path = made_dir() / FOLDER / name
    if not path.is_file():
        path = write(
            name, zipped(batch.first_day, made) if ending == "zip" else merged(batch.first_day, made)
        )
    return path.relative_to(made_dir())


def merged(first_day: date, made: Sequence[Made]) -> bytes:
    title = f"Handouts, {span(first_day)}"
    return paper.merge(
        (one.file.read_bytes() for one in made), title=title, names=[one.athlete.name for one in made]
    )


def zipped(first_day: date, made: Sequence[Made]) -> bytes:
    """A tagged PDF each, in a folder for each group. The same pages give the same bytes: no clock goes in."""
    out, seen = BytesIO(), set()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for one in made:
            name = "/".join(plain for part in (one.group, one.athlete.name) if (plain := file_name(part)))
            while name.lower() in seen:
                name = f"{name} ({one.athlete.pk})"
            seen.add(name.lower())
            entry = zipfile.ZipInfo(f"{name}.pdf", (first_day.year, first_day.month, first_day.day, 0, 0, 0))
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, one.file.read_bytes())
    return out.getvalue()


def file_name(words: str) -> str:
    """A name without what a file name can't have; never a step out of the folder."""
    return re.sub(r'[\x00-\x1f/\\:*?"<>|]+', " ", words).strip(" .")[:80]


def made_dir() -> Path:
    return Path(settings.MADE_DIR)


def write(name: str, content: bytes) -> Path:
    """Whole or not at all: a half-written file is never seen under its name, whoever else writes it just now."""
    folder = made_dir() / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    partial, path = folder / f".{uuid4().hex}{PARTIAL}", folder / name
    try:
        partial.write_bytes(content)
        partial.replace(path)
    except OSError:  # a full disk: half a page would only keep it full
        partial.unlink(missing_ok=True)
        raise
    return path


# On Sundays


def due_week(now: datetime, practice: Practice) -> date | None:
    """The first day of the week whose handouts are due: the one after the last Sunday, from the practice's hour on."""
    if practice.handout_hour is None:
        return None
    here = now.astimezone(ZoneInfo(practice.time_zone))
    day = here.date() - timedelta((here.weekday() - SUNDAY) % 7)
    due = datetime.combine(day, datetime.min.time(), here.tzinfo) + timedelta(hours=practice.handout_hour)
    if due > here:
        day, due = day - timedelta(7), due - timedelta(7)
    return week_of(day + timedelta(7), practice.week_starts) if here - due < CATCH_UP else None


def write_sunday() -> None:
    """One row a week, whatever the sweep's haste: the key is the week."""
    first_day = due_week(timezone.now(), Practice.get())
    if first_day and not Job.objects.filter(kind="handout-week", key=first_day.isoformat()).exists():
        enqueue("handout-week", first_day.isoformat())


@carries("handout-week")
def make_week(job: Job) -> None:
    """A batch for each coach with athletes of their own who have that week. Twice without harm: one a coach."""
    first_day, today = date.fromisoformat(job.key), timezone.now().date()
    standing = Q(coachathlete__until__isnull=True) | Q(coachathlete__until__gte=today)
    for pk in list(Coach.objects.values_list("pk", flat=True)):
        with transaction.atomic():
            coach = Coach.objects.select_for_update().get(pk=pk)
            if HandoutBatch.objects.filter(coach=coach, first_day=first_day, scheduled=True).exists():
                continue
            mine = with_week(Athlete.objects.filter(standing, coachathlete__coach=coach), first_day)
            if mine:
                start_batch(coach, mine, first_day, None, scheduled=True)


def with_week(athletes: QuerySet[Athlete], first_day: date) -> list[Athlete]:
    """Those who are here and whose running schedule has their week of it (`reading.own_week`)."""
    near = (first_day - timedelta(3), first_day + timedelta(3))
    return list(
        athletes.filter(
            left_on__isnull=True,
            schedules__state="running",
            schedules__weeks__first_day__range=near,
            schedules__weeks__to_version=None,
        ).distinct()
    )


# Tidying


def forget_old_batches() -> None:
    """Batches after a month, single pages after four; a file that another row names stays.

    What a killed worker left half written goes after a day.
    """
    now = timezone.now()
    for partial in (made_dir() / FOLDER).glob(f".*{PARTIAL}"):
        if now.timestamp() - partial.stat().st_mtime > A_DAY_S:
            partial.unlink(missing_ok=True)
    for batch in HandoutBatch.objects.filter(made_at__lt=now - KEEP_BATCHES):
        batch.delete()
        if batch.file and not HandoutBatch.objects.filter(file=batch.file).exists():
            (made_dir() / batch.file).unlink(missing_ok=True)
    for page in Handout.objects.filter(first_day__lt=(now - KEEP_PAGES).date())[:500]:
        (made_dir() / page.file).unlink(missing_ok=True)
        page.delete()
