"""What a template comes to for an example athlete while it is written: sums of each week, and guard rails.

Nothing here changes a plan. A coach may knowingly write what breaks a rail; it is said, with words.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.training.fitting_calendar import place_in_range, resolved_week
from plans.training.fitting_check import Broken, RunSeen, WeekSeen, check_weeks
from plans.training.fitting_sizes import Measurer
from plans.training.guardrails import Rails
from plans.training.template import RUNS, Template

SOME_MONDAY = date(2024, 1, 1)  # any Monday: only distances between days are looked at


@dataclass(frozen=True)
class WeekSum:
    """A template week for one athlete: running without the race, in mm and s, the middle of the paces.

    `runs` counts days with a run, `hard_days` days with a long run, quality or a race.
    """

    mm: int
    s: int
    hard_mm: int
    long_mm: int
    runs: int
    hard_days: int

    @property
    def hard_percent(self) -> int:
        return 100 * self.hard_mm // self.mm if self.mm else 0

    @property
    def long_percent(self) -> int:
        return 100 * self.long_mm // self.mm if self.mm else 0


def sums(
    template: Template, card: PaceCard, units: Units = "km", level: Fraction = Fraction(1, 2)
) -> tuple[WeekSum, ...]:
    """One sum a week. `level` places the example athlete in written ranges, 0 the low end, 1 the top."""
    return tuple(_sum(week) for week in _seen(template, card, units, level))


def check_template(
    template: Template,
    card: PaceCard,
    rails: Rails,
    units: Units = "km",
    level: Fraction = Fraction(1, 2),
) -> tuple[Broken, ...]:
    """Every guard rail that the plan breaks by itself, for someone who runs what the plan begins with."""
    seen = _seen(template, card, units, level)
    first = next((_sum(week) for week in seen if week.runs), None)
    if first is None:
        return ()
    longest = max((run.mm for run in seen[0].training), default=0)
    declared = template.from_week_mm or first.mm
    return check_weeks(seen, rails, units, declared, template.from_long_mm or longest)


def _seen(template: Template, card: PaceCard, units: Units, level: Fraction) -> list[WeekSeen]:
    measurer = Measurer(card, units, Rails.shortest_mm)
    weeks = []
    for number, week in enumerate(template.weeks):
        monday = SOME_MONDAY + timedelta(weeks=number)
        runs = []
        for session, tree in resolved_week(week, place_in_range(template, number, level), measurer):
            if session.role in RUNS:
                day = monday + timedelta(days=3 if session.day is None else session.day)
                runs.append(RunSeen(day, session.role, *measurer.amounts(tree)))
        weeks.append(WeekSeen(monday, week.kind, f"Week {number + 1}", tuple(runs)))
    return weeks


def _sum(week: WeekSeen) -> WeekSum:
    training = week.training
    return WeekSum(
        mm=week.mm,
        s=sum(run.s for run in training),
        hard_mm=sum(run.hard_mm for run in training),
        long_mm=max((run.mm for run in training if run.role == "long"), default=0),
        runs=len({run.day for run in week.runs}),
        hard_days=len({run.day for run in week.runs if run.role in ("long", "quality", "race")}),
    )
