"""What an athlete reads: titles and lines, in plain words and the athlete's own paces and units."""

import re

import pytest
from hypothesis import given, settings

from plans.training.describing import lines
from plans.training.shorthand import parse
from plans.training.titles import title
from tests.training.session_cards import exact_card, no_goal_card, wide_card
from tests.training.session_trees import sessions


@pytest.mark.parametrize(
    ("text", "km", "mi"),
    [
        ("rest", "Rest", "Rest"),
        ("6 x 3 min @ 10K, 2 min jog", "6 × 3 min at 10K pace", "6 × 3 min at 10K pace"),
        ("long run 22 km", "Long run 22 km", "Long run 13.7 mi"),
        ("long run 12 mi", "Long run 19.3 km", "Long run 12 mi"),
        ("long 2 h 15 easy", "Long run 2 h 15 min", "Long run 2 h 15 min"),
        ("8 km easy + 6 strides", "8 km easy + 6 strides", "5 mi easy + 6 strides"),
        ("15 min easy; drills; 6 x 800 m @ 10K-5K, 90 s jog; 10 min easy",
         "6 × 800 m between 10K and 5K pace", "6 × 800 m between 10K and 5K pace"),
        ("12 km with last 4 km @ MP", "12 km, last 4 km at marathon pace", "7.5 mi, last 2.5 mi at marathon pace"),
        ("400-800-1200-800-400 @ 5K", "Ladder 400-800-1200-800-400 m at 5K pace",
         "Ladder 400-800-1200-800-400 m at 5K pace"),
        ("8x30s hill, jog back", "8 × 30 s uphill", "8 × 30 s uphill"),
        ("race half marathon", "Race half marathon", "Race half marathon"),
        ("race 15 km", "Race 15 km", "Race 9.3 mi"),
        ("cross-train 45 min bike", "Bike 45 min", "Bike 45 min"),
        ("strength 30 min", "Strength 30 min", "Strength 30 min"),
        ("8 x (4 min easy, 1 min walk)", "8 × (4 min easy, 1 min walk)", "8 × (4 min easy, 1 min walk)"),
        ("free: as you feel = 60 min", "As you feel", "As you feel"),
        ("5 km @ 4:30/km", "5 km at 4:30/km", "3.1 mi at 7:15/mi"),
        ("25-30 min easy", "25–30 min easy", "25–30 min easy"),
    ],
)  # fmt: skip
def test_titles(text, km, mi):
    session = parse(text)
    assert (title(session, "km"), title(session, "mi")) == (km, mi)


def rows(text, card=wide_card, units="km"):
    return [(line.amount, line.words, line.pace, line.split) for line in lines(parse(text), card, units)]


def test_a_whole_line_reads_from_warm_up_to_cool_down():
    assert rows("15 min easy; drills; 6 x 800 m @ 10K, 90 s jog; 10 min easy") == [
        ("15 min", "Easy, warm-up", "5:40–6:20/km", ""),
        ("", "Running drills", "", ""),
        ("6 × 800 m", "At 10K pace", "4:06–4:14/km", "3:17–3:23"),
        ("90 s", "Jog between", "", ""),
        ("10 min", "Easy, cool-down", "5:40–6:20/km", ""),
    ]


def test_an_easy_day_has_no_warm_up():
    assert rows("8 km easy + 6 strides") == [
        ("8 km", "Easy", "5:40–6:20/km", ""),
        (
            "6 × about 20 s",
            "Strides: quick and relaxed, never a sprint; walk or jog back until you are ready",
            "",
            "",
        ),
    ]


def test_paces_in_miles():
    # 340 and 380 s/km times 1.609344
    assert rows("5 mi easy", units="mi") == [("5 mi", "Easy", "9:07–10:12/mi", "")]


def test_sets_are_indented_and_counted():
    said = lines(parse("2 x (4 x 400 m @ 5K, 200 m jog), 3 min rest"), exact_card, "km")
    assert [(x.indent, x.amount, x.words, x.times, x.heading, x.recovery) for x in said] == [
        (0, "2 ×", "Repeat", 1, True, False),
        (1, "4 × 400 m", "At 5K pace", 8, False, False),
        (1, "200 m", "Jog between", 6, False, True),
        (0, "3 min", "Stand or walk about between", 1, False, True),
    ]


def test_a_ladder_has_a_line_for_each_piece():
    said = rows("ladder 2-4-2 min @ 10K, equal jog", exact_card)
    assert said == [
        ("2-4-2 min", "Ladder", "", ""),
        ("2 min", "At 10K pace", "4:10/km", ""),
        ("2 min", "Jog between, as long as the piece before", "", ""),
        ("4 min", "At 10K pace", "4:10/km", ""),
        ("4 min", "Jog between, as long as the piece before", "", ""),
        ("2 min", "At 10K pace", "4:10/km", ""),
    ]


def test_a_long_run_with_a_fast_end():
    assert rows("long run 26 km with last 8 km @ MP") == [
        ("26 km", "Long run, easy until the last part", "5:40–6:20/km", ""),
        ("last 8 km", "At marathon pace", "4:54–5:06/km", ""),
    ]


def test_a_progression_says_how():
    assert rows("5 km, start at MP, -8 s/km every km", exact_card) == [
        ("5 km", "Start at marathon pace, then 8 s/km faster after every km", "from 5:00/km", "")
    ]


def test_a_recovery_nobody_wrote_is_said_to_be_free():
    assert rows("6 x 1 km @ 10K", exact_card)[1] == (
        "",
        "Jog between until you are ready, about 90 s",
        "",
        "",
    )


def test_goal_pace_without_a_goal_is_said_not_to_be_set():
    assert rows("5 km @ goal", no_goal_card) == [("5 km", "At goal pace", "not set yet", "")]


def test_efforts_and_heart_rates_have_no_pace():
    assert rows("20 min @ effort 6-7") == [("20 min", "At effort 6–7 of 10", "", "")]
    assert rows("40 min easy @ 140-150 bpm") == [("40 min", "Easy, at 140–150 beats a minute", "", "")]


def test_the_coachs_note_comes_last():
    assert rows("8 km easy; note: on grass")[-1] == ("", "Note: on grass", "", "")


def test_once_inside_a_run_is_not_counted():
    assert rows("16 km with 10 km @ MP", exact_card) == [
        ("16 km", "Easy, before and after what is inside", "6:00/km", ""),
        ("10 km", "At marathon pace", "5:00/km", ""),
    ]


def test_rest_has_a_line():
    assert rows("rest") == [("", "Rest: no training today", "", "")]


class TestAlways:
    @given(sessions)
    @settings(max_examples=150, deadline=None)
    def test_every_line_says_something_in_words(self, session):
        for units in ("km", "mi"):
            for line in lines(session, wide_card, units):
                assert line.words
                assert 0 <= line.effort <= 10
                assert 0 <= line.seconds[0] <= line.seconds[1]
                assert not re.search(r"[@<>{}_]|None", line.words + line.amount)
            assert title(session, units)

    @given(sessions)
    @settings(max_examples=100, deadline=None)
    def test_paces_are_in_the_athletes_unit(self, session):
        for line in lines(session, wide_card, "mi"):
            assert "/km" not in line.pace
