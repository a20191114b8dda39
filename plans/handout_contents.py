"""What stands on the handouts of many athletes, in a constant number of queries; one athlete is a batch of one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import cast
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils import timezone

from athletes.models import HealthNote, Practice
from athletes.models import PaceCard as StoredCard
from athletes.running.paces import PACE_NAMES, PaceCard, show_range
from athletes.running.units import Distance, Units, show_distance
from plans.gathering import meetings_of, with_places
from plans.handout_page import DayRow, HandoutPage, PaceRow
from plans.models import Change, Message, Proposal, RaceEntry, Schedule, ScheduleVersion, SessionIssue
from plans.paper import PaperSize
from plans.race_targets import entries_between, target_of
from plans.reading import RUNS, Cards, Item, Week, own_week, understood, week_of, weeks_of_many
from plans.training.describing import StepLine, lines

PACE_WORDS = {"HM": "Half", "MP": "Marathon", "goal": "Goal", "easy": "Easy", "recovery": "Recovery"}
NOTE_STANDS = timedelta(days=10)
# Without the cause: a page lies on a printer and hangs on a fridge.
HELD = {
    "rest": "On hold: no running until your coach clears it, whatever stands below. See a clinician.",
    "easy": "On hold: easy running only until your coach clears it. Leave out what is harder.",
}
Targets = Mapping[date, RaceEntry]


def running(athletes: Iterable[object]) -> list[Schedule]:
    """The running schedules of these athletes, with all that a page asks of them."""
    found = Schedule.objects.filter(athlete__in=list(athletes), state="running")
    return list(found.select_related("athlete", "race_entry__race"))


def page_of(schedule: Schedule, first_day: date) -> HandoutPage | None:
    """One athlete's page for the week that begins on `first_day`; None when the schedule has no such week."""
    return pages_of([schedule], first_day).get(schedule.athlete_id)


def pages_of(schedules: Sequence[Schedule], first_day: date) -> dict[int, HandoutPage]:
    """The page of each athlete (by key) for their week of the one from `first_day`, if their schedule has it.

    Twelve queries, and four more where a group meets.
    """
    practice = Practice.get()
    firsts = {s.pk: own_week(first_day, s.week_starts) for s in schedules}
    weeks = weeks_of_many(schedules, first_day - timedelta(3), first_day + timedelta(10))
    having = [s for s in schedules if any(week.first_day == firsts[s.pk] for week in weeks[s.pk])]
    cards, volumes = cards_of_many(having), _volumes(having)
    notes, changes = _notes(having), _changes(having)
    keys = [s.athlete_id for s in having]
    held = holds_of(keys)
    entries = entries_between(keys, first_day - timedelta(3), first_day + timedelta(9))
    meetings = meetings_of(keys, first_day - timedelta(3), first_day + timedelta(9))
    placed = {s.pk: with_places(weeks[s.pk], meetings, s.athlete_id, s.athlete.units) for s in having}
    return {
        s.athlete_id: _page(
            s,
            practice,
            firsts[s.pk],
            placed[s.pk],
            cards[s.pk],
            volumes[s.pk],
            notes.get(s.athlete_id),
            changes[s.pk],
            held.get(s.athlete_id, ""),
            entries[s.athlete_id],
        )
        for s in having
    }


def _page(
    schedule: Schedule,
    practice: Practice,
    first_day: date,
    weeks: Sequence[Week],
    cards: Cards,
    by_week: Mapping[date, int],
    note: Message | None,
    changes: Sequence[Change],
    held: str,
    entries: Targets,
) -> HandoutPage:
    units: Units = "mi" if schedule.athlete.units == "mi" else "km"
    week = next(one for one in weeks if one.first_day == first_day)
    after = next((one for one in weeks if one.number == week.number + 1), None)
    # A week printed again after new paces: its past days keep theirs, and the card printed is the one to run by.
    stored = cards.on(first_day + timedelta(6))
    card = stored.card if stored else None
    race = schedule.race_entry.race if schedule.race_entry else None
    begin = first_day - timedelta(7 * (week.number - 1))
    return HandoutPage(
        name=schedule.athlete.name,
        practice=practice.name,
        mark=practice.mark,
        address=tuple(line for line in practice.address_lines.splitlines() if line.strip()),
        dates=span(first_day),
        week=week.number,
        weeks=week.of,
        purpose=week.purpose,
        held=HELD.get(held, ""),
        race=race.name if race else "",
        days_to_go=(race.day - first_day).days if race else None,
        total=show_distance(Distance(round_to_whole(week.planned_mm, units)), units),
        days=tuple(day_rows(week, cards, units, entries)),
        changes=tuple(changes_for(changes, week)),
        coach=note.author_name if note else "",
        note=note.words if note else "",
        next_week=next_line(after, units) if after else "",
        paces=tuple(pace_rows(card, units)) if card else (),
        pace_unit=f"per {'mile' if units == 'mi' else 'km'}",
        volumes=tuple(by_week.get(begin + timedelta(7 * n), 0) for n in range(week.of)),
        now=week.number - 1,
        link=f"{settings.PUBLIC_URL}/me/?week={first_day.isoformat()}",
        paper=cast(PaperSize, practice.paper),
    )


def cards_of_many(schedules: Sequence[Schedule]) -> dict[int, Cards]:
    """As `reading.cards_of`, for many: the versions in one query, each card of them once in another."""
    now = timezone.now()
    versions = ScheduleVersion.objects.filter(schedule__in=schedules).order_by("number")
    rows = list(versions.values_list("schedule_id", "number", "issued_at", "pace_card_id"))
    known = StoredCard.objects.in_bulk({card for *_, card in rows if card})
    found: dict[int, list[tuple[int, datetime, StoredCard | None]]] = defaultdict(list)
    for schedule, number, issued_at, card in rows:
        found[schedule].append((number, issued_at, known.get(card) if card else None))
    return {
        s.pk: Cards(ZoneInfo(s.athlete.time_zone), s.athlete.today(now), tuple(found[s.pk]))
        for s in schedules
    }


