import datetime

import pytest
from hypothesis import given

from athletes.running.performance import Result, riegel_time
from athletes.running.predictions import VALID, best_result, predictions, show_estimate
from athletes.running.units import (
    FIVE_K,
    HALF_MARATHON,
    MARATHON,
    TEN_K,
    Distance,
    Duration,
    parse_distance,
    parse_duration,
)
from tests.running.strategies import faster_and_slower, race_distances, results, weekly_distances


def result(distance, clock, day=None):
    return Result(distance, parse_duration(clock), day)


FIVE = result(FIVE_K, "20:00")
TEN = result(TEN_K, "40:00")
HALF = result(HALF_MARATHON, "1:35:00")
WEEK = Distance.from_km(64)


def by_formula(outlook):
    return {one.formula: one for one in outlook.given}


def reasons(outlook):
    return {one.formula: one.reason for one in outlook.refused}


class TestMarathon:
    def test_all_that_apply_are_given(self):
        outlook = predictions([FIVE, HALF], MARATHON, WEEK)
        assert set(by_formula(outlook)) == {"vickers_two", "vickers_one", "daniels_gilbert", "riegel"}
        assert reasons(outlook) == {"own_result": "There is no result over a marathon."}

    def test_recreational_default_is_the_survey(self):
        outlook = predictions(TEN, MARATHON, WEEK)
        assert outlook.chosen.formula == "vickers_one"
        assert outlook.reason == (
            "It was made from recreational marathoners; the power law is more than ten minutes too fast for half "
            "of them."
        )

    def test_two_races_come_before_one(self):
        assert predictions([FIVE, HALF], MARATHON, WEEK).chosen.formula == "vickers_two"

    def test_two_short_races_are_not_enough_for_the_two_race_model(self):
        outlook = predictions([FIVE, result(parse_distance("8 km"), "33:00")], MARATHON, WEEK)
        assert reasons(outlook)["vickers_two"] == "It needs the longer race to be at least 10 km."

    def test_one_race_uses_the_longest(self):
        assert by_formula(predictions([FIVE, HALF], MARATHON, WEEK))["vickers_one"].basis == (HALF,)

    def test_a_faster_short_race_slows_the_power_law_and_the_page_is_told(self):
        # Riegel 1981 by hand: k = ln(T2/T1)/ln(D2/D1) 1.0648 and 1.1301, so 1:33:00 becomes 3:14:33 and 3:23:33.
        half = result(HALF_MARATHON, "1:33:00")
        before, after = (
            by_formula(predictions([result(TEN_K, clock), half], MARATHON, WEEK))
            for clock in ("42:00", "40:00")
        )
        assert abs(before["riegel"].time.ms - parse_duration("3:14:33").ms) <= 1000
        assert abs(after["riegel"].time.ms - parse_duration("3:23:33").ms) <= 1000
        assert "A faster shorter race alone makes this time slower" in after["riegel"].detail
        # The two-race survey, which the paces use, goes the other way and need not say it.
        assert after["vickers_two"].time < before["vickers_two"].time
        assert "shorter race" not in after["vickers_two"].detail

    def test_between_the_two_races_nothing_is_said_of_it(self):
        given = by_formula(predictions([FIVE, HALF], TEN_K))["riegel"]
        assert "own exponent" in given.detail
        assert "shorter race alone" not in given.detail

    def test_survey_gives_a_quarter_of_an_hour_either_side(self):
        chosen = predictions(TEN, MARATHON, Distance.from_miles(40)).chosen
        assert (chosen.time.ms - chosen.low.ms, chosen.high.ms - chosen.time.ms) == (900_000, 900_000)

    def test_equation_and_power_law_are_wide_on_the_slow_side_and_say_why(self):
        for formula in ("daniels_gilbert", "riegel"):
            given = by_formula(predictions(TEN, MARATHON, WEEK))[formula]
            assert given.high.ms - given.time.ms == 1_200_000
            assert "ten minutes too fast for half" in given.caution

    def test_without_a_weekly_distance_the_survey_refuses(self):
        outlook = predictions(TEN, MARATHON)
        assert reasons(outlook)["vickers_one"] == "It needs the usual weekly distance."
        assert outlook.chosen.formula == "daniels_gilbert"
        assert outlook.reason == "The models of recreational marathoners don't apply."

    def test_a_mile_is_too_short_for_the_survey(self):
        outlook = predictions(result(parse_distance("1 mi"), "5:30"), MARATHON, WEEK)
        assert reasons(outlook)["vickers_one"] == "It needs a race of 5 to 30 km."

    def test_long_weeks_count_as_eighty_miles(self):
        at_limit, beyond = (
            predictions(TEN, MARATHON, Distance.from_miles(miles)).chosen for miles in (80, 120)
        )
        assert beyond.time == at_limit.time
        assert beyond.caution == "Weeks over 129 km (80 miles) count as that."
        assert at_limit.caution == ""

    def test_hardly_any_running_is_said_to_be_outside(self):
        chosen = predictions(TEN, MARATHON, Distance.from_km(5)).chosen
        assert chosen.formula == "vickers_one"
        assert "outside the survey" in chosen.caution

    def test_never_faster_than_the_power_law(self):
        slow = result(FIVE_K, "38:00")
        chosen = predictions(slow, MARATHON, Distance.from_miles(80)).chosen
        assert chosen.time == riegel_time(slow, MARATHON)
        assert "faster than the power law" in chosen.caution

    def test_under_two_and_a_half_hours_the_equation(self):
        outlook = predictions(result(TEN_K, "30:00"), MARATHON, Distance.from_miles(80))
        assert outlook.chosen.formula == "daniels_gilbert"
        assert outlook.reason.startswith("A marathon under 2:30")

    def test_two_results_that_do_not_fit_are_told(self):
        outlook = predictions([FIVE, result(HALF_MARATHON, "2:30:00")], MARATHON, WEEK)
        assert "don't fit together (exponent 1.40" in reasons(outlook)["vickers_two"]
        assert outlook.chosen.formula == "vickers_one"

    def test_newest_result_over_the_distance_itself_comes_first(self):
        marathon = result(MARATHON, "3:40:00", datetime.date(2026, 4, 20))
        spring = result(TEN_K, "44:00", datetime.date(2026, 3, 1))
        autumn = result(TEN_K, "43:00", datetime.date(2026, 9, 1))
        assert predictions([marathon, spring], MARATHON, WEEK).chosen.formula == "own_result"
        assert predictions([marathon, spring, autumn], MARATHON, WEEK).chosen.formula != "own_result"
        assert predictions([marathon, TEN], MARATHON, WEEK).chosen.formula == "vickers_one"

    def test_of_two_marathons_the_newer_counts(self):
        old = result(MARATHON, "3:10:00", datetime.date(2020, 4, 20))
        new = result(MARATHON, "3:40:00", datetime.date(2026, 4, 20))
        assert predictions([old, new], MARATHON, WEEK).chosen.basis == (new,)


