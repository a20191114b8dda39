"""Sessions made definite, smaller, easier: before and after as a coach would write them on a board."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plans.training.easing import eased
from plans.training.intensity import ABOVE_EASY, has_hard, role_of
from plans.training.levels import at_level, resolved
from plans.training.measuring import measure
from plans.training.shorthand import parse, write
from plans.training.sizing import resized, scaled, written_in
from plans.training.steps import Extent, Repeats, Step, leaves
from tests.training.session_cards import exact_card
from tests.training.session_trees import sessions

KM, MILE = 1_000_000, 1_609_344


@pytest.mark.parametrize(
    ("text", "eighty", "sixty"),
    [
        ("6 x 3 min @ 10K, 2 min jog", "4 x 3 min @ 10K, 2 min jog", "3 x 3 min @ 10K, 2 min jog"),
        ("10 x 400 m @ 5K, 200 m jog", "8 x 400 m @ 5K, 200 m jog", "6 x 400 m @ 5K, 200 m jog"),
        ("4-5 x 1 km @ 10K, 2 min jog", "3-4 x 1 km @ 10K, 2 min jog", "2-3 x 1 km @ 10K, 2 min jog"),
        (
            "2 x (4 x 400 m @ 5K, 200 m jog), 3 min rest",
            "2 x (3 x 400 m @ 5K, 200 m jog), 3 min rest",
            "2 x (2 x 400 m @ 5K, 200 m jog), 3 min rest",
        ),
        ("2-4-6-4-2 min @ 10K, equal jog", "2-4-4-2 min @ 10K, equal jog", "2-4-2 min @ 10K, equal jog"),
        ("30 min tempo @ HM", "24 min tempo @ HM", "18 min tempo @ HM"),
        ("2 x 15 min @ HM, 4 min jog", "2 x 12 min @ HM, 4 min jog", "2 x 9 min @ HM, 4 min jog"),
        ("8 km @ MP", "6 km @ MP", "4.5 km @ MP"),
        ("12 km with last 4 km @ MP", "11 km with last 3 km @ MP", "10 km with last 2 km @ MP"),
        (
            "15 min easy; drills; 5 x 800 m @ 5K, 90 s jog; 10 min easy",
            "15 min easy; drills; 4 x 800 m @ 5K, 90 s jog; 10 min easy",
            "15 min easy; drills; 3 x 800 m @ 5K, 90 s jog; 10 min easy",
        ),
        ("1 x 10 min @ HM", "1 x 8 min @ HM", "1 x 6 min @ HM"),
        ("8 km easy + 6 strides", "8 km easy + 6 strides", "8 km easy + 6 strides"),
        ("race 10 km", "race 10 km", "race 10 km"),
    ],
)
def test_levels_are_whole(text, eighty, sixty):
    session = parse(text)
    assert write(at_level(session, Fraction(4, 5))) == eighty
    assert write(at_level(session, Fraction(3, 5))) == sixty
    assert at_level(session, Fraction(1)) == session


@pytest.mark.parametrize(
    ("text", "easy"),
    [
        ("6 x 3 min @ 10K, 2 min jog", "28 min easy"),
        ("15 min easy; 20 min tempo; 10 min easy", "45 min easy"),
        ("10 km with last 3 km @ MP", "10 km easy"),
        ("long run 22 km with last 8 km @ MP", "long run 22 km"),
        ("long run 22 km, steady last 20 min", "long run 22 km"),
        ("8 km easy + 6 strides", "8 km easy"),
        ("8 km easy with 6 strides", "8 km easy"),
        ("8 x 30 s hill, jog back", "7 min easy"),
        ("4 x 1 km @ 10K, 400 m jog", "5.2 km easy"),
        ("10 x (1 min hard, 1 min walk)", "10 min easy"),
        ("2-4-2 min @ 10K, 2 min walk", "8 min easy"),
        ("30 km @ 5:00/km", "30 km easy"),
        ("race 10 km", "10 km easy"),
        ("6 strides", "20 min easy"),
        ("free: as you feel = 50 min, 15 min hard", "50 min easy"),
        ("8 x (4 min easy, 1 min walk)", "8 x (4 min easy, 1 min walk)"),
        ("5 km easy; strength 20 min", "5 km easy; strength 20 min"),
    ],
)
def test_eased(text, easy):
    assert write(eased(parse(text))) == easy


@pytest.mark.parametrize(
    ("text", "total", "expected"),
    [
        ("8-10 km easy + 6 strides", {"mm": 6 * KM}, "6 km easy + 6 strides"),
        ("long run 26 km", {"mm": 14 * KM}, "long run 14 km"),
        ("long run 22 km with last 8 km @ MP", {"mm": 14 * KM}, "long run 14 km with last 5 km @ MP"),
        ("30 km with 3 x 5 km @ MP, 1 km easy", {"mm": 20 * KM}, "20 km with 2 x 5 km @ MP, 1 km easy"),
        ("long run 2 h 15", {"s": 5400}, "long run 1 h 30 min"),
        ("long run 2 h 15", {"s": 2700}, "long run 45 min"),
        ("5 mi easy", {"mm": 7 * MILE // 2}, "3.5 mi easy"),
        ("8 x (4 min easy, 1 min walk)", {"s": 1800}, "6 x (4 min easy, 1 min walk)"),
        ("5 min walk; 8 x (4 min easy, 1 min walk)", {"s": 1800}, "5 min walk; 5 x (4 min easy, 1 min walk)"),
        ("2 km easy; long run 18 km", {"mm": 15 * KM}, "2 km easy; long run 13 km"),
        ("30 min tempo", {"s": 2400}, "30 min tempo"),
        ("4.8 km easy; 32 min easy", {"mm": 8 * KM}, "8 km easy"),
        ("45 min easy", {"mm": 8 * KM}, "8 km easy"),
    ],
)
def test_resized(text, total, expected):
    assert write(resized(parse(text), **total)) == expected


@pytest.mark.parametrize("total", [{}, {"mm": 1, "s": 1}, {"mm": 0}, {"s": -60}])
def test_a_total_is_one_amount_above_zero(total):
    with pytest.raises(ValueError):
        resized(parse("8 km easy"), **total)


@pytest.mark.parametrize(
    ("text", "low", "middle", "high"),
    [
        ("8-10 km easy", "8 km easy", "9 km easy", "10 km easy"),
        ("26-29 km easy", "26 km easy", "28 km easy", "29 km easy"),
        ("2 x 12-18 min @ HM, 4-5 min jog", "2 x 12 min @ HM, 4 min jog", "2 x 15 min @ HM, 5 min jog",
         "2 x 18 min @ HM, 5 min jog"),
        ("4-7 x 1 km @ 10K", "4 x 1 km @ 10K", "6 x 1 km @ 10K", "7 x 1 km @ 10K"),
        ("5-6 mi easy", "5 mi easy", "5.5 mi easy", "6 mi easy"),
        ("strength 20-30 min", "strength 20 min", "strength 25 min", "strength 30 min"),
        ("8 km @ effort 3-4", "8 km @ effort 3-4", "8 km @ effort 3-4", "8 km @ effort 3-4"),
    ],
)  # fmt: skip
def test_resolved(text, low, middle, high):
    session = parse(text)
    found = [write(resolved(session, Fraction(at, 2))) for at in (0, 1, 2)]
    assert found == [low, middle, high]


@pytest.mark.parametrize(
    ("text", "factor", "units", "expected"),
    [
        ("8-10 km easy", Fraction(6, 5), "km", "10-12 km easy"),
        ("45 min easy", Fraction(4, 5), "km", "35 min easy"),
        ("long run 20 km", Fraction(1, 2), "mi", "long run 6 mi"),
        ("long run 5 mi", Fraction(9, 10), "mi", "long run 4.5 mi"),
        ("long run 22 km with last 8 km @ MP", Fraction(1, 2), "km", "long run 11 km with last 4 km @ MP"),
        ("long run 22 km with last 8 km @ MP", Fraction(6, 5), "km", "long run 26 km with last 8 km @ MP"),
        ("1 km easy", Fraction(1, 10), "km", "1 km easy"),
        ("8 x (4 min easy, 1 min walk)", Fraction(3, 4), "km", "6 x (4 min easy, 1 min walk)"),
        ("6 x 3 min @ 10K, 2 min jog", Fraction(1, 2), "km", "6 x 3 min @ 10K, 2 min jog"),
    ],
)
def test_scaled(text, factor, units, expected):
    assert write(scaled(parse(text), factor, units)) == expected


def test_written_in():
    assert written_in(parse("45 min easy + 6 x 80 m strides")) == "s"
    assert written_in(parse("15 min easy; 6 x 800 m @ 5K, 90 s jog")) == "mm"
    assert written_in(parse("long run 20 km with last 20 min steady")) == "mm"


levels = st.sampled_from((Fraction(4, 5), Fraction(3, 5), Fraction(1, 3)))


class TestAlways:
    """The laws of levels.py, easing.py and sizing.py."""

    @given(sessions, levels)
    @settings(max_examples=200, deadline=None)
    def test_a_level_is_never_more_and_reads_back(self, session, level):
        less = at_level(session, level)
        before, after = measure(session, exact_card), measure(less, exact_card)
        assert after.hard_s[0] <= before.hard_s[0] + 1
        assert after.hard_mm[1] <= before.hard_mm[1] + 1
        # Not the time: the same distance with less of it fast takes longer.
        assert after.total_mm[1] <= before.total_mm[1] + 1
        if len(write(less)) <= 400:
            assert parse(write(less)) == less

    @given(sessions)
    @settings(max_examples=200, deadline=None)
    def test_eased_has_nothing_above_easy(self, session):
        easy = eased(session)
        assert not any(has_hard(part, limit=ABOVE_EASY) for part in easy.parts)
        assert measure(easy, exact_card).hard_s == (0, 0)
        assert eased(easy) == easy
        strides = [
            leaf
            for part in easy.parts
            for leaf in leaves(part)
            if isinstance(leaf, Step) and "strides" in leaf.manners
        ]
        assert strides == []

    @given(sessions, st.integers(0, 10))
    @settings(max_examples=200, deadline=None)
    def test_resolved_lies_within_and_has_no_range(self, session, tenths):
        one = resolved(session, Fraction(tenths, 10))
        for part in one.parts:
            for leaf in (part, *leaves(part)):
                extent = getattr(leaf, "extent", None)
                assert not isinstance(extent, Extent) or extent.low == extent.high
                assert not isinstance(leaf, Repeats) or leaf.low == leaf.high
        whole, inside = measure(session, exact_card), measure(one, exact_card)
        if not any(type(part).__name__ in ("RunWith", "Progression", "Race") for part in session.parts):
            assert whole.total_s[0] - 5 <= inside.total_s[0] <= whole.total_s[1] + 5
        assert resolved(one, Fraction(1, 2)) == one

    @given(st.integers(3, 60), st.integers(3, 60))
    def test_a_plain_run_gets_exactly_its_total(self, before, after):
        session = resized(parse(f"{before} km easy + 4 strides"), mm=after * KM)
        assert measure(session, exact_card).total_mm == (after * KM, after * KM)

    @given(sessions, st.integers(5, 40))
    @settings(max_examples=200, deadline=None)
    def test_a_new_size_is_never_harder(self, session, km):
        if role_of(session) not in ("long", "easy") or written_in(session) != "mm":
            return
        smaller = resized(session, mm=km * KM)
        assert measure(smaller, exact_card).hard_mm[1] <= measure(session, exact_card).hard_mm[1] + 1
