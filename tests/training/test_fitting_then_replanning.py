"""The two planners agree: a fitted schedule that is run as written is left as it is by re-balancing.

`replanning.md`, invariant 1: nothing missed, nothing changed, for every shipped template.
"""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, assume, given, settings

from plans.training import schedule as core
from plans.training import shorthand
from plans.training.fitting import FitAthlete, FitRace, Fitted
from plans.training.guardrails import Rails
from plans.training.levels import at_level
from plans.training.measuring import measure
from plans.training.replanning import rebalance
from plans.training.sizing import written_in
from tests.training.test_fitting_properties import Case, cases, fitted, minutes_on

LEVELS = (Fraction(1), Fraction(4, 5), Fraction(3, 5))


def session_of(number: int, fitted_session, athlete: FitAthlete) -> core.Session:
    tree = shorthand.parse(fitted_session.text)
    levels = []
    for level in LEVELS if fitted_session.role == "quality" else ():
        found = measure(at_level(tree, level), athlete.card, athlete.units)
        mm, s, hard = (sum(pair) // 2 for pair in (found.total_mm, found.total_s, found.hard_mm))
        levels.append(core.Level(level, mm, s, hard))
    return core.Session(
        key=str(number),
        day=fitted_session.day,
        slot=fitted_session.slot,
        role=fitted_session.role,
        mm=fitted_session.mm,
        s=fitted_session.s,
        written_in="time" if written_in(tree) == "s" else "distance",
        levels=tuple(levels),
        hard_mm=fitted_session.hard_mm,
        supporting=fitted_session.supporting,
        s_per_km=int(athlete.card.ranges["easy"].mid.s_per_km),
        title=fitted_session.text,
    )


def inputs_of(result: Fitted, athlete: FitAthlete, race: FitRace | None, rails: Rails, today) -> core.Inputs:
    days = [result.weeks[0].first_day + timedelta(days=n) for n in range(7 * len(result.weeks))]
    races = {s.day for s in result.sessions if s.role == "race"}
    return core.Inputs(
        weeks=tuple(core.Week(week.first_day, week.kind) for week in result.weeks),
        plan=tuple(session_of(n, s, athlete) for n, s in enumerate(result.sessions)),
        today=today,
        unknown_from=today,
        units=athlete.units,
        minutes={day: 24 * 60 if day in races else minutes_on(athlete, day) for day in days},
        away=tuple(core.Away(off.first_day, off.last_day) for off in athlete.time_off if not off.minutes),
        weekly_mm=athlete.week_mm,
        longest_mm=max(athlete.long_mm, athlete.week_mm // 7),
        rails=rails,
        race_day=race.day if race else None,
        race_mm=race.mm if race else 0,
    )


def check_agreement(case: Case) -> None:
    _, athlete, race, rails, today = case
    # Somebody who has run next to nothing starts above every rail; that is named and signed by the coach.
    assume(athlete.week_mm >= 5_000_000)
    result = fitted(case)
    assume(result.sessions)
    answer = rebalance(inputs_of(result, athlete, race, rails, today))
    assert [(p.day, p.reason.sentence) for p in answer.departures] == []


@settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases())
def test_nothing_missed_nothing_changed(case):
    check_agreement(case)


@pytest.mark.long
@settings(max_examples=2000, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases())
def test_nothing_missed_nothing_changed_over_thousands(case):
    check_agreement(case)
