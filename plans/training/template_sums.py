"""What a season plan comes to for an example athlete, and which guard rails it doesn't keep as it is written.

Nothing is fitted here: the plan is measured as the coach wrote it, with ranges resolved as fitting resolves them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.training.fitting_calendar import HALF, place_in_range, resolved_week
from plans.training.fitting_check import Broken, RunSeen, WeekSeen, check_weeks
from plans.training.fitting_sizes import Measurer
from plans.training.guardrails import Rails
from plans.training.template import RUNS, Template, TemplateSession, TemplateWeek

A_MONDAY = date(2024, 1, 1)  # the check wants dates; a template has none, so any Monday serves
MIDWEEK = 3


@dataclass(frozen=True)
class SessionSums:
    """One session for the example athlete: the middle of what the paces allow, running only."""

    key: str
    mm: int
    s: int
    hard_mm: int


@dataclass(frozen=True)
class WeekSums:
    """One week: whole mm and s of running, races left out. `hard_percent` is the share of distance run hard."""

    mm: int
    s: int
    hard_percent: int
    long_mm: int
    race_mm: int
    sessions: tuple[SessionSums, ...]


@dataclass(frozen=True)
class PlanSums:
    weeks: tuple[WeekSums, ...]
    broken: tuple[Broken, ...]


def sums_of(
    template: Template, card: PaceCard, units: Units, rails: Rails, level: Fraction = HALF
) -> PlanSums:
    """Every week measured, and the guard rails it breaks, in words. `level` 0 to 1 places ranges."""
    measurer = Measurer(card, units, rails.shortest_mm)
    weeks, seen = [], []
    for number, week in enumerate(template.weeks):
        at = place_in_range(template, number, level)
        monday = A_MONDAY + timedelta(weeks=number)
        sums, runs = _week(week, at, measurer, monday)
        weeks.append(sums)
        seen.append(WeekSeen(monday, week.kind, f"Week {number + 1}", runs))
    first = next((w for w in weeks if w.mm), None)
    declared = template.from_week_mm or (first.mm if first else 0)
    long = template.from_long_mm or (first.long_mm if first else 0)
    return PlanSums(tuple(weeks), check_weeks(seen, rails, units, declared, long) if first else ())


def _week(
    week: TemplateWeek, at: Fraction, measurer: Measurer, monday: date
) -> tuple[WeekSums, tuple[RunSeen, ...]]:
    rows: list[SessionSums] = []
    runs: list[RunSeen] = []
    free = _days_for_any(week)
    for session, tree in resolved_week(week, at, measurer):
        mm, s, hard_mm = measurer.amounts(tree)
        if session.role not in RUNS:
            rows.append(SessionSums(session.key, 0, 0, 0))
            continue
        rows.append(SessionSums(session.key, mm, s, hard_mm))
        day = monday + timedelta(days=free[session.key])
        runs.append(RunSeen(day, session.role, mm, s, hard_mm))
    training = [run for run in runs if run.role != "race"]
    total = sum(run.mm for run in training)
    hard = sum(run.hard_mm for run in training)
    return (
        WeekSums(
            mm=total,
            s=sum(run.s for run in training),
            hard_percent=round(Fraction(100 * hard, total)) if total else 0,
            long_mm=max((run.mm for run in training if run.role in ("long", "easy")), default=0),
            race_mm=sum(run.mm for run in runs if run.role == "race"),
            sessions=tuple(rows),
        ),
        tuple(runs),
    )


def _days_for_any(week: TemplateWeek) -> dict[str, int]:
    """The weekday each session is looked at on; one for any day takes the first that nobody wishes for."""
    wished = {s.day for s in week.sessions if s.day is not None and s.role in RUNS}
    spare = [day for day in range(7) if day not in wished]

    def day_of(session: TemplateSession) -> int:
        if session.day is not None:
            return session.day
        return spare.pop(0) if spare else MIDWEEK

    return {session.key: day_of(session) for session in week.sessions}
