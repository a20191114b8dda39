from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from athletes.running.detraining import card_after_break, loss_after, result_after
from athletes.running.paces import CardError, make_card
from athletes.running.performance import Result, capacity_of
from athletes.running.units import TEN_K, Distance, Duration, Pace, parse_duration
from tests.running.strategies import results

TEN = Result(TEN_K, parse_duration("40:00"))
WEEK = Distance.from_km(64)


class TestLoss:
    @pytest.mark.parametrize(
        ("days", "low", "high"),
        [
            (0, 0, 0),
            (5, 0, 0),
            (12, Fraction(7, 4), 7),
            (21, 4, Fraction(365, 44)),
            (56, 14, 16),
            (84, 16, 20),
            (400, 16, 20),
        ],
    )
    def test_range_by_days(self, days, low, high):
        # On straight lines: at 12 days 7/16 of the way to 4 %; at 21, 7 + 9 x 9/44 = 8.84 %.
        loss = loss_after(days)
        assert loss.low == low
        assert loss.high == (7 + Fraction(81, 44) if days == 21 else high)

    @given(st.integers(0, 300))
    def test_a_longer_break_never_costs_less(self, days):
        now, later = loss_after(days), loss_after(days + 1)
        assert now.low <= now.high
        assert now.low <= later.low
        assert now.high <= later.high

    def test_told_with_how_sure_it_is(self):
        assert loss_after(1).told == "1 day off cost next to nothing."
        assert loss_after(3).told == "3 days off cost next to nothing."
        assert loss_after(21).told == (
            "21 days off usually cost 4 to 9 % of the aerobic capacity (studied in few, highly trained athletes)."
        )
        assert "no study here looks past 84 days" in loss_after(100).told

    def test_negative_days_are_refused(self):
        with pytest.raises(ValueError, match="can't be negative, and -1 was given"):
            loss_after(-1)


class TestResultAfter:
    def test_capacity_falls_by_so_much(self):
        assert capacity_of(result_after(TEN, 7)) == pytest.approx(51.94408 * 0.93, abs=0.001)

    def test_percent_of_capacity_is_not_percent_of_pace(self):
        # By hand: at 42:34 the cost is 43.95 ml/kg/min and the fraction 0.9100, so 48.30, 93 % of 51.94.
        assert result_after(TEN, 7).duration.ms == pytest.approx(parse_duration("42:34").ms, abs=1000)

    def test_no_loss_is_the_same_result(self):
        assert result_after(TEN, 0) is TEN

    def test_impossible_loss_is_refused(self):
        with pytest.raises(ValueError, match="0 to 50 %"):
            result_after(TEN, 60)


class TestCardAfterBreak:
    def test_goes_from_the_least_loss_to_the_greatest(self):
        card = card_after_break(TEN, 21, weekly_distance=WEEK)
        least, most = (
            make_card(result_after(TEN, percent), weekly_distance=WEEK)
            for percent in (4, 7 + Fraction(81, 44))
        )
        assert card.ranges["10K"].fast == least.ranges["10K"].fast
        assert card.ranges["10K"].slow == most.ranges["10K"].slow
        assert card.origin.startswith("10K in 40:00, then 21 days off usually cost 4 to 9 %")

    def test_a_few_days_change_nothing(self):
        assert (
            card_after_break(TEN, 4, weekly_distance=WEEK).ranges
            == make_card(TEN, weekly_distance=WEEK).ranges
        )

    def test_without_results_it_is_refused(self):
        with pytest.raises(CardError, match="needs a race result"):
            card_after_break([], 10)

    def test_when_no_pace_can_be_told_it_says_what_to_do(self):
        walk = Result(TEN_K, parse_duration("2:25:00"))
        with pytest.raises(CardError, match=r"After 90 days off 10K in 2:25:00 is no basis.*Run by effort"):
            card_after_break(walk, 90)

    @given(results(), st.integers(6, 120))
    def test_never_faster_than_before(self, given_result, days):
        # Slowed by a fifth it must still be a run of less than 7 hours.
        assume(
            given_result.duration <= Duration.from_min(330) and given_result.pace > Pace.from_s_per_km(700)
        )
        before, after = make_card(given_result), card_after_break(given_result, days)
        for name, ends in after.ranges.items():
            assert ends.fast <= before.ranges[name].fast
            assert ends.slow <= before.ranges[name].slow
