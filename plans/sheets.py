"""Two more papers: a session with everyone's paces for the coach at the track, and a whole season on one page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, cast

from django.template.loader import render_to_string

from athletes.models import Athlete, Practice
from athletes.running.paces import PaceCard
from athletes.running.units import Distance, Units, show_distance
from plans import paper
from plans.drawing import way_to_race
from plans.handout_contents import cards_of_many, round_to_whole, running
from plans.handout_page import CAUTION
from plans.models import Schedule
from plans.paper import PaperSize
from plans.reading import Item, Week, understood, weeks_of, weeks_of_many
from plans.training.describing import lines

ORDER = {"quality": 0, "race": 0, "long": 1, "easy": 2}


@dataclass(frozen=True)
class SheetRow:
    """One athlete's session: its name, the hard pieces with their paces, what lies between."""

    name: str
    what: str
    paces: tuple[str, ...]
    between: str


def sheet_rows(athletes: Iterable[Athlete], day: date) -> list[SheetRow]:
    """What each of these athletes runs on `day`, quality first, then by what they run and by name."""
    schedules = running(athletes)
    weeks, cards = weeks_of_many(schedules, day, day), cards_of_many(schedules)
    found = []
    for schedule in schedules:
        units: Units = "mi" if schedule.athlete.units == "mi" else "km"
        stored = cards[schedule.pk].on(day)
        for item in (i for week in weeks[schedule.pk] for i in week.items if i.day == day and i.is_run):
            row = sheet_row(schedule.athlete.name, item, stored.card if stored else None, units)
            found.append(((ORDER[item.role], row.what.partition(" at ")[2], row.what, row.name), row))
    return [row for _, row in sorted(found, key=lambda pair: pair[0])]


def sheet_row(name: str, item: Item, card: PaceCard | None, units: Units) -> SheetRow:
    steps = understood(item.steps)
    said = lines(steps, card, units) if steps and card else ()
    hard = [one for one in said if one.hard and one.pace]
    told = [
        " ".join(
            p for p in (one.amount if len(hard) > 1 else "", one.pace, one.split and f"({one.split})") if p
        )
        for one in hard
    ]
    easy = [one.pace for one in said if one.pace][:1]
    between = [f"{one.amount} {one.words[:1].lower()}{one.words[1:]}" for one in said if one.recovery]
    return SheetRow(name, item.title, tuple(told or easy), ", ".join(dict.fromkeys(between)))


def group_sheet(title: str, athletes: Iterable[Athlete], day: date) -> bytes | None:
    """The sheet as a tagged PDF; None when nobody runs that day. Long lists flow on, with their heads repeated."""
    rows = sheet_rows(athletes, day)
    if not rows:
        return None
    practice = Practice.get()
    named = f"{day:%A} {day.day} {day:%B}"
    context = {"heading": title, "day": named, "rows": rows, "practice": practice, "caution": CAUTION}
    return _printed(
        "print/group_sheet.html", context, f"{title}, {named}", practice, ("normal", "compact", "flowing")
    )


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
    sizes = ("normal", "compact", "tiny", "flowing")
    return _printed("print/season_sheet.html", context, f"{athlete.name}, the whole plan", practice, sizes)


def _printed(
    template: str, context: dict[str, Any], title: str, practice: Practice, sizes: Sequence[str]
) -> bytes:
    variants = (render_to_string(template, {**context, "size": size, "title": title}) for size in sizes)
    return paper.fit(variants, title=title, tagged=True, paper=cast(PaperSize, practice.paper))
