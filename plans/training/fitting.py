"""Fitting a season plan to one athlete: from a template to sessions on dates.

In this order, and each step knows nothing of the later ones:

1. The template's weeks are counted back from the race (`fitting_weeks`) and ranges become amounts
   (`fitting_calendar`).
2. A walk through the weeks finds what the athlete may run under the guard rails, as if every day were free
   (`fitting_caps`, `fitting_cutting`).
3. Days are chosen, exactly and for all weeks together (`fitting_placing`, `fitting_days`).
4. A second walk fits what really found a day: what a short day cuts off does not count later.
5. What was bent is told, and the guard rails are checked on the result by a look that knows nothing of how it
   came about (`fitting_told`, `fitting_check`).

No clock, no chance: the same input gives the same schedule.
"""

from __future__ import annotations

from datetime import date, timedelta

from plans.training import shorthand
from plans.training.fitting_calendar import Calendar, build_calendar
from plans.training.fitting_check import broken_rails
from plans.training.fitting_days import (
    Days,
    days_of,
    ease_after_breaks,
    place_beside,
    place_runs,
)
from plans.training.fitting_races import add_tune_ups, run_the_distance
from plans.training.fitting_runs import Run
from plans.training.fitting_sizes import Measurer
from plans.training.fitting_told import what_was_bent
from plans.training.fitting_types import (
    CannotFit,
    FitAthlete,
    FitRace,
    Fitted,
    FittedSession,
    FittedWeek,
)
from plans.training.fitting_walk import walk
from plans.training.fitting_weeks import dated_weeks, monday_to_begin
from plans.training.guardrails import Rails
from plans.training.template import Role, Template, problems

HALF_MARATHON_MM = 21_097_500
ADULT = 18
SHORTEST_DAY = 15  # minutes; no run of the trade is shorter
# What an athlete reads instead of the purpose of a session that is run easy.
EASED = {
    "cap": "Easy in place of the quality session: your weeks are still too small to hold hard running.",
    "spacing": "Easy in place of the quality session: no day is far enough from the other hard days.",
    "break": "Easy in place of the quality session: it is too soon after your days off.",
}


def fit(
    template: Template,
    athlete: FitAthlete,
    race: FitRace | None,
    rails: Rails,
    today: date,
    *,
    start: date | None = None,
    joining: bool = False,
) -> Fitted:
    """The schedule of this template for this athlete, ending with the race.

    `start` is the first day that may hold a session (today if None). `joining`: the plan is under way, its weeks
    gone are not made up. A template without a race begins at the start and has `race` None. Raises CannotFit
    with a sentence and the field where it is mended.
    """
    start = max(today, start or today)
    _refuse(template, athlete, race, today)
    dated, told = dated_weeks(template, race, start, joining)
    measurer = Measurer(athlete.card, athlete.units, rails.shortest_mm)
    first_day = max(start, dated[0].monday)
    calendar = build_calendar(template, dated, athlete, race, first_day, measurer)
    calendar.bent += told
    add_tune_ups(calendar, athlete, race, first_day, measurer)
    if race is not None:
        run_the_distance(calendar, race, measurer)
    days = days_of(calendar, athlete, rails, first_day, race)
    ease_after_breaks(calendar, days, measurer)
    walk(calendar, days)
    merit = place_runs(calendar, days)
    walk(calendar, days)
    sessions = _sessions(calendar, days, measurer)
    weeks = _weeks(calendar, sessions, 0)
    bent = what_was_bent(template, calendar, days)
    broken = broken_rails(template, athlete, weeks, sessions, rails, days.start)
    if athlete.week_starts:
        weeks = _weeks(calendar, sessions, athlete.week_starts)
    last_day = max((s.day for s in sessions), default=weeks[-1].first_day)
    return Fitted(weeks[0].first_day, last_day, weeks, sessions, bent, broken, merit)


