"""Distance and time, and how much of each is hard: every amount from a low to a high end.

What the coach wrote is exact; what only a pace can tell is a range, from the fast end of the pace to the slow end.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from plans.training.speeds import Speed
from plans.training.steps import Extent


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

    def hardened(self, share: Fraction = Fraction(1)) -> Sums:
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
        ms = (round(extent.low * speed.fast / 1000), round(extent.high * speed.slow / 1000))
        return Sums((extent.low, extent.high), ms)
    ms = (extent.low * 1000, extent.high * 1000)
    if speed is None:
        return Sums((0, 0), ms)
    return Sums((round(ms[0] * 1000 / speed.slow), round(ms[1] * 1000 / speed.fast)), ms)


def for_ms(ms: int, speed: Speed | None) -> Sums:
    return covered(Extent(ms // 1000, ms // 1000, "s"), speed)
