import datetime
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.running.performance import (
    Result,
    ResultError,
    aerobic_capacity,
    capacity_of,
    distance_name,
    own_exponent,
    oxygen_cost,
    riegel_time,
    speed_at_cost,
    time_at_capacity,
)
from athletes.running.units import FIVE_K, HALF_MARATHON, MARATHON, TEN_K, Distance, Duration, parse_duration
from tests.running.strategies import race_distances, results


class TestResult:
    @pytest.mark.parametrize(
        ("distance", "clock", "sentence"),
        [
            (MARATHON, "1:50:00", "marathon in 1:50:00 is faster than anyone has run."),
            (FIVE_K, "9:00:00", "5K in 9:00:00 is slower than walking (15:00 per km)"),
            (MARATHON, "3:45", "marathon in 3:45 is faster than anyone has run. For hours write 3:45:00."),
            (FIVE_K, "12:00", "5K in 12:00 is faster than anyone has run."),
            (Distance.from_m(800), "2:00", "Paces come from races of 1 to 50 km, and 800 m was given."),
            (Distance.from_km(100), "9:00:00", "and 100 km was given."),
        ],
    )
    def test_refuses_the_absurd_in_a_sentence(self, distance, clock, sentence):
        with pytest.raises(ResultError) as error:
            Result(distance, parse_duration(clock))
        assert sentence in str(error.value)

    def test_refuses_no_time(self):
        with pytest.raises(ResultError, match="above zero"):
            Result(FIVE_K, Duration(0))

    def test_is_told_with_its_day(self):
        result = Result(TEN_K, parse_duration("40:00"), datetime.date(2026, 3, 1))
        assert result.told() == "10K in 40:00 on 1 March 2026"

    def test_names(self):
        assert distance_name(HALF_MARATHON) == "half-marathon"
        assert distance_name(Distance.from_km(15), "mi") == "9.32 mi"


@given(st.floats(5, 110))
def test_speed_solves_the_cost(uptake):
    assert oxygen_cost(speed_at_cost(uptake)) == pytest.approx(uptake, abs=1e-9)


@given(results(), race_distances)
def test_equivalence_there_and_back_within_a_second(result, distance):
    there = time_at_capacity(capacity_of(result), distance)
    back = time_at_capacity(aerobic_capacity(distance, there), result.distance)
    assert abs(back.ms - result.duration.ms) <= 1000


@given(results(), race_distances)
def test_power_law_there_and_back_within_a_second(result, distance):
    there = round(result.duration.ms * (distance.mm / result.distance.mm) ** 1.06)
    assert riegel_time(result, distance).ms == there
    exact = there * (result.distance.mm / distance.mm) ** 1.06
    assert abs(exact - result.duration.ms) <= 1000


@given(st.floats(12, 87), race_distances, race_distances)
def test_a_longer_distance_is_never_faster(capacity, one, other):
    shorter, longer = sorted((one, other))
    fast, slow = time_at_capacity(capacity, shorter), time_at_capacity(capacity, longer)
    assert fast.ms * longer.mm <= slow.ms * shorter.mm


@given(st.floats(12, 86), st.floats(0.01, 1), race_distances)
def test_more_capacity_is_faster(capacity, more, distance):
    assert time_at_capacity(capacity + more, distance) < time_at_capacity(capacity, distance)


def test_solver_settles_at_the_ends_of_its_range():
    for capacity in (6, 100):
        for km in (Fraction(4, 5), 100):
            distance = Distance.from_km(km)
            time = time_at_capacity(capacity, distance)
            assert aerobic_capacity(distance, time) == pytest.approx(capacity, abs=0.001)


@pytest.mark.long
@given(st.floats(8, 90), st.integers(1_000_000, 50_000_000).map(Distance))
def test_solver_is_right_to_a_millisecond_everywhere(capacity, distance):
    time = time_at_capacity(capacity, distance)
    assert aerobic_capacity(distance, Duration(time.ms - 1)) >= capacity - 1e-9
    assert aerobic_capacity(distance, Duration(time.ms + 1)) <= capacity + 1e-9


def test_an_exponent_needs_two_distances():
    five = Result(FIVE_K, parse_duration("20:00"))
    with pytest.raises(ResultError, match="longer distance"):
        own_exponent(five, five)
