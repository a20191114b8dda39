"""Session-RPE, spikes and ratios against their sources (sources.md, 6 to 8)."""

import pytest

from athletes.running.load import SPIKE_RATES, rolling_ratio, session_load, spike, week_load, weighted_ratio
from athletes.running.units import Distance, Duration


@pytest.mark.parametrize(("effort", "minutes", "load"), [(7, 60, 420), (3, 30, 90)])
def test_session_load(effort, minutes, load):
    # Foster C, et al. J Strength Cond Res 2001;15(1):109-115. [seen] arithmetic.
    assert session_load(effort, Duration.from_min(minutes)) == load


def test_week():
    # [own] numbers; that monotony is mean divided by deviation is [seen], sample deviation our choice.
    week = week_load([0, 180, 420, 180, 420, 0, 600])
    assert week.total == 1800
    assert week.monotony == pytest.approx(1.1227, abs=5e-5)
    assert week.strain == pytest.approx(2020.90, abs=0.005)


def test_week_of_one_load_or_with_an_unknown_day_has_no_monotony():
    # Foster [seen]: mean over deviation, a rest day 0. That neither a deviation of 0 nor an unknown day gives a
    # ratio is [own].
    assert week_load([60] * 7).monotony is None
    assert week_load([0, 180, 420, None, 420, 0, 600]).monotony is None
    assert week_load([0, 180, 420, 0, 420, 0, 600]).monotony is not None


@pytest.mark.parametrize(
    ("km", "expected"),
    [
        (12.0, "reference"), (22.0, "reference"), (22.1, "small"), (26.0, "small"),
        (26.1, "moderate"), (40.0, "moderate"), (40.1, "large"),
    ],
)  # fmt: skip
def test_spike_classes(km, expected):
    # Frandsen JSB, et al. Br J Sports Med 2025;59(17):1203-1210: definitions [seen], rows [own], longest 20 km.
    assert spike(Distance.from_km(km), Distance.from_km(20)) == expected


def test_spike_rates():
    # Same source [seen]: 64, 52 and 128 % higher, with intervals.
    assert SPIKE_RATES == {
        "small": (1.64, 1.31, 2.05),
        "moderate": (1.52, 1.16, 2.00),
        "large": (2.28, 1.50, 3.48),
    }


def test_rolling_ratio():
    # Definitions [seen]: 7 days over 28, or over the 21 before; by hand 80 / 57.5 = 1.3913 and 80 / 50 = 1.6.
    days = [50] * 21 + [80] * 7
    assert rolling_ratio(days) == pytest.approx(1.3913, abs=5e-5)
    assert rolling_ratio(days, coupled=False) == pytest.approx(1.6, abs=1e-12)


def test_weighting():
    # Williams S, et al. Br J Sports Med 2017;51(3):209-210 [seen]: lambda = 2/(N + 1), 0.25 and 2/29 [own].
    # 27 days of 0, then one of 100: the two means are 25 and 200/29, whose ratio is 3.625.
    assert weighted_ratio([0] * 27 + [100]) == pytest.approx(3.625, abs=1e-12)


def test_weighting_tells_apart_what_rolling_means_do_not():
    # Same source [seen]: three athletes with one rolling ratio (1.43) had 1.25, 1.41 and 1.55. Their daily
    # loads weren't reachable; ours have one rolling ratio, and the weighted one rises as the load comes later.
    base = [50] * 21
    early, even, late = (base + week for week in ([150, 100, 100, 50, 50, 50, 50], [550 / 7] * 7,
                                                  [50, 50, 50, 50, 100, 100, 150]))  # fmt: skip
    assert weighted_ratio(early) < weighted_ratio(even) < weighted_ratio(late)
