"""Heart rate against its sources (sources.md, 13)."""

import pytest

from athletes.running.heart_rate import at_reserve, estimated_maximum


@pytest.mark.parametrize(("age", "rate"), [(20, 194), (30, 187), (40, 180), (50, 173), (60, 166)])
def test_estimated_maximum(age, rate):
    # Tanaka H, et al. J Am Coll Cardiol 2001;37(1):153-156: 208 - 0.7 age [seen; citation memory].
    assert estimated_maximum(age) == rate


def test_worked_example():
    # Karvonen's reserve, 60 % between 60 and 200 beats: 84 + 60 = 144 [seen].
    assert at_reserve(60, 60, 200) == 144


@pytest.mark.parametrize(
    ("percent", "resting", "maximum", "rate"),
    [(30, 60, 200, 102), (40, 60, 200, 116), (90, 60, 200, 186), (60, 50, 185, 131)],
)
def test_reserve(percent, resting, maximum, rate):
    # [own]
    assert at_reserve(percent, resting, maximum) == rate
