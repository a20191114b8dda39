"""Free days that change on a known day are fitted by date; a race on the way eases its week."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from plans.training.fitting import CannotFit
from plans.training.fitting_types import FitFree, FitRace
from tests.training.test_fitting import MONDAY, STEADY, fitted, small_plan

NO_DAY = (0, 0, 0, 0, 0, 0, 0)
THREE_WEEKS = small_plan(*[("base", [(1, "easy", "8 km easy"), (6, "long", "14 km easy")])] * 3)


def days(result) -> list[tuple[int, int]]:
    """Week and weekday of every session, from the Monday of the first week."""
    return [divmod((s.day - MONDAY).days, 7) for s in result.sessions]


def test_other_free_days_hold_from_their_day_on():
    saturdays = FitFree(MONDAY + timedelta(weeks=1), (0, 0, 0, 90, 0, 240, 0))
    thursdays = FitFree(MONDAY + timedelta(weeks=2), (0, 0, 0, 90, 0, 0, 240))
    athlete = replace(STEADY, minutes=(0, 90, 0, 0, 0, 0, 240), later=(saturdays, thursdays))
    result = fitted(THREE_WEEKS, athlete, race=None)
    assert days(result) == [(0, 1), (0, 6), (1, 3), (1, 5), (2, 3), (2, 6)]


def test_free_days_only_later_are_enough():
    later = FitFree(MONDAY + timedelta(weeks=2), (0, 90, 0, 0, 0, 0, 240))
    assert days(fitted(THREE_WEEKS, replace(STEADY, minutes=NO_DAY, later=(later,)), race=None)) == [
        (2, 1),
        (2, 6),
    ]
    with pytest.raises(CannotFit, match="No day of the week is free"):
        fitted(
            THREE_WEEKS, replace(STEADY, minutes=NO_DAY, later=(replace(later, minutes=NO_DAY),)), race=None
        )


@pytest.mark.parametrize("day", [date(2027, 2, 3), date(2027, 2, 7)])
def test_a_race_on_the_way_eases_its_week(day):
    """The week of 1 February: what is trained and raced together is less than what was trained without the race."""
    race = FitRace(day, 10_000_000, "Quay 10K")
    without, raced = fitted(), fitted(athlete=replace(STEADY, tune_ups=(race,)))
    before, after = (next(w.mm for w in r.weeks if w.first_day == date(2027, 2, 1)) for r in (without, raced))
    assert after + race.mm < before
    near = [s for s in raced.sessions if abs((s.day - day).days) <= 2 and s.day != day]
    assert near
    assert {s.role for s in near} <= {"easy", "strength"}
