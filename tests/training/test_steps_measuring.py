"""Totals worked out by hand. Paces of the exact card, per km: 5K 4:00, 10K 4:10, half 4:30, marathon 5:00,
goal 4:50, easy 6:00, recovery 6:40. All by hand; no source."""

import re
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from plans.training.intensity import role_of
from plans.training.measuring import measure
from plans.training.shorthand import parse, write
from plans.training.sums import mm_in, ms_at
from tests.training.session_cards import exact_card, no_goal_card, wide_card
from tests.training.session_trees import sessions

KM = 1_000_000


def of(text, card=exact_card):
    return measure(parse(text), card)


def both(value):
    return (value, value)


class TestTheFourOfTheIssue:
    """Checks by hand, common practice without a source."""

    def test_the_ladder_is_18_minutes_of_work_and_16_of_recovery(self):
        m = of("ladder 2-4-6-4-2 min @ 10K, equal jog")
        assert m.hard_s == both(18 * 60)
        assert m.total_s == both((18 + 16) * 60)

    def test_five_km_from_5_00_getting_8_s_faster_takes_23_40(self):
        assert of("5 km, start at MP, -8 s/km every km").total_s == both(23 * 60 + 40)

    def test_the_alternation_at_5_00_takes_41_20(self):
        assert of("4 x (1 km @ MP, 1 km @ MP+20 s/km)").total_s == both(41 * 60 + 20)

    def test_twelve_times_a_minute_is_twelve_hard_minutes(self):
        m = of("12 x 1 min @ 5K, 1 min jog")
        assert m.hard_s == both(12 * 60)
        assert m.total_s == both(23 * 60)


class TestByHand:
    def test_time_repeats(self):
        m = of("6 x 4 min @ 5K, 2 min jog")
        assert m.hard_mm == both(6 * KM)  # 4 min at 4:00
        assert m.total_mm == both(6 * KM + 5 * 300_000)  # 2 min at 6:40 is 300 m
        assert m.total_s == both(34 * 60)

    def test_distance_repeats_in_sets(self):
        m = of("2 x (4 x 400 m @ 5K, 200 m jog), 3 min rest")
        assert m.hard_mm == both(3_200_000)
        assert m.total_mm == both(3_200_000 + 6 * 200_000)
        assert m.hard_s == both(8 * 96)
        assert m.total_s == both(8 * 96 + 6 * 80 + 180)

    def test_ranges_of_repeats_and_of_pieces(self):
        m = of("2-3 x 10-12 min @ HM, 3 min rest")
        assert m.hard_s == (20 * 60, 36 * 60)
        assert m.total_s == (23 * 60, 42 * 60)

    def test_a_ladder_in_metres(self):
        m = of("400-800-1200-800-400 @ 5K, 2 min jog")
        assert m.hard_mm == both(3_600_000)
        assert m.total_mm == both(3_600_000 + 4 * 300_000)
        assert m.total_s == both(864 + 480)

    def test_the_last_part_is_inside_the_whole(self):
        m = of("12 km with last 4 km @ MP")
        assert m.total_mm == both(12 * KM)
        assert m.hard_mm == both(4 * KM)
        assert m.total_s == both(8 * 360 + 4 * 300)

    def test_repeats_inside_a_run(self):
        m = of("30 km with 3 x 5 km @ MP, 1 km easy")
        assert m.total_mm == both(30 * KM)
        assert m.hard_mm == both(15 * KM)
        assert m.total_s == both(15 * 300 + 15 * 360)

    def test_a_last_part_in_time_inside_a_distance(self):
        m = of("20 km with last 20 min @ MP")  # 4 km of it
        assert m.total_mm == both(20 * KM)
        assert m.hard_mm == both(4 * KM)
        assert m.total_s == both(16 * 360 + 1200)

    def test_a_progression_between_two_paces(self):
        m = of("8 km progression from easy to MP")
        assert m.total_s == both(8 * 330)

    def test_a_change_in_miles(self):
        m = of("2 mi, start at MP, -16 s/mi every mi")
        # 2 miles of 1.609344 km at 300 s/km are 965.6 s; the second 16 s faster.
        assert m.total_s == both(950)

    def test_a_walk_is_ten_minutes_a_km_and_counts(self):
        m = of("8 x (4 min easy, 1 min walk)")
        assert m.total_s == both(40 * 60)
        assert m.total_mm == both(8 * (666_667 + 100_000))
        assert m.hard_s == both(0)

    def test_strides_after_a_run_are_within_it(self):
        assert of("8 km easy + 6 strides").total_mm == both(8 * KM)
        assert of("25 min easy + 6 x 80 m strides").total_s == both(25 * 60)

    def test_strides_alone_count_with_their_walks(self):
        assert of("6 strides").total_s == both(6 * 20 + 5 * 60)

    def test_jogging_back_takes_twice_the_time_over_the_same_way(self):
        m = of("8 x 30 s hill, jog back")
        assert m.total_s == both(8 * 30 + 7 * 60)
        assert m.total_mm == both(15 * 83_333)  # 30 s at 6:00
        assert m.hard_s == both(240)

    def test_a_whole_line(self):
        m = of("15 min easy; drills; 6 x 800 m @ 10K, 90 s jog; 10 min easy")
        assert m.hard_s == both(6 * 200)
        assert m.total_s == both(15 * 60 + 5 * 60 + 6 * 200 + 5 * 90 + 10 * 60)
        assert m.total_mm == both(2_500_000 + 4_800_000 + 5 * 225_000 + 1_666_667)

    def test_strength_takes_time_and_no_distance(self):
        m = of("5 km easy; strength 20 min core")
        assert (m.total_mm, m.total_s) == (both(5 * KM), both(1800 + 1200))

    def test_a_bike_ride_is_no_running_distance(self):
        assert of("cross-train 20 km bike").total_mm == both(0)

    def test_free_text_counts_with_the_amounts_given(self):
        m = of("free: as you feel = 60 min, 20 min hard")
        assert (m.total_s, m.total_mm) == (both(3600), both(10 * KM))
        assert (m.hard_s, m.hard_mm) == (both(1200), both(4_800_000))

    def test_rest_is_nothing(self):
        m = of("rest")
        assert (m.total_mm, m.total_s, m.distance_text, m.time_text) == (both(0), both(0), "", "")