class TestOtherDistances:
    def test_equation_comes_first(self):
        outlook = predictions(FIVE, TEN_K, WEEK)
        assert outlook.chosen.formula == "daniels_gilbert"
        assert reasons(outlook)["vickers_one"] == "It predicts the marathon only."

    def test_a_marathon_of_unknown_day_is_better_than_an_equation(self):
        marathon = result(MARATHON, "3:40:00")
        outlook = predictions([marathon, TEN], MARATHON)
        assert outlook.chosen.basis == (marathon,)
        assert "really run" in outlook.reason

    def test_sentences_use_the_athletes_units(self):
        odd = result(parse_distance("8 km"), "33:00")
        details = [one.detail for one in predictions([odd, HALF], TEN_K, units="mi").given]
        assert any("4.97 mi" in detail for detail in details)
        assert not any("8 km" in detail for detail in details)

    def test_best_result_counts(self):
        poor = result(TEN_K, "50:00")
        assert predictions([poor, FIVE], TEN_K).chosen.basis == (FIVE,)

    def test_own_exponent_where_two_results_give_one(self):
        riegel = by_formula(predictions([FIVE, HALF], TEN_K))["riegel"]
        assert riegel.detail.startswith("The athlete's own exponent 1.082")
        assert by_formula(predictions(FIVE, TEN_K))["riegel"].detail.startswith("The general exponent 1.06")

    def test_widths_grow_with_the_step(self):
        def percent(distance):
            given = by_formula(predictions(FIVE, distance))["daniels_gilbert"]
            return 100 * (given.time.ms - given.low.ms) / given.time.ms

        assert percent(FIVE_K) == pytest.approx(2, abs=0.001)
        assert percent(TEN_K) == pytest.approx(3, abs=0.001)