def _refuse(template: Template, athlete: FitAthlete, race: FitRace | None, today: date) -> None:
    found = problems(template)
    if found:
        raise CannotFit("template", f"The plan has something to mend first. {found[0]}")
    if (template.race_mm is None) != (race is None):
        said = "has no race" if race else "ends with a race: choose the athlete's"
        raise CannotFit("race", f"The plan “{template.name}” {said}.")
    if race is not None and race.day <= today:
        raise CannotFit("race", f"The race on {race.day:%-d %B %Y} is in the past or today.")
    if race is not None and race.mm <= 0:
        raise CannotFit("race", "The race distance must be above nothing.")
    ever = [athlete.minutes, *(free.minutes for free in athlete.later)]
    if max(map(max, ever)) < SHORTEST_DAY:
        raise CannotFit(
            "availability",
            f"No day of the week is free: at least one needs {SHORTEST_DAY} minutes or more.",
        )
    if min(map(min, ever)) < 0 or athlete.week_mm < 0 or athlete.long_mm < 0:
        raise CannotFit("athlete", "Minutes and distances can't be below nothing.")
    _refuse_for_safety(athlete, race)


def _refuse_for_safety(athlete: FitAthlete, race: FitRace | None) -> None:
    """No automatic plan for minors over half-marathon and marathon, in pregnancy, or with questions open.

    A coach who decides otherwise signs; usual cautions, no source beyond common practice and ACOG 804.
    """
    if athlete.signed_by:
        return
    if athlete.no_plan_reason:
        raise CannotFit("athlete", athlete.no_plan_reason)
    if athlete.pregnant:
        raise CannotFit(
            "athlete",
            "No automatic plan in pregnancy: running then is agreed with midwife or doctor. A coach who decides"
            " otherwise signs for it by name.",
        )
    if athlete.age is not None and athlete.age < ADULT and race and race.mm >= HALF_MARATHON_MM:
        raise CannotFit(
            "athlete",
            f"No automatic plan for a half marathon or longer at {athlete.age}: under {ADULT} a parent, a clinician"
            " and the race's own age rules come first. A coach who decides otherwise signs for it by name.",
        )


# The result.


def _sessions(calendar: Calendar, days: Days, measurer: Measurer) -> tuple[FittedSession, ...]:
    found = []
    for week in calendar.weeks:
        for run in week.runs:
            if not run.gone:
                found.append(_session(run, measurer))
    for one, day, slot in place_beside(calendar, days):
        written = one.session
        found.append(
            FittedSession(day, slot, written.key, one.repeat, written.role, written.priority,
                          shorthand.write(one.tree), written.purpose, one.mm, one.s)
        )  # fmt: skip
    return tuple(sorted(found, key=lambda s: (s.day, s.slot)))


def _session(run: Run, measurer: Measurer) -> FittedSession:
    tree = run.size.make()
    mm, s, hard_mm = measurer.amounts(tree)
    written, day = run.session, run.day
    role: Role = "easy" if run.eased else written.role
    purpose = EASED.get(run.why, written.purpose) if run.eased else written.purpose
    return FittedSession(day, 0, written.key or None, run.repeat, role, written.priority,
                         shorthand.write(tree), purpose, mm, s, hard_mm)  # fmt: skip


def _weeks(calendar: Calendar, sessions: tuple[FittedSession, ...], starts: int) -> tuple[FittedWeek, ...]:
    """The weeks as the practice counts them; each takes kind and purpose from the Monday week it shares most of."""
    first = calendar.weeks[0].first_day
    ahead = starts if starts <= 3 else starts - 7  # from the Monday of the week to the day it begins with
    found = []
    for place in range(len(calendar.weeks) + 1):
        day = first + timedelta(days=7 * place + ahead)
        here = [s for s in sessions if 0 <= (s.day - day).days < 7]
        if place == len(calendar.weeks) and not here:
            continue
        week = calendar.weeks[min(place, len(calendar.weeks) - 1)]
        mm = sum(s.mm for s in here if s.role != "race")
        found.append(FittedWeek(day, week.kind, week.purpose, mm, week.index, week.repeat))
    early = first + timedelta(days=ahead)
    if any(s.day < early for s in sessions):
        week = calendar.weeks[0]
        mm = sum(s.mm for s in sessions if s.day < early and s.role != "race")
        found.insert(
            0, FittedWeek(early - timedelta(days=7), week.kind, week.purpose, mm, week.index, week.repeat)
        )
    return tuple(found)


__all__ = ["CannotFit", "FitAthlete", "FitRace", "Fitted", "fit", "monday_to_begin"]
