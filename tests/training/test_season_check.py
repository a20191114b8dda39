"""The guard rails on a season under way. Cases by hand; before the first day they agree with fitting's own look."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, assume, given, settings

from plans.training.replanning import rebalance
from plans.training.schedule import Break, Hold, Log
from plans.training.season_check import season_rails
from tests.training.planning import MONDAY, day, done_until, missed, write
from tests.training.test_fitting_properties import Case, cases, fitted
from tests.training.test_fitting_then_replanning import inputs_of

EVEN = "base: Tue Q10 Thu E8 Sat E6 Sun L16"  # 40 km


def told(inputs, breaks=(), rail=None):
    return [one.sentence for one in season_rails(inputs, breaks) if rail in (None, one.rail)]


def test_an_even_plan_run_as_written_breaks_nothing():
    inputs = write(f"6x {EVEN}", weekly_mm=40_000_000, longest_mm=16_000_000)
    assert told(inputs) == []
    assert told(done_until(inputs, day(4))) == []


def test_what_was_missed_counts_when_the_next_week_rises():
    # Weeks 2 and 3 missed. Week 4's reference is the mean of the last four, (40 + 40 + 0 + 0) / 4 = 20 km; at most
    # 30 % or 3 km more, and not under half of what was held (20 km); coming back to held ground may be 25 % more: 25.
    inputs = write(f"6x {EVEN}", weekly_mm=40_000_000, longest_mm=16_000_000)
    inputs = missed(done_until(inputs, day(2)), day(2), day(3, "Sun"), "time")
    inputs = replace(inputs, today=day(4), unknown_from=day(4))
    rise = [one for one in season_rails(inputs) if one.rail == "weekly_rise"]
    assert [one.week for one in rise] == [3]
    assert rise[0].sentence == (
        "Week of 26 January: 40 km after 20 km is 100 % more (25 km would keep the guard rail)"
    )


def test_weeks_gone_by_are_not_told():
    lines = [EVEN, "base: Tue Q20 Thu E20 Sat E20 Sun L30", EVEN, EVEN]
    inputs = write(*lines, weekly_mm=40_000_000, longest_mm=16_000_000)
    assert {one.week for one in season_rails(inputs)} == {1}
    assert told(done_until(inputs, day(3))) == []


def test_a_hard_monday_after_the_sunday_gone_by():
    lines = [EVEN, "base: Mon Q10 Thu E8 Sat E6 Sun L16", EVEN]
    inputs = done_until(write(*lines, weekly_mm=40_000_000, longest_mm=16_000_000), day(2))
    assert told(inputs, rail="gap_days") == [
        "Week of 12 January: hard days on Sunday and Monday are too close"
    ]
    assert told(done_until(inputs, day(2, "Tue")), rail="gap_days") == []


def test_free_minutes_of_the_day_and_five_to_spare():
    # Thursday's 8 km take 48 minutes.
    inputs = write(EVEN, weekly_mm=40_000_000, longest_mm=16_000_000)
    for minutes, words in (
        (43, []),
        (42, ["Week of 5 January: Thu 8 Jan takes about 48 min, and 42 min are free"]),
        (0, ["Week of 5 January: Thu 8 Jan takes about 48 min, and the day isn't free"]),
    ):
        assert told(replace(inputs, minutes={day(1, "Thu"): minutes}), rail="free") == words


def test_two_runs_of_a_day_share_its_minutes():
    inputs = write("base: Tue E8 Tue E5 Sun L16", weekly_mm=40_000_000, longest_mm=16_000_000)
    free = replace(inputs, minutes={day(1, "Tue"): 60})
    assert told(free, rail="free") == ["Week of 5 January: Tue 6 Jan takes about 78 min, and 60 min are free"]


def test_a_week_without_rest():
    every = " ".join(f"{name} E6" for name in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"))
    inputs = write(f"base: {every}", weekly_mm=42_000_000, longest_mm=10_000_000)
    assert told(inputs, rail="min_rest") == ["Week of 5 January: no day without a run; the guard rail is 1"]


@pytest.mark.parametrize(
    ("stops", "words"),
    [
        (False, ["Tue 6 Jan is hard, and a hold allows easy running only"]),
        (
            True,
            [
                f"{name} has a run, and a hold allows none until a coach clears it"
                for name in ("Tue 6 Jan", "Thu 8 Jan", "Sat 10 Jan", "Sun 11 Jan")
            ],
        ),
    ],
)
def test_an_open_hold(stops, words):
    inputs = write(EVEN, holds=(Hold(MONDAY, stops),), weekly_mm=40_000_000, longest_mm=16_000_000)
    assert told(inputs, rail="hold") == [f"Week of 5 January: {one}" for one in words]
    closed = replace(inputs, holds=(Hold(MONDAY - timedelta(9), stops, closed=MONDAY),))
    assert told(closed, rail="hold") == []


def test_hard_running_too_soon_after_a_break():
    # Ten days off: seven days without quality (guard rails, calm_10).
    inputs = write(f"2x {EVEN}", weekly_mm=40_000_000, longest_mm=16_000_000)
    off = Break(MONDAY - timedelta(10), MONDAY, 10)
    assert told(inputs, [off], "calm") == [
        "Week of 5 January: Tue 6 Jan is hard; after 10 days off the guard rail is 7 days without,"
        " until Mon 12 Jan"
    ]


def test_hard_running_close_to_a_race():
    lines = [EVEN, "race: Tue E8 Thu Q8 Sun R42"]
    inputs = write(*lines, weekly_mm=40_000_000, longest_mm=16_000_000)
    assert told(inputs, rail="race_near") == [
        "Week of 12 January: quality session on Thursday, 3 days before a race"
    ]


def test_a_run_outside_the_plan_counts_in_its_week():
    inputs = write(f"3x {EVEN}", weekly_mm=40_000_000, longest_mm=16_000_000)
    inputs = done_until(inputs, day(2, "Wed"))
    extra = Log(day(2, "Mon"), None, "done", 12_000_000, 72 * 60)
    rise = told(replace(inputs, logs=(*inputs.logs, extra)), rail="weekly_rise")
    assert rise == ["Week of 12 January: 52 km after 40 km is 30 % more (44 km would keep the guard rail)"]


FITTINGS_OWN = {
    "weekly_rise",
    "long_rise",
    "longest_s",
    "long_share",
    "quality_share",
    "max_hard",
    "gap_days",
    "taper",
}


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases())
def test_before_the_first_day_it_says_what_fitting_says(case: Case):
    _, athlete, race, rails, today = case
    result = fitted(case)
    assume(result.sessions and result.weeks[0].first_day >= today)
    assume(athlete.week_mm >= 5_000_000)
    inputs = inputs_of(result, athlete, race, rails, today)
    mine = [one.sentence for one in season_rails(inputs) if one.rail in FITTINGS_OWN]
    assert mine == [sentence for sentence in result.broken if not sentence.startswith("The longest run is")]


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases())
def test_the_same_whatever_the_order(case: Case):
    _, athlete, race, rails, today = case
    result = fitted(case)
    assume(result.sessions)
    inputs = inputs_of(result, athlete, race, rails, today)
    turned = replace(inputs, plan=inputs.plan[::-1])
    assert set(season_rails(turned)) == set(season_rails(inputs, rebalance(inputs).breaks))
