"""Everything about one athlete: as a file to take away, or erased for good; and who read their health notes.

Law: what is exported is what erasing would delete, found by the same walk over the tables, so a new table can't be
forgotten in either.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core import serializers
from django.db import models, transaction
from django.db.models import Exists, F, OuterRef
from django.db.models.deletion import Collector
from django.http import HttpResponse
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.text import slugify

from athletes.models import Athlete, Coach, HealthNote, NoteReading, Practice, User
from coaching.models import Delivery, Erasure
from plans.models import HandoutBatch, Log

FORMAT = 1
# Never leaves the server: keys and hashes that would open a door.
SECRET = {
    "athletes.User": {"password"},
    "coaching.Feed": {"nonce", "token_hash"},
    "coaching.Invitation": {"nonce", "token_hash"},
}
LEFT_OUT = {
    "coaching.DeviceSession",
    "otp_totp.TOTPDevice",
    "otp_static.StaticDevice",
    "otp_static.StaticToken",
}
LEFT_OUT |= {"otp_webauthn.WebAuthnCredential", "otp_webauthn.WebAuthnUserHandle"}


def rows_of(athlete: Athlete) -> dict[type[models.Model], list[models.Model]]:
    """Every row that is this athlete's, by table: what a cascade from the athlete, and from their account, reaches."""
    found: dict[type[models.Model], list[models.Model]] = {}
    roots: list[models.Model] = [athlete]
    if athlete.user is not None and not Coach.objects.filter(user=athlete.user).exists():
        roots.append(athlete.user)
    for root in roots:
        collector = Collector(using="default", origin=root)
        collector.collect([root])
        for model, instances in collector.data.items():
            found.setdefault(model, []).extend(instances)
        for fast in collector.fast_deletes:
            found.setdefault(fast.model, []).extend(fast)
    return {model: list({row.pk: row for row in rows}.values()) for model, rows in found.items() if rows}


def _plain(model: type[models.Model], rows: Iterable[models.Model]) -> list[dict[str, Any]]:
    hidden = SECRET.get(model._meta.label, set())
    made = []
    for row in json.loads(serializers.serialize("json", rows)):
        made.append({"id": row["pk"], **{k: v for k, v in row["fields"].items() if k not in hidden}})
    return made


def export(athlete: Athlete) -> bytes:
    """A zip of everything.json (every row) and read-me.html (the same for people)."""
    tables = {
        model._meta.label: _plain(model, rows)
        for model, rows in rows_of(athlete).items()
        if model._meta.label not in LEFT_OUT and not model._meta.auto_created
    }
    now = timezone.now()
    whole = {"format": FORMAT, "made_at": now.isoformat(), "athlete": athlete.name, "tables": tables}
    context = {
        "athlete": athlete,
        "practice": Practice.get(),
        "now": now,
        "results": athlete.results.all(),
        "logs": Log.objects.standing().filter(athlete=athlete).order_by("-day"),
        "notes": athlete.health_notes.all(),
        "readings": NoteReading.objects.filter(note__athlete=athlete),
        "screenings": athlete.screenings.all(),
        "words": athlete.messages.all(),
        "desk_notes": athlete.desk_notes.all(),
        "time_off": athlete.time_off.all(),
        "attendance": athlete.attendance.select_related("group_session__group").order_by(
            "group_session__day"
        ),
        "counts": sorted((label, len(rows)) for label, rows in tables.items()),
    }
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("everything.json", json.dumps(whole, indent=1, ensure_ascii=False))
        made.writestr("read-me.html", render_to_string("export/athlete.html", context))
    return file.getvalue()


def as_download(athlete: Athlete) -> HttpResponse:
    name = slugify(athlete.name) or "athlete"
    response = HttpResponse(export(athlete), content_type="application/zip")
    response["Content-Disposition"] = f'attachment; filename="{name}-{timezone.now():%Y-%m-%d}.zip"'
    response["Cache-Control"] = "no-store"
    return response


@transaction.atomic
def erase(athlete: Athlete, *, by_name: str) -> int:
    """Delete every row about this athlete, and their account unless it is a coach's. The number of rows.

    What stays: that somebody was erased, when and by whom; templates and races, which are the practice's; and, until
    they are overwritten, the backups.
    """
    count = sum(len(rows) for rows in rows_of(athlete).values())
    user = athlete.user
    # Printed pages of others are in the same files; they are made again when somebody asks.
    batches = HandoutBatch.objects.filter(athletes=athlete)
    files = [*athlete.handouts.values_list("file", flat=True), *batches.values_list("file", flat=True)]
    batches.delete()
    transaction.on_commit(lambda: _unlink(files))
    if user is not None:
        Delivery.objects.filter(to=user.email).delete()
    athlete.delete()
    if user is not None and not Coach.objects.filter(user=user).exists():
        User.objects.filter(pk=user.pk).delete()
    Erasure.objects.create(at=timezone.now(), by_name=by_name[:80], rows=count)
    return count


def _unlink(files: Iterable[str]) -> None:
    for file in filter(None, files):
        (Path(settings.MADE_DIR) / file).unlink(missing_ok=True)


def note_read(notes: models.QuerySet[HealthNote], reader: User) -> None:
    """Write down that somebody read these health notes: once a day and reader, for the athlete to see.

    The one row that a GET writes: a log of reading can't be written at another moment.
    """
    now = timezone.now()
    today = NoteReading.objects.filter(note=OuterRef("pk"), reader=reader, day=now.date())
    # Read once today already, and it has grown since: the moment moves, the row stays one.
    again = NoteReading.objects.filter(note__in=notes, reader=reader, day=now.date())
    again.filter(at__lt=F("note__changed_at")).update(at=now)
    fresh = notes.filter(~Exists(today)).exclude(athlete__user=reader).order_by()
    NoteReading.objects.bulk_create(
        [
            NoteReading(note_id=pk, reader=reader, reader_name=str(reader), day=now.date(), at=now)
            for pk in fresh.values_list("pk", flat=True)
        ],
        ignore_conflicts=True,
    )
