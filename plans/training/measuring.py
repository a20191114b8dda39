"""What a session comes to for one athlete: total and hard distance and time, each from a low to a high end.

Law of this file: strides after a run in the same session are done within it and add nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.training.steps import Session
from plans.training.summing import sums_of
from plans.training.sums import Sums
from plans.training.wording import show_rough
from plans.training.writing import is_strides


@dataclass(frozen=True, slots=True)
class Measure:
    """Total and hard amounts of a session, whole mm and s, each (low, high)."""

    total_mm: tuple[int, int]
    total_s: tuple[int, int]
    hard_mm: tuple[int, int]
    hard_s: tuple[int, int]
    units: Units = "km"

    @property
    def distance_text(self) -> str:
        """`12–12.6 km`, in the athlete's units; empty without running."""
        low, high = (show_rough(mm, self.units) for mm in self.total_mm)
        return _between(low, high) if self.total_mm[1] else ""

    @property
    def time_text(self) -> str:
        """`1:02–1:10 h` or `34 min`, to the minute; empty for a day of rest."""
        low, high = (show_minutes(s) for s in self.total_s)
        return _between(low, high) if self.total_s[1] else ""


def _rounded(value: int, step: int) -> int:
    return (value + step // 2) // step * step


def show_minutes(seconds: int) -> str:
    """`45 min`, `1:05 h`: to the minute, at least one."""
    minutes = max(1, _rounded(seconds, 60) // 60)
    return f"{minutes} min" if minutes < 100 else f"{minutes // 60}:{minutes % 60:02d} h"


def _between(low: str, high: str) -> str:
    """Two amounts as one range; the unit once where it is the same."""
    if low == high:
        return low
    number, _, unit = low.partition(" ")
    return f"{number}–{high}" if unit and high.endswith(f" {unit}") else f"{low} – {high}"


def measure(session: Session, card: PaceCard, units: Units = "km") -> Measure:
    """What the session comes to at the card's paces. `units` are the athlete's, for the texts only."""
    total = Sums()
    run_before = False
    for part in session.parts:
        if is_strides(part) and run_before:
            continue
        sums = sums_of(part, card)
        total += sums
        run_before = run_before or sums.mm[1] > 0
    return Measure(total.mm, _seconds(total.ms), total.hard_mm, _seconds(total.hard_ms), units)


def _seconds(ms: tuple[int, int]) -> tuple[int, int]:
    return (ms[0] + 500) // 1000, (ms[1] + 500) // 1000
