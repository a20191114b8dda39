"""Running uphill and downhill: the pace of equal effort, and the flat worth of a hilly run.

Minetti AE, et al. J Appl Physiol 2002;93(3):1039-1046. DOI 10.1152/japplphysiol.01177.2001 [seen; the
polynomial seen-code, unanimous in ten]. Ten mountain runners on a treadmill, gradients of -45 to +45 %.
Gradients come from smoothed heights: raw ones from satellites overstate every hill.
"""

from collections.abc import Iterable
from fractions import Fraction
from typing import Final

from athletes.running.units import Distance, Duration, Pace

STEEPEST: Final = 0.45  # beyond it the polynomial runs away
# Our own damping: the paper itself finds real descents far slower than their energy cost allows. Half of the
# downhill gain is credited, and never more than half of what -5 % gives.
DOWNHILL_SHARE: Final = 0.5
STEEPEST_CREDIT: Final = -0.05


def energy_cost(gradient: float) -> float:
    """Energy cost of running in J/kg/m at a gradient (rise over run, 0.05 is 5 %), clamped to 45 %."""
    i = max(-STEEPEST, min(STEEPEST, gradient))
    return ((((155.4 * i - 30.4) * i - 43.3) * i + 46.3) * i + 19.5) * i + 3.6


def cost_ratio(gradient: float) -> float:
    """Energy cost against the level's, as published; the level is exactly 1."""
    return energy_cost(gradient) / energy_cost(0)


def time_factor(gradient: float) -> float:
    """Time on this gradient over time on the level at equal effort: `cost_ratio`, downhill damped."""
    if gradient >= 0:
        return cost_ratio(gradient)
    return 1 - DOWNHILL_SHARE * (1 - cost_ratio(max(gradient, STEEPEST_CREDIT)))


def pace_on(flat: Pace, gradient: float) -> Pace:
    """The pace on this gradient that is as hard as `flat` is on the level."""
    return Pace.from_s_per_km(flat.s_per_km * Fraction(time_factor(gradient)))


def flat_distance(parts: Iterable[tuple[Distance, int]]) -> Distance:
    """How far on the level is as hard as these parts: each a distance and its rise in mm (negative falls)."""
    mm = 0.0
    for distance, rise_mm in parts:
        if distance.mm:
            mm += distance.mm * time_factor(rise_mm / distance.mm)
    return Distance(round(mm))


def flat_pace(parts: Iterable[tuple[Distance, int]], duration: Duration) -> Pace:
    """The pace on the level that a hilly run in `duration` was worth: an estimate, for reading it.

    Raises UnitError for no distance or no time.
    """
    return Pace(flat_distance(parts), duration)