def _volumes(schedules: Sequence[Schedule]) -> dict[int, dict[date, int]]:
    """Planned mm of each week of each schedule, by its first day."""
    starts = {s.pk: s.week_starts for s in schedules}
    sums: dict[int, dict[date, int]] = {s.pk: defaultdict(int) for s in schedules}
    live = SessionIssue.objects.filter(schedule__in=schedules, to_version=None, removed=False, role__in=RUNS)
    for schedule, day, mm in live.order_by().values_list("schedule_id", "day", "planned_mm"):
        sums[schedule][week_of(day, starts[schedule])] += mm
    return sums


def _notes(schedules: Sequence[Schedule]) -> dict[int, Message]:
    """The newest word that a coach meant for paper, to each athlete, if it is not old."""
    since = timezone.now() - NOTE_STANDS
    told = [s.athlete_id for s in schedules]
    notes = Message.objects.filter(athlete__in=told, on_paper=True, at__gte=since)
    return {note.athlete_id: note for note in notes.order_by("at", "pk")}


def _changes(schedules: Sequence[Schedule]) -> dict[int, list[Change]]:
    """The changes of each schedule's last accepted proposal."""
    accepted = Proposal.objects.filter(schedule__in=schedules, state="accepted").order_by("made_at", "pk")
    last = dict(accepted.values_list("schedule_id", "pk"))
    found: dict[int, list[Change]] = defaultdict(list)
    for change in Change.objects.filter(proposal__in=last.values()).select_related("proposal").order_by("id"):
        found[change.proposal.schedule_id].append(change)
    return found


def holds_of(athletes: Iterable[int]) -> dict[int, str]:
    """What is held, by athlete: `rest` before `easy` where both are."""
    notes = HealthNote.objects.filter(athlete__in=list(athletes), closed=None).order_by("kind")
    return dict(notes.values_list("athlete_id", "kind"))


def changes_for(changes: Iterable[Change], week: Week) -> list[str]:
    """Why this week is not as it was, with what was taken out of it."""
    here = {item.session_id for item in week.items}
    first, last = week.first_day.isoformat(), (week.first_day + timedelta(6)).isoformat()

    def touches(change: Change) -> bool:
        gone = change.after.get("removed") and first <= str(change.before.get("day", "")) <= last
        return change.session_id in here or bool(gone)

    return list(dict.fromkeys(change.sentence for change in changes if touches(change)))


def span(first: date) -> str:
    """`30 November to 6 December`."""
    last = first + timedelta(6)
    begins = f"{first.day}" if first.month == last.month else f"{first.day} {first:%B}"
    return f"{begins} to {last.day} {last:%B}"


def round_to_whole(mm: int, units: Units) -> int:
    size = 1_609_344 if units == "mi" else 1_000_000
    return (mm + size // 2) // size * size


def day_rows(week: Week, cards: Cards, units: Units, entries: Targets) -> Iterable[DayRow]:
    places = defaultdict(list)
    for day, where in week.places:
        places[day].append(where)
    for day, items in week.days:
        stored = cards.on(day)
        card = stored.card if stored else None
        label = f"{day:%a} {day.day}"
        sessions = [item for item in items if item.role != "rest"]
        if not sessions:
            yield DayRow(label, "Rest", where=" · ".join(places[day]), rest=True)
        for number, item in enumerate(sessions):
            row = day_row(label, item, card, units, again=number > 0)
            race = entries.get(day) if item.role == "race" else None
            yield raced(row, race, units) if race else row


def day_row(label: str, item: Item, card: PaceCard | None, units: Units, *, again: bool = False) -> DayRow:
    """A session in plain words: each step that the title does not say, with its own pace."""
    steps = understood(item.steps)
    said = lines(steps, card, units) if steps and card else ()
    hard = list(dict.fromkeys(one.pace for one in said if one.pace and one.hard))
    easy = list(dict.fromkeys(one.pace for one in said if one.pace))
    return DayRow(
        date=label,
        title=item.title,
        details=(
            *(step_lines(said, len(hard) > 1) if len(said) > 1 else ()),
            *([item.purpose] if item.purpose else []),
        ),
        pace=(hard or easy or [""])[0] if len(hard) < 2 else "",
        where=item.where,
        again=again,
    )


def raced(row: DayRow, entry: RaceEntry, units: Units) -> DayRow:
    target = target_of(entry, units)
    if target is None:
        return replace(row, pace="", details=(*row.details, "Target and splits: race day, on your phone."))
    time, pace = target
    told = f"Target {time}; the splits are on your race-day sheet."
    return replace(row, pace=pace, details=(*row.details, told))


def step_lines(said: Sequence[StepLine], paced: bool) -> list[str]:
    """A line a step; the recovery stands with what it follows. `paced`: each hard step names its pace."""
    made: list[str] = []
    for one in said:
        words = " ".join(part for part in (one.amount, one.words[:1].lower() + one.words[1:]) if part)
        if one.words.startswith("Note: "):
            words = one.words
        pace = one.pace if paced and one.hard else ""
        told = ", ".join(part for part in (pace, one.split and f"{one.split} each") if part)
        words = f"{words}: {told}" if told else words
        if one.recovery and made:
            made[-1] = f"{made[-1]}, {words}"
        else:
            made.append(f"{'– ' * min(one.indent, 2)}{words}")
    return made


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
