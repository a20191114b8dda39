"""A session's amounts in the athlete's units."""

import pytest

from plans.training.converting import in_units
from plans.training.shorthand import parse
from plans.training.sizing import resized
from plans.training.writing import write

MILE = 1_609_344


@pytest.mark.parametrize(
    ("text", "units", "told"),
    [
        # 7 mi is 11.265408 km exactly (a mile is 1,609.344 m, international yard and pound agreement of 1959).
        ("11.265408 km easy", "mi", "7 mi easy"),
        ("8 km easy", "mi", "8 km easy"),
        ("6.437376 km easy", "mi", "4 mi easy"),
        ("5 mi easy", "mi", "5 mi easy"),
        ("5 mi easy", "km", "5 mi easy"),
        ("6 x 800 m @ 5K, 400 m jog", "mi", "6 x 800 m @ 5K, 400 m jog"),
        ("50 min easy", "mi", "50 min easy"),
        ("race 10 km", "mi", "race 10 km"),
    ],
)
def test_what_reads_plainly_stays_what_does_not_is_told_in_the_athletes_units(text, units, told):
    assert in_units(parse(text), units) == parse(told)


def test_a_run_cut_to_seven_miles_reads_seven_miles():
    cut = resized(parse("long run 16 km"), mm=7 * MILE)
    assert write(in_units(cut, "mi")) == "long run 7 mi"


def test_what_is_left_beside_a_warm_up_comes_to_the_nearest_tenth():
    # 7 mi less 2 km are 9.265408 km, 5.757 mi.
    cut = resized(parse("2 km warm-up; 12 km easy"), mm=7 * MILE)
    assert write(in_units(cut, "mi")) == write(parse("2 km warm-up; 5.8 mi easy"))


def test_inside_a_run_too():
    cut = resized(parse("long run 20 km with last 4 km @ MP"), mm=10 * MILE)
    told = write(in_units(cut, "mi"))
    assert told.startswith("long run 10 mi")
    assert all(len(word) < 6 for word in told.split() if word[0].isdigit())
