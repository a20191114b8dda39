"""Distance and time, and how much of each is hard: every amount from a low to a high end.

What the coach wrote is exact; what only a pace can tell is a range, from the fast end of the pace to the slow end.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from plans.training.speeds import Speed
from plans.training.steps import Extent

WHOLE: Final = Fraction(1)


@dataclass(frozen=True, slots=True)
class Sums:
    """Amounts in mm and ms, low and high ends, and how much of each is hard."""

    mm: tuple[int, int] = (0, 0)
    ms: tuple[int, int] = (0, 0)
    hard_mm: tuple[int, int] = (0, 0)
    hard_ms: tuple[int, int] = (0, 0)

    def __add__(self, other: Sums) -> Sums:
        return Sums(
            (self.mm[0] + other.mm[0], self.mm[1] + other.mm[1]),
            (self.ms[0] + other.ms[0], self.ms[1] + other.ms[1]),
            (self.hard_mm[0] + other.hard_mm[0], self.hard_mm[1] + other.hard_mm[1]),
            (self.hard_ms[0] + other.hard_ms[0], self.hard_ms[1] + other.hard_ms[1]),
        )

    def times(self, low: int, high: int) -> Sums:
        return Sums(
            (self.mm[0] * low, self.mm[1] * high),
            (self.ms[0] * low, self.ms[1] * high),
            (self.hard_mm[0] * low, self.hard_mm[1] * high),
            (self.hard_ms[0] * low, self.hard_ms[1] * high),
        )

    def hardened(self, share: Fraction = WHOLE) -> Sums:
        if share is WHOLE:
            return Sums(self.mm, self.ms, self.mm, self.ms)
        mm = (round(self.mm[0] * share), round(self.mm[1] * share))
        return Sums(self.mm, self.ms, mm, (round(self.ms[0] * share), round(self.ms[1] * share)))


def sum_all(parts: Iterable[Sums]) -> Sums:
    total = Sums()
    for sums in parts:
        total += sums
    return total


def covered(extent: Extent, speed: Speed | None) -> Sums:
    """Distance and time of an amount at a speed; None is standing still."""
    if extent.is_distance:
        if speed is None:
            return Sums()
        return Sums(
            (extent.low, extent.high), (ms_at(extent.low, speed.fast), ms_at(extent.high, speed.slow))
        )
    ms = (extent.low * 1000, extent.high * 1000)
    if speed is None:
        return Sums((0, 0), ms)
    return Sums((mm_in(ms[0], speed.slow), mm_in(ms[1], speed.fast)), ms)


def ms_at(mm: int, s_per_km: Fraction) -> int:
    """Milliseconds for a distance at a pace: integers all the way, a hundred of these make one schedule."""
    return _nearest(mm * s_per_km.numerator, 1000 * s_per_km.denominator)


def mm_in(ms: int, s_per_km: Fraction) -> int:
    """The distance that a pace covers in so many milliseconds."""
    return _nearest(ms * 1000 * s_per_km.denominator, s_per_km.numerator)


def _nearest(over: int, under: int) -> int:
    """The quotient as a whole number, a half to the even one, as `round` does it for a Fraction."""
    whole, rest = divmod(over, under)
    up = 2 * rest > under or (2 * rest == under and whole % 2 == 1)
    return whole + 1 if up else whole


def for_ms(ms: int, speed: Speed | None) -> Sums:
    return covered(Extent(ms // 1000, ms // 1000, "s"), speed)
