"""Handouts: what stands on each athlete's page, and batches of pages for the printer.

A page is made again only when its content changed; a batch that was stopped goes on where it was, since each
page it made is a row and a file already.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from pathlib import Path
from typing import cast
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Min
from django.utils import timezone

from athletes.models import Athlete, Coach, Group, Practice
from athletes.running.paces import PACE_NAMES, PaceCard, show_range
from athletes.running.units import Distance, Units, show_distance
from plans import paper
from plans.handout_page import DayRow, HandoutPage, PaceRow, content_hash, pdf_of
from plans.jobs import carries, enqueue, progress
from plans.models import Handout, HandoutBatch, Job, Proposal, Schedule
from plans.paper import PaperSize
from plans.reading import Cards, Item, Week, cards_of, understood, weeks_of
from plans.training.describing import lines

FOLDER = "handouts"
PACE_WORDS = {"HM": "Half", "MP": "Marathon", "goal": "Goal", "easy": "Easy", "recovery": "Recovery"}
KEEP_BATCHES = timedelta(days=30)


def page_of(schedule: Schedule, first_day: date) -> HandoutPage | None:
    """One athlete's page for the week that begins on `first_day`; None when the schedule has no such week."""
    athlete, practice = schedule.athlete, Practice.get()
    units: Units = "mi" if athlete.units == "mi" else "km"
    weeks = weeks_of(schedule)
    at = next((n for n, week in enumerate(weeks) if week.first_day == first_day), None)
    if at is None:
        return None
    week = weeks[at]
    cards = cards_of(schedule)
    # A week printed again after new paces: its past days keep theirs, and the card printed is the one to run by.
    stored = cards.on(first_day + timedelta(6))
    card = stored.card if stored else None
    race = schedule.race_entry.race if schedule.race_entry else None
    note = athlete.coach_notes.filter(at__gte=timezone.now() - timedelta(days=10)).first()
    return HandoutPage(
        name=athlete.name,
        practice=practice.name,
        address=tuple(line for line in practice.address_lines.splitlines() if line.strip()),
        dates=span(week.first_day),
        week=week.number,
        weeks=week.of,
        purpose=week.purpose,
        race=race.name if race else "",
        days_to_go=(race.day - first_day).days if race else None,
        total=show_distance(Distance(round_to_whole(week.planned_mm, units)), units),
        days=tuple(day_rows(week, cards, units)),
        changes=tuple(changes_for(schedule, week)),
        coach=note.coach_name if note else "",
        note=note.words if note else "",
        next_week=next_line(weeks[at + 1], units) if at + 1 < len(weeks) else "",
        paces=tuple(pace_rows(card, units)) if card else (),
        pace_unit=f"per {'mile' if units == 'mi' else 'km'}",
        volumes=tuple(one.planned_mm for one in weeks),
        now=at,
        link=f"{settings.PUBLIC_URL}/me/?week={first_day.isoformat()}",
        paper=cast(PaperSize, practice.paper),
    )


def span(first: date) -> str:
    """`30 November to 6 December`."""
    last = first + timedelta(6)
    begins = f"{first.day}" if first.month == last.month else f"{first.day} {first:%B}"
    return f"{begins} to {last.day} {last:%B}"


