"""A template as a board: a week a row, a day a column, with what it comes to for an example athlete."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.utils import timezone

from athletes.carding import as_run
from athletes.models import Athlete, PaceCard, Result
from athletes.running import paces
from athletes.running.units import Units
from coaching import charts
from coaching.access import CoachRequest
from coaching.charts import WeekBar
from coaching.templatetags.plain import rough
from plans import drafting
from plans.models import Template, TemplateVersion
from plans.reading import title_of
from plans.training import template as core
from plans.training.template import DAY_NAMES, TemplateSession, TemplateWeek
from plans.training.template_sums import PlanSums, WeekSums, sums_of

ROLE_WORDS = {
    "easy": "easy run",
    "long": "long run",
    "quality": "quality session",
    "race": "race",
    "strength": "strength",
    "cross": "cross-training",
    "rest": "rest",
}
KIND_WORDS = {
    "base": "base",
    "build": "build",
    "recovery": "recovery",
    "peak": "peak",
    "taper": "taper",
    "race": "race week",
}
NOBODY = "nobody: 10 km in 50:00"


@dataclass(frozen=True)
class Example:
    """For whom the sums are. `athlete` is None where nobody has a pace card yet."""

    athlete: Athlete | None
    card: paces.PaceCard
    units: Units

    @property
    def name(self) -> str:
        return self.athlete.name if self.athlete else NOBODY


def example_for(request: CoachRequest) -> Example:
    """The athlete the coach chose, else the first with paces, else an invented one."""
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True, pace_cards__isnull=False)
    chosen = request.session.get("example_athlete")
    athlete = (mine.filter(pk=chosen).first() if chosen else None) or mine.order_by("name").first()
    if athlete is None:
        run = Result(day=timezone.localdate() - timedelta(7), distance_mm=10_000_000, time_ms=50 * 60_000)
        return Example(None, paces.make_card([as_run(run)]), "km")
    card: PaceCard = athlete.pace_cards.order_by("-number")[0]
    return Example(athlete, card.card, "mi" if athlete.units == "mi" else "km")


@dataclass(frozen=True)
class Card:
    """One session on the board."""

    session: TemplateSession
    title: str
    mm: int

    units: Units

    @property
    def lesser(self) -> str:
        """Under the title: how far it is, unless the title says so itself, or what it is where nothing is run."""
        if self.session.role == "race" or not self.mm:
            return ROLE_WORDS[self.session.role]
        far = rough(self.mm, self.units)
        number, _, unit = far.partition(" ")
        return "" if re.search(rf"(?<![\d–.-]){number} {unit}\b", self.title) else far

    @property
    def key(self) -> bool:
        return self.session.priority == "key"


@dataclass(frozen=True)
class Day:
    number: int | None
    name: str
    cards: list[Card]


@dataclass(frozen=True)
class Row:
    number: int
    to_go: int
    week: TemplateWeek
    days: list[Day]
    sums: WeekSums
    broken: list[str]

    @property
    def kind(self) -> str:
        return KIND_WORDS[self.week.kind]

    @property
    def any_day(self) -> list[Card]:
        return self.days[7].cards


def rows_of(plan: core.Template, sums: PlanSums, units: Units) -> list[Row]:
    found = []
    for number, (week, week_sums) in enumerate(zip(plan.weeks, sums.weeks, strict=True)):
        amounts = {one.key: one.mm for one in week_sums.sessions}
        cards = [Card(s, title_of(s.text, units), amounts[s.key], units) for s in week.sessions]
        days = [
            Day(
                day,
                DAY_NAMES[day] if day is not None else "any day",
                [c for c in cards if c.session.day == day],
            )
            for day in (*range(7), None)
        ]
        found.append(
            Row(
                number=number + 1,
                to_go=len(plan.weeks) - number - 1,
                week=week,
                days=days,
                sums=week_sums,
                broken=[one.sentence.partition(": ")[2] for one in sums.broken if one.week == number],
            )
        )
    return found


def board(request: CoachRequest, template: Template, version: TemplateVersion) -> dict[str, Any]:
    """What the board's partial needs."""
    example = example_for(request)
    plan = version.plan
    sums = sums_of(plan, example.card, example.units, drafting.rails_of(template))
    bars = [
        WeekBar(
            label=f"Week {n}",
            planned_mm=week.mm,
            long_planned_mm=week.long_mm,
            purpose=KIND_WORDS[written.kind],
        )
        for n, (week, written) in enumerate(zip(sums.weeks, plan.weeks, strict=True), start=1)
    ]
    return {
        "template": template,
        "version": version,
        "plan": plan,
        "rows": rows_of(plan, sums, example.units),
        "picture": charts.season_volume(bars, units=example.units, run=False),
        "broken": [one.sentence for one in sums.broken],
        "example": example,
        "units": example.units,
        "former": drafting.undoable(version),
        "kinds": list(KIND_WORDS.items()),
    }