class TestRangesOfPace:
    def test_time_gives_a_range_of_distance(self):
        # 60 min at 380 and at 340 s per km
        assert of("60 min easy", wide_card).total_mm == (9_473_684, 10_588_235)

    def test_distance_gives_a_range_of_time(self):
        assert of("8-10 km easy", wide_card).total_s == (8 * 340, 10 * 380)

    def test_between_two_paces_is_from_the_fast_end_to_the_slow_end(self):
        assert of("1 km @ 10K-5K", wide_card).total_s == (236, 254)

    def test_goal_pace_without_a_goal_is_wide_and_no_failure(self):
        assert of("1 km @ goal", no_goal_card).total_s == (246, 306)

    def test_texts_in_the_athletes_units(self):
        km, mi = (measure(parse("60 min easy"), wide_card, units) for units in ("km", "mi"))
        assert (km.distance_text, km.time_text) == ("9.5–10.6 km", "60 min")
        assert mi.distance_text == "5.9–6.6 mi"
        assert measure(parse("long run 2 h"), wide_card).time_text == "2:00 h"


class TestHard:
    @pytest.mark.parametrize(
        ("text", "hard"),
        [
            ("10 km @ MP", 10),
            ("10 km @ MP+20 s/km", 0),
            ("10 km steady", 0),
            ("10 km easy + 6 strides", 0),
            ("10 km @ effort 4", 0),
            ("10 km @ effort 5", 10),
            ("race 10 km", 10),
            ("10 km tempo", 10),
            ("10 x 1 km", 10),
            ("10 km", 0),
            ("10 x 1 km easy, 1 min walk", 0),
            ("10 km easy @ 140-150 bpm", 0),
            ("6 km progression from MP, 10 s/km faster each km", 6),
            ("10 km progression from easy to MP+60 s/km", 0),
        ],
    )
    def test_marathon_pace_and_faster_is_hard(self, text, hard):
        assert of(text).hard_mm == both(hard * KM)


@pytest.mark.parametrize(
    ("text", "role"),
    [
        ("rest", "rest"),
        ("45 min easy", "easy"),
        ("8 km easy + 6 strides", "easy"),
        ("8 x (4 min easy, 1 min walk)", "easy"),
        ("long run 16 km", "long"),
        ("20 km easy", "long"),
        ("2 h easy", "long"),
        ("long run 28 km with last 8 km @ MP", "long"),
        ("12 km with last 4 km @ MP", "quality"),
        ("8 x 30 s hill, jog back", "quality"),
        ("15 min easy; 20 min tempo; 10 min easy", "quality"),
        ("15 min easy; 4 strides; race 5 km", "race"),
        ("strength 30 min", "strength"),
        ("45 min bike", "cross"),
        ("5 km easy; strength 20 min", "easy"),
    ],
)
def test_the_role_is_guessed(text, role):
    assert role_of(parse(text)) == role


class TestAlways:
    @given(sessions)
    @settings(max_examples=200, deadline=None)
    def test_low_is_at_most_high_and_hard_at_most_total(self, session):
        m = measure(session, wide_card)
        for low, high in (m.total_mm, m.total_s, m.hard_mm, m.hard_s):
            assert 0 <= low <= high
        words = any(part.__class__.__name__ == "Words" for part in session.parts)
        if not words:
            assert m.hard_s[1] <= m.total_s[1] + 1
            assert m.hard_mm[1] <= m.total_mm[1] + 1

    @given(sessions)
    @settings(max_examples=200, deadline=None)
    def test_the_exact_card_lies_inside_the_wide_one(self, session):
        # Steady running lies between two ranges, so it narrows as they widen.
        assume(not re.search("steady|float|effort|HR", write(session)))
        exact, wide = measure(session, exact_card), measure(session, wide_card)
        for one, other in ((exact.total_s, wide.total_s), (exact.total_mm, wide.total_mm)):
            assert other[0] - 2 <= one[0]
            assert one[1] <= other[1] + 2


PACES = st.builds(Fraction, st.integers(90, 2400 * 12), st.integers(1, 12)).filter(lambda pace: pace >= 90)


@given(st.integers(0, 200 * KM), PACES)
def test_a_time_at_a_pace_is_the_exact_one_to_the_nearest_millisecond(mm, pace):
    """Python's own `round` of the exact fraction, a half to the even number."""
    assert ms_at(mm, pace) == round(mm * pace / 1000)
    assert mm_in(mm, pace) == round(mm * 1000 / pace)


def test_halves_go_to_the_even_number():
    # 5 mm at 100 s a km are 0.5 ms, 15 mm are 1.5; 1 ms at 2000 s a km is half a millimetre, 3 ms one and a half.
    assert (ms_at(5, Fraction(100)), ms_at(15, Fraction(100))) == (0, 2)
    assert (mm_in(1, Fraction(2000)), mm_in(3, Fraction(2000))) == (0, 2)
