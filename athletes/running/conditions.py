"""A range of paces on a hill or in the heat: the same effort, other figures on the watch."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from athletes.running.gradient import pace_on
from athletes.running.heat import slowing_percent
from athletes.running.paces import PaceRange
from athletes.running.units import Pace

CLIMBS: Final = (3, 6, 10, -5)  # per cent, for a page


def climbs(flat: PaceRange) -> tuple[PaceRange, ...]:
    """The range at equal effort on each of CLIMBS (`gradient.pace_on`)."""
    return tuple(
        PaceRange(pace_on(flat.fast, percent / 100), pace_on(flat.slow, percent / 100)) for percent in CLIMBS
    )


def hot_range(cool: PaceRange, wbgt: float) -> PaceRange:
    """The range at this WBGT in °C: the fast end least slowed, the slow end most (`heat.slowing_percent`)."""
    least, most = slowing_percent(wbgt)
    return PaceRange(_slowed(cool.fast, least), _slowed(cool.slow, most))


def _slowed(pace: Pace, percent: float) -> Pace:
    return Pace.from_s_per_km(pace.s_per_km * (1 + Fraction(percent) / 100))
