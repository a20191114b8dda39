from itertools import pairwise

import pytest

from athletes.running.heart_rate import HeartRange, HeartRateError, heart_ranges


def test_measured_maximum_is_used_as_it_is():
    # Reserve 200 - 60 = 140: 60 to 74 % is 84 and 103.6 above 60.
    assert heart_ranges(60, 200)["easy"] == HeartRange(144, 164, estimated=False)


def test_estimated_maximum_widens_every_range_by_ten_beats_of_maximum():
    # Age 40: 180, so 170 and 190: 60 + 60 % of 110 = 126, 60 + 74 % of 130 = 156.2.
    assert heart_ranges(60, age=40)["easy"] == HeartRange(126, 156, estimated=True)


def test_measured_comes_before_age():
    assert heart_ranges(60, 200, 40) == heart_ranges(60, 200)


def test_no_range_for_repeats():
    assert list(heart_ranges(60, 200)) == ["recovery", "easy", "MP", "HM"]


def test_ranges_rise():
    ranges = list(heart_ranges(48, 191).values())
    assert all(low.low < low.high and low.high <= high.high for low, high in pairwise(ranges))


@pytest.mark.parametrize(
    ("resting", "maximum", "age", "sentence"),
    [
        (10, 190, None, "A resting rate of 10 is unlikely: 25 to 110"),
        (60, None, None, "need a maximum rate, or an age"),
        (60, 300, None, "A maximum rate of 300 with 60 at rest is unlikely: 120 to 230"),
        (100, 130, None, "at least 40 above the resting rate"),
        (60, None, 7, "An age of 7 is outside"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(resting, maximum, age, sentence):
    with pytest.raises(HeartRateError) as error:
        heart_ranges(resting, maximum, age)
    assert sentence in str(error.value)