def round_to_whole(mm: int, units: Units) -> int:
    size = 1_609_344 if units == "mi" else 1_000_000
    return (mm + size // 2) // size * size


def day_rows(week: Week, cards: Cards, units: Units) -> Iterable[DayRow]:
    for day, items in week.days:
        stored = cards.on(day)
        card = stored.card if stored else None
        label = f"{day:%a} {day.day}"
        sessions = [item for item in items if item.role != "rest"]
        if not sessions:
            yield DayRow(label, "Rest", rest=True)
        for number, item in enumerate(sessions):
            yield day_row(label if number == 0 else "", item, card, units)


def day_row(label: str, item: Item, card: PaceCard | None, units: Units) -> DayRow:
    """A session in plain words: each step that the title does not say, with its own pace."""
    steps = understood(item.steps)
    said = lines(steps, card, units) if steps and card else ()
    details = (
        [" ".join(part for part in (one.amount, one.words) if part) for one in said] if len(said) > 1 else []
    )
    paces = list(dict.fromkeys(one.pace for one in said if one.pace and one.hard))
    easy = list(dict.fromkeys(one.pace for one in said if one.pace))
    text = [", ".join(details)] if details else []
    return DayRow(
        date=label,
        title=item.title,
        details=(*text, *([item.purpose] if item.purpose else [])),
        pace=(paces or easy or [""])[0],
    )


def changes_for(schedule: Schedule, week: Week) -> list[str]:
    """Why sessions of this week are not as they were: the sentences of the last accepted proposal."""
    accepted = Proposal.objects.filter(schedule=schedule, state="accepted").first()
    if accepted is None:
        return []
    here = {item.session_id for item in week.items}
    return [change.sentence for change in accepted.changes.all() if change.session_id in here]


def next_line(week: Week, units: Units) -> str:
    total = show_distance(Distance(round_to_whole(week.planned_mm, units)), units)
    long = max((i for i in week.items if i.role == "long"), key=lambda i: i.planned_mm, default=None)
    return (
        f"{week.purpose.rstrip('.')}: {total}{f', {long.title[0].lower()}{long.title[1:]}' if long else ''}."
    )


def pace_rows(card: PaceCard, units: Units) -> Iterable[PaceRow]:
    for name in PACE_NAMES:
        if ends := card.ranges.get(name):
            yield PaceRow(
                PACE_WORDS.get(name, name), show_range(ends, units).partition("/")[0].replace("–", " to ")
            )


def start_batch(coach: Coach, athletes: list[Athlete], first_day: date, group: Group | None) -> HandoutBatch:
    with transaction.atomic():
        batch = HandoutBatch.objects.create(
            coach=coach, group=group, first_day=first_day, made_at=timezone.now()
        )
        batch.athletes.set(athletes)
        enqueue("handouts", str(batch.pk))
    return batch


@carries("handouts")
def make_batch(job: Job) -> None:
    """Make the pages of a batch, athlete by athlete, and put them together for the printer."""
    batch = HandoutBatch.objects.filter(pk=UUID(job.key)).first()
    if batch is None or batch.file:
        return
    athletes = list(batch.athletes.annotate(group=Min("groups__name")).order_by("group", "name"))
    progress(job, 0, len(athletes))
    made: list[tuple[str, Path]] = []
    for number, athlete in enumerate(athletes, start=1):
        page = make_page(athlete, batch.first_day)
        if page is not None:
            made.append((athlete.name, page))
        progress(job, number, len(athletes))
    if not made:
        raise ValueError("None of these athletes has a schedule for that week.")
    names = [name for name, _ in made]
    title = f"Handouts, {span(batch.first_day)}"
    pdf = paper.merge((path.read_bytes() for _, path in made), title=title, names=names)
    batch.file = str(write(f"batch-{batch.pk}.pdf", pdf).relative_to(settings.MADE_DIR))
    batch.save(update_fields=["file"])


def make_page(athlete: Athlete, first_day: date) -> Path | None:
    """The athlete's page as a file: the one made before if nothing on it changed. None without such a week."""
    schedule = (
        Schedule.objects.filter(athlete=athlete, state="running")
        .select_related("athlete", "race_entry__race")
        .first()
    )
    page = page_of(schedule, first_day) if schedule else None
    if page is None:
        return None
    digest = content_hash(page)
    known = Handout.objects.filter(athlete=athlete, first_day=first_day, content_hash=digest).first()
    if known and (settings.MADE_DIR / known.file).exists():
        return Path(settings.MADE_DIR / known.file)
    path = write(f"{athlete.pk}-{first_day}-{digest[:16]}.pdf", pdf_of(page))
    Handout.objects.get_or_create(
        athlete=athlete,
        first_day=first_day,
        content_hash=digest,
        defaults={"file": str(path.relative_to(settings.MADE_DIR))},
    )
    return path


def write(name: str, content: bytes) -> Path:
    """Whole or not at all: a half-written file is never seen under its name."""
    folder = Path(settings.MADE_DIR) / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    partial, path = folder / f".{name}.part", folder / name
    partial.write_bytes(content)
    partial.replace(path)
    return path


def forget_old_batches() -> None:
    for batch in HandoutBatch.objects.filter(made_at__lt=timezone.now() - KEEP_BATCHES):
        if batch.file:
            (Path(settings.MADE_DIR) / batch.file).unlink(missing_ok=True)
        batch.delete()