class TestRanges:
    def test_power_law_refuses_beyond_230_minutes(self):
        # 5K in 28:00 comes to 4:28 with the exponent 1.06.
        outlook = predictions(result(FIVE_K, "28:00"), MARATHON)
        assert reasons(outlook)["riegel"] == "It covers 3.5 to 230 minutes, and this comes to 4 h 29."

    def test_power_law_refuses_a_long_result(self):
        outlook = predictions(result(MARATHON, "4:30:00"), TEN_K)
        assert reasons(outlook)["riegel"] == "It needs a result of 3.5 to 230 minutes."

    def test_equation_says_when_it_is_stretched(self):
        stretched = by_formula(predictions(result(FIVE_K, "30:00"), MARATHON))["daniels_gilbert"]
        assert "Beyond 4 hours there is no data behind it." in stretched.caution
        assert "Beyond 4 hours" not in by_formula(predictions(FIVE, MARATHON))["daniels_gilbert"].caution

    def test_equation_refuses_beyond_seven_hours(self):
        outlook = predictions(result(FIVE_K, "55:00"), MARATHON)
        assert reasons(outlook)["daniels_gilbert"].startswith("It covers 3.5 minutes to 7 hours")
        assert outlook.chosen is None
        assert outlook.spread is None
        assert outlook.reason == "No formula applies to these results."

    def test_too_short_a_time_is_refused_by_all(self):
        outlook = predictions(result(Distance.from_km(1), "2:50"), FIVE_K, WEEK)
        assert outlook.given == ()
        assert len(outlook.refused) == 5

    def test_no_results(self):
        outlook = predictions([], MARATHON, WEEK)
        assert outlook.chosen is None
        assert len(outlook.refused) == 5

    def test_every_formula_says_its_range(self):
        for one in predictions([FIVE, HALF], MARATHON, WEEK).given:
            assert one.valid == VALID[one.formula]
            assert one.valid


@given(results(), race_distances, weekly_distances)
def test_answers_lie_in_their_range_and_the_spread_holds_them(given_result, distance, weekly):
    outlook = predictions(given_result, distance, weekly)
    assert len(outlook.given) + len(outlook.refused) == 5
    for one in outlook.given:
        assert one.low < one.time < one.high
        assert outlook.spread[0] <= one.time <= outlook.spread[1]
    assert outlook.chosen is None or outlook.chosen in outlook.given


@given(faster_and_slower(), race_distances, weekly_distances)
def test_a_faster_result_never_gives_a_slower_prediction(pair, distance, weekly):
    faster, slower = (predictions(one, distance, weekly).chosen for one in pair)
    if slower and faster:
        assert faster.time <= slower.time


@given(results(), weekly_distances)
def test_more_training_never_gives_a_slower_marathon(given_result, weekly):
    less = predictions(given_result, MARATHON, weekly).chosen
    more = predictions(given_result, MARATHON, weekly + Distance.from_km(10)).chosen
    assert (less is None) == (more is None)
    assert less is None or more.time <= less.time


def test_best_result_passes_over_what_the_equation_does_not_cover():
    assert best_result([result(Distance.from_km(1), "2:50")]) is None
    assert best_result([]) is None


@pytest.mark.parametrize(
    ("ms", "shown"),
    [(11_902_000, "3 h 18"), (3_600_000, "1 h 00"), (2_502_000, "41:40"), (7_199_000, "2 h 00")],
)
def test_estimates_are_no_finer_than_they_are_known(ms, shown):
    assert show_estimate(Duration(ms)) == shown
