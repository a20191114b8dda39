"""Two more papers: a session with everyone's paces for the coach at the track, and a whole season on one page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any, cast

from django.db.models import QuerySet
from django.template.loader import render_to_string

from athletes.models import Athlete, Practice
from athletes.running.paces import PaceCard, show_range
from athletes.running.units import Distance, Units, show_distance
from plans import paper
from plans.drawing import way_to_race
from plans.gathering import Meeting, free_on, meetings_at, place_words, session_with_the_group
from plans.handout_contents import cards_of_many, holds_of, round_to_whole, running
from plans.handout_page import CAUTION
from plans.models import GroupSession, Schedule
from plans.paper import PaperSize
from plans.reading import Item, Week, title_of, understood, weeks_of, weeks_of_many
from plans.training.describing import lines

# A sheet's sizes, roomiest first, and how many rows each could hold on one page at the very most (A4, two lines of
# 1.35 a week, one a name): what can't be is not tried.
LIST_SIZES = {"normal": 30, "compact": 45, "flowing": 10_000}
SEASON_SIZES = {"normal": 17, "compact": 24, "small": 30, "tiny": 36, "flowing": 10_000}
ORDER = {"quality": 0, "race": 0, "long": 1, "easy": 2}


@dataclass(frozen=True)
class SheetRow:
    """One athlete's session: its name, the hard pieces with their paces, what lies between.

    A pace is in parts that stay whole on paper: `800 m`, `3:28–3:37/km`, `(2:46–2:54)`.
    `own` is what their plan says where the group runs something else.
    """

    name: str
    what: str
    paces: tuple[tuple[str, ...], ...]
    between: str
    own: str = ""


@dataclass(frozen=True)
class Person:
    """One athlete of a group session: what they run there, and whether they are expected; if not, why, in a word."""

    athlete: Athlete
    meeting: Meeting
    row: SheetRow
    why_not: str


def people_of(one: GroupSession, athletes: QuerySet[Athlete]) -> list[Person]:
    """Those of `athletes` who are in its group, those expected first, in a constant number of queries."""
    members = list(athletes.filter(groups=one.group, left_on__isnull=True).order_by("name"))
    schedules = running(members)
    weeks, cards = weeks_of_many(schedules, one.day, one.day), cards_of_many(schedules)
    of = {s.athlete_id: s for s in schedules}
    meetings, free = meetings_at([one], members), free_on(members, one.day)
    held = holds_of(athlete.pk for athlete in members)
    people = []
    for athlete in members:
        schedule = of.get(athlete.pk)
        items = [
            i for week in (weeks[schedule.pk] if schedule else ()) for i in week.items if i.day == one.day
        ]
        item = session_with_the_group(items)
        met = meetings.meeting(one, athlete.pk, item, free=schedule is None and athlete.pk in free)
        stored = cards[schedule.pk].on(one.day) if schedule else None
        card = stored.card if stored else None
        row = kept_back(
            _at_the_group(one, athlete, item, card), held.get(athlete.pk, ""), card, athlete.units
        )
        people.append(Person(athlete, met, row, "" if met.expected else _why_not(met, items)))
    return sorted(people, key=lambda person: not person.meeting.expected)


def _at_the_group(one: GroupSession, athlete: Athlete, item: Item | None, card: PaceCard | None) -> SheetRow:
    units: Units = "mi" if athlete.units == "mi" else "km"
    if one.steps:
        own = item.title if item and understood(item.steps) != understood(one.steps) else ""
        row = steps_row(athlete.name, title_of(one.steps, units), one.steps, card, units)
        return replace(row, own=own)
    return sheet_row(athlete.name, item, card, units) if item else SheetRow(athlete.name, "", (), "")


def _why_not(met: Meeting, items: Sequence[Item]) -> str:
    if met.by_plan:
        return "not coming"
    if any(item.role == "race" for item in items):
        return "races that day"
    return "off that day" if met.item else "no run that day"


def sheet_rows(athletes: Iterable[Athlete], day: date) -> list[SheetRow]:
    """What each of these athletes runs on `day`, quality first, then by what they run and by name."""
    schedules = running(athletes)
    weeks, cards = weeks_of_many(schedules, day, day), cards_of_many(schedules)
    held = holds_of(s.athlete_id for s in schedules)
    found = []
    for schedule in schedules:
        units: Units = "mi" if schedule.athlete.units == "mi" else "km"
        stored = cards[schedule.pk].on(day)
        for item in (i for week in weeks[schedule.pk] for i in week.items if i.day == day and i.is_run):
            card = stored.card if stored else None
            row = sheet_row(schedule.athlete.name, item, card, units)
            row = kept_back(row, held.get(schedule.athlete_id, ""), card, units)
            found.append(((ORDER[item.role], row.what.partition(" at ")[2], row.what, row.name), row))
    return [row for _, row in sorted(found, key=lambda pair: pair[0])]


def kept_back(row: SheetRow, held: str, card: PaceCard | None, units: str) -> SheetRow:
    """Who is on hold has no pace to run fast by on a coach's sheet; `held` is what is held, empty without."""
    if not held or not row.what:
        return row
    if held == "rest":
        return SheetRow(row.name, "On hold: no running", (), "", row.own or row.what)
    easy = card.ranges.get("easy") if card else None
    paces = ((show_range(easy, "mi" if units == "mi" else "km"),),) if easy else ()
    return SheetRow(row.name, "On hold: easy running only", paces, "", row.own or row.what)


