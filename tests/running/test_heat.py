import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.running.heat import (
    FLAGS,
    WBGT_LIMITS,
    HeatError,
    estimate_wbgt,
    flag_at,
    slowed,
    slowing_percent,
)
from athletes.running.units import Duration


def test_estimate_says_its_limits():
    assert "cloud" in WBGT_LIMITS
    assert "°C off" in WBGT_LIMITS


@pytest.mark.parametrize(
    ("air", "humidity", "sentence"),
    [
        (70, 50, "An air temperature of 70 °C was given; -20 to 50 °C is possible."),
        (20, 120, "A humidity of 120 % was given; 0 to 100 % is possible."),
        (20, -1, "A humidity of -1 %"),
    ],
)
def test_impossible_weather_is_refused(air, humidity, sentence):
    with pytest.raises(HeatError) as error:
        estimate_wbgt(air, humidity)
    assert sentence in str(error.value)


def test_impossible_wbgt_is_refused():
    with pytest.raises(HeatError, match="A WBGT of 82 °C"):
        flag_at(82)


@given(st.floats(-20, 50), st.floats(0, 100), st.floats(0, 20))
def test_damper_air_is_never_cooler(air, humidity, more):
    assert estimate_wbgt(air, min(100, humidity + more)) >= estimate_wbgt(air, humidity)


@given(st.floats(-40, 45))
def test_every_temperature_has_one_flag_that_holds_it(wbgt):
    flag = flag_at(wbgt)
    assert flag.low is None or wbgt >= flag.low
    assert flag.high is None or wbgt < flag.high or wbgt == 28


def test_flags_join_without_a_gap():
    assert [flag.low for flag in FLAGS[1:]] == [flag.high for flag in FLAGS[:-1]]


@given(st.integers(1, 30_000_000), st.floats(-20, 40))
def test_heat_never_makes_faster(ms, wbgt):
    least, most = slowed(Duration(ms), wbgt)
    assert Duration(ms) <= least <= most


def test_cold_costs_nothing_here():
    assert slowing_percent(-5) == (0, 0)
