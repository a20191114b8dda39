"""Alternatives and "what if": edits of the inputs, answered by the same planner."""

from dataclasses import replace

import pytest

from plans.training.alternatives import (
    alternatives,
    goal_changed,
    outlook,
    peak_long_next_week,
    race_moved,
    recovery_waived,
    week_lost,
)
from plans.training.replanning import rebalance
from tests.training.planning import KM, day, done_until, missed, table, week_totals, write

LINES = (
    "3x build: Tue Q10 Wed E8 Thu E8 Sat E8 Sun L20",
    "recovery: Tue Q8 Wed E6 Thu E6 Sat E6 Sun L14",
    "3x build: Tue Q10 Wed E8 Thu E10 Sat E8 Sun L24",
    "peak: Tue Q12 Wed E8 Thu E10 Sat E8 Sun L30",
    "build: Tue Q12 Wed E8 Thu E10 Sat E8 Sun L22",
    "taper: Tue Q10 Wed E8 Thu E8 Sat E6 Sun L18",
    "taper: Tue Q8 Wed E6 Thu E6 Sat E5 Sun L12",
    "race: Tue Q6 Wed E5 Thu E4 Sun R42",
)


def season(**given):
    return write(*LINES, weekly_mm=54 * KM, longest_mm=20 * KM, race_day=day(12, "Sun"), race_mm=42_195_000,
                 minimum_long_mm=26 * KM, **given)  # fmt: skip


def names(result):
    return [v.name for v in result.verdicts]


def test_the_missed_peak_long_run_can_go_into_next_week():
    athlete = done_until(missed(season(), day(8, "Sun"), why="time"), day(9))
    edited = peak_long_next_week(athlete)
    # 38 of 68 km were run; one light week costs nothing, so the week holds the longer run whole
    assert rebalance(athlete).placed("9Sun").mm == 22 * KM
    assert rebalance(edited).placed("9Sun").mm == 30 * KM
    assert [a.name for a in alternatives(athlete)][:1] == ["peak_long"]


def test_not_with_the_race_less_than_three_weeks_after_it():
    near = replace(done_until(missed(season(), day(8, "Sun"), why="time"), day(9)), race_day=day(11, "Sat"))
    assert peak_long_next_week(near) is None


def test_a_peak_long_run_that_was_run_is_not_run_again():
    assert peak_long_next_week(done_until(season(), day(9))) is None


def test_the_next_recovery_week_can_be_waived():
    athlete = done_until(missed(season(), day(3), day(3, "Sun"), "travel"), day(4))
    assert week_totals(rebalance(athlete))[0] == 40
    waived = recovery_waived(athlete)
    result = rebalance(waived)
    assert 43 >= week_totals(result)[0] > 40  # 80 % of 54 after a week off
    assert waived.weeks[3].kind == "build"


def test_a_season_without_a_recovery_week_ahead_has_nothing_to_waive():
    assert recovery_waived(done_until(season(), day(6))) is None


def test_a_week_lost_is_a_week_without_runs_and_a_way_back():
    athlete = done_until(season(), day(5))
    result = rebalance(week_lost(athlete, day(6)))
    lost = [p for p in result.sessions if day(6) <= p.day <= day(6, "Sun")]
    assert all(p.dropped for p in lost)
    assert week_totals(result)[:3] == [60, 0, 48]  # 80 % of 60
    assert rebalance(athlete).changes == ()


def test_a_race_three_weeks_earlier_keeps_peak_and_taper():
    athlete = done_until(season(), day(4))
    moved = race_moved(athlete, -3)
    assert [w.kind for w in moved.weeks] == [
        "build", "build", "build", "recovery", "peak", "build", "taper", "taper", "race",
    ]  # fmt: skip
    assert moved.race_day == day(9, "Sun")
    result = rebalance(moved)
    # From 54 and 20 straight to a peak of 68 and 30: the coach's own leap of 50 % is told, not hidden
    assert table(moved, result) == "as planned"
    after_a_miss = rebalance(race_moved(missed(athlete, day(3, "Sun"), why="time"), -3))
    assert after_a_miss.placed("8Sun").mm <= 30 * KM


def test_a_race_two_weeks_later_repeats_the_weeks_ahead():
    athlete = done_until(missed(season(), day(5), day(6, "Sun"), "ill"), day(7))
    now = rebalance(athlete)
    later = race_moved(athlete, 2)
    assert len(later.weeks) == 14
    assert later.race_day == day(14, "Sun")
    assert len({s.key for s in later.plan}) == len(later.plan)
    result = rebalance(later)
    assert outlook(later, result).longest_mm >= outlook(athlete, now).longest_mm
    assert [w.kind for w in later.weeks][-4:] == ["build", "taper", "taper", "race"]


def test_a_race_cannot_be_earlier_than_the_weeks_that_are_left():
    athlete = done_until(season(), day(10))
    with pytest.raises(ValueError, match="cannot be 5 weeks earlier"):
        race_moved(athlete, -5)


def test_when_the_marathon_is_gone_the_later_race_and_the_shorter_one_are_offered():
    athlete = done_until(missed(season(), day(3), day(8, "Sun"), "hurt"), day(9))
    assert names(rebalance(athlete)) == ["not_recoverable"]
    offered = {a.name: a for a in alternatives(athlete)}
    assert "not_recoverable" not in offered["later_race"].outlook.verdicts
    assert "later." in offered["later_race"].sentence
    half = goal_changed(athlete, 21_097_500, 14 * KM, 18 * KM)
    assert max(s.mm for s in half.plan if s.role == "long") == 18 * KM
    assert half.race_mm == 21_097_500


def test_a_race_is_no_long_run_to_look_forward_to():
    half = write("build: Sun L16", "taper: Sun L12", "race: Sun R21", race_day=day(3, "Sun"))
    assert outlook(half, rebalance(half)).longest_mm == 16 * KM


def test_an_alternative_changes_nothing_by_itself():
    athlete = done_until(missed(season(), day(8, "Sun"), why="time"), day(9))
    before = rebalance(athlete)
    alternatives(athlete)
    assert rebalance(athlete) == before