def sheet_row(name: str, item: Item, card: PaceCard | None, units: Units) -> SheetRow:
    return steps_row(name, item.title, item.steps, card, units)


def steps_row(name: str, what: str, text: str, card: PaceCard | None, units: Units) -> SheetRow:
    steps = understood(text)
    said = lines(steps, card, units) if steps and card else ()
    hard = [one for one in said if one.hard and one.pace]
    told = [
        tuple(filter(None, (one.amount if len(hard) > 1 else "", one.pace, one.split and f"({one.split})")))
        for one in hard
    ]
    easy = [(one.pace,) for one in said if one.pace][:1]
    between = [f"{one.amount} {one.words[:1].lower()}{one.words[1:]}" for one in said if one.recovery]
    return SheetRow(name, what, tuple(told or easy), ", ".join(dict.fromkeys(between)))


def group_sheet(title: str, athletes: Iterable[Athlete], day: date, where: str = "") -> bytes | None:
    """The sheet as a tagged PDF; None when nobody runs that day. Long lists flow on, with their heads repeated.

    `where`: time and place, if a group meets.
    """
    rows = sheet_rows(athletes, day)
    if not rows:
        return None
    practice = Practice.get()
    named = f"{day:%A} {day.day} {day:%B}"
    said = f"{named}, {where}" if where else named
    context = {"heading": title, "day": said, "rows": rows, "practice": practice, "caution": CAUTION}
    return _printed("print/group_sheet.html", context, f"{title}, {named}", practice, LIST_SIZES)


def session_sheet(one: GroupSession, athletes: QuerySet[Athlete]) -> bytes | None:
    """The sheet of one group session: who is expected, place and time on top. None while nobody is."""
    rows = [person for person in people_of(one, athletes) if person.meeting.expected]
    if not rows:
        return None
    practice = Practice.get()
    named = f"{one.day:%A} {one.day.day} {one.day:%B}"
    context = {
        "heading": one.group.name,
        "day": f"{named}, {place_words(one, group=False)}",
        "rows": sorted((person.row for person in rows), key=lambda row: (row.what, row.name)),
        "practice": practice,
        "caution": CAUTION,
    }
    return _printed("print/group_sheet.html", context, f"{one.group.name}, {named}", practice, LIST_SIZES)


@dataclass(frozen=True)
class SeasonRow:
    """One week of the season sheet."""

    number: int
    dates: str
    purpose: str
    total: str
    key: tuple[str, ...]
    now: bool


def season_rows(weeks: Sequence[Week], units: Units, today: date) -> Iterator[SeasonRow]:
    for week in weeks:
        last = week.first_day + timedelta(6)
        keys = (i for i in week.items if i.key)
        yield SeasonRow(
            number=week.number,
            dates=f"{week.first_day.day} {week.first_day:%b} – {last.day} {last:%b}",
            purpose=week.purpose,
            total=show_distance(Distance(round_to_whole(week.planned_mm, units)), units),
            key=tuple(f"{item.day:%a} {item.title[:1].lower()}{item.title[1:]}" for item in keys),
            now=week.first_day <= today <= last,
        )


def season_sheet(schedule: Schedule) -> bytes:
    """The whole plan on one page where it fits, as a tagged PDF."""
    practice, athlete = Practice.get(), schedule.athlete
    units: Units = "mi" if athlete.units == "mi" else "km"
    weeks, today = weeks_of(schedule), athlete.today()
    rows = list(season_rows(weeks, units, today))
    now = next((n for n, row in enumerate(rows) if row.now), None)
    race = schedule.race_entry.race if schedule.race_entry else None
    context = {
        "athlete": athlete,
        "practice": practice,
        "race": race,
        "rows": rows,
        "way": way_to_race([week.planned_mm for week in weeks], now, width=480) if weeks else "",
        "caution": CAUTION,
    }
    title = f"{athlete.name}, the whole plan"
    return _printed("print/season_sheet.html", context, title, practice, SEASON_SIZES)


def _printed(
    template: str, context: dict[str, Any], title: str, practice: Practice, sizes: Mapping[str, int]
) -> bytes:
    tried = (size for size, most in sizes.items() if len(context["rows"]) <= most)
    variants = (render_to_string(template, {**context, "size": size, "title": title}) for size in tried)
    return paper.fit(variants, title=title, tagged=True, paper=cast(PaperSize, practice.paper))
