from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.running.load import (
    RATIO_SENTENCE,
    LoadError,
    Run,
    logged_spikes,
    longest_before,
    rolling_ratio,
    session_load,
    spike,
    week_load,
    weekly_totals,
    weighted_ratio,
)
from athletes.running.units import Distance, Duration

MONDAY = date(2026, 3, 2)


def run(day, km, minutes=None):
    return Run(MONDAY + timedelta(day), Distance.from_km(km), minutes and Duration.from_min(minutes))


class TestSession:
    def test_is_exact(self):
        assert session_load(7, Duration(1000)) == Fraction(7, 60)

    @pytest.mark.parametrize("effort", [-1, 11])
    def test_effort_outside_the_scale_is_refused(self, effort):
        with pytest.raises(LoadError, match=f"from 0 to 10, and {effort} was given"):
            session_load(effort, Duration(1000))


class TestWeek:
    def test_unknown_day_is_not_zero(self):
        week = week_load([0, 180, None, 180, 420, 0, 600])
        assert (week.total, week.unknown_days, week.monotony, week.strain) == (1380, 1, None, None)

    @pytest.mark.parametrize("load", [0, 300])
    def test_seven_days_alike_have_no_monotony(self, load):
        week = week_load([load] * 7)
        assert (week.total, week.monotony, week.strain) == (7 * load, None, None)

    def test_all_unknown(self):
        assert week_load([None] * 7).total == 0

    def test_needs_seven_days(self):
        with pytest.raises(LoadError, match="seven days, and 6 were given"):
            week_load([1] * 6)


class TestWeeklyTotals:
    def test_sums_distance_and_time_and_keeps_empty_weeks(self):
        weeks = weekly_totals([run(16, 8), run(0, 10, 50), run(6, 20, 120)])
        assert [
            (week.first_day, week.distance.mm, week.duration.ms, week.runs, week.untimed) for week in weeks
        ] == [
            (MONDAY, 30_000_000, 10_200_000, 2, 0),
            (MONDAY + timedelta(7), 0, 0, 0, 0),
            (MONDAY + timedelta(14), 8_000_000, 0, 1, 1),
        ]

    def test_begins_on_the_practices_day(self):
        weeks = weekly_totals([run(0, 10), run(6, 20)], first_weekday=6)
        assert [(week.first_day, week.runs) for week in weeks] == [
            (MONDAY - timedelta(1), 1),
            (MONDAY + timedelta(6), 1),
        ]

    def test_nothing_logged(self):
        assert weekly_totals([]) == ()


class TestLongest:
    def test_is_by_date_and_leaves_the_day_itself_out(self):
        runs = [run(0, 30), run(20, 20), run(30, 25)]
        assert longest_before(runs, MONDAY + timedelta(30)) == Distance.from_km(30)
        assert longest_before(runs, MONDAY + timedelta(31)) == Distance.from_km(25)
        assert longest_before(runs, MONDAY) is None


class TestSpike:
    def test_without_a_run_in_thirty_days_nothing_is_defined(self):
        assert spike(Distance.from_km(10), None) == "unknown"
        assert spike(Distance.from_km(10), Distance(0)) == "unknown"

    def test_bounds_are_exact_to_the_millimetre(self):
        longest = Distance(10_000_000)
        bounds = [(11_000_000, "reference"), (11_000_001, "small"), (13_000_000, "small"), (13_000_001, "moderate"),
                  (20_000_000, "moderate"), (20_000_001, "large")]  # fmt: skip
        assert [(mm, spike(Distance(mm), longest)) for mm, _ in bounds] == bounds

    def test_second_run_of_a_day_is_not_measured_against_the_first(self):
        assert [kind for _, kind in logged_spikes([run(0, 10), run(1, 20), run(1, 12)])] == [
            "unknown",
            "moderate",
            "small",
        ]

    @given(st.lists(st.tuples(st.integers(0, 90), st.integers(1, 40)), max_size=40))
    def test_one_pass_agrees_with_looking_back_each_time(self, days):
        runs = [run(day, km) for day, km in days]
        for one, kind in logged_spikes(runs):
            assert kind == spike(one.distance, longest_before(runs, one.day))


class TestRatios:
    def test_rolling(self):
        days = [10] * 21 + [20] * 7
        # 20 over (21 x 10 + 7 x 20) / 28 = 12.5; uncoupled over 10.
        assert rolling_ratio(days) == pytest.approx(1.6)
        assert rolling_ratio(days, coupled=False) == pytest.approx(2.0)

    def test_steady_load_is_one(self):
        assert rolling_ratio([7] * 28) == weighted_ratio([7] * 28) == pytest.approx(1)

    @pytest.mark.parametrize("ratio", [rolling_ratio, weighted_ratio])
    def test_hidden_before_28_known_days(self, ratio):
        assert ratio([10] * 27) is None
        assert ratio([10] * 27 + [None]) is None

    @pytest.mark.parametrize("ratio", [rolling_ratio, weighted_ratio])
    def test_never_divides_by_nothing(self, ratio):
        assert ratio([0] * 28) is None

    def test_uncoupled_after_three_empty_weeks(self):
        assert rolling_ratio([0] * 21 + [10] * 7, coupled=False) is None

    def test_only_the_last_28_days_count_in_rolling(self):
        assert rolling_ratio([None, 99] + [10] * 28) == pytest.approx(1)

    def test_sentence_goes_with_them(self):
        assert "does not predict" in RATIO_SENTENCE
