import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.running.gradient import cost_ratio, flat_distance, flat_pace, pace_on, time_factor
from athletes.running.units import Distance, Duration, Pace, UnitError, show_pace

KM = Distance.from_km(1)


def test_level_is_exactly_neutral():
    pace = Pace.from_s_per_km(300)
    assert time_factor(0) == 1
    assert pace_on(pace, 0) == pace
    assert flat_distance([(KM, 0), (KM, 0)]).mm == 2_000_000


def test_uphill_is_as_published():
    assert show_pace(pace_on(Pace.from_s_per_km(300), 0.05), "km") == "6:30/km"


def test_downhill_gives_half_of_the_published_gain():
    # -5 %: published 0.7628, so 1 - 0.2372 / 2 = 0.8814, 4:24.
    assert time_factor(-0.05) == pytest.approx(0.8814, abs=5e-5)
    assert show_pace(pace_on(Pace.from_s_per_km(300), -0.05), "km") == "4:24/km"


def test_steeper_downhill_gives_no_more():
    assert time_factor(-0.10) == time_factor(-0.40) == time_factor(-0.05)


@pytest.mark.parametrize(("steep", "limit"), [(0.6, 0.45), (5.0, 0.45)])
def test_clamped_at_45_percent(steep, limit):
    assert cost_ratio(steep) == cost_ratio(limit)
    assert cost_ratio(-steep) == cost_ratio(-limit)


def test_a_hilly_run_was_worth_more_than_its_pace():
    # 5 km up at 4 % and 5 km down in 55:00 (5:30/km): by hand 4.4512 and 2.8968 J/kg/m, factors
    # 1.23646 and, damped, 0.90233: 10.6940 km, 5:09.
    five = Distance.from_km(5)
    rise = 200_000
    assert flat_distance([(five, rise), (five, -rise)]).mm == pytest.approx(10_694_000, abs=500)
    assert show_pace(flat_pace([(five, rise), (five, -rise)], Duration.from_min(55)), "km") == "5:09/km"


def test_nothing_has_no_pace():
    with pytest.raises(UnitError, match="above zero"):
        flat_pace([], Duration(1000))


@given(st.floats(-1, 1), st.floats(0, 0.1))
def test_steeper_up_is_never_easier(gradient, more):
    assert time_factor(gradient + more) >= time_factor(gradient) - 1e-12


@given(st.floats(0, 0.45))
def test_out_and_back_over_a_hill_never_pays(gradient):
    assert time_factor(gradient) + time_factor(-gradient) >= 2
