"""How much an athlete may run in a week and in one go, from what was run before: the guard rails in numbers.

Every cap is a function of earlier amounts that never falls when one of them rises, so one walk through the weeks
finds the largest schedule there is (see `caps`, which does the same for a schedule that is under way, with
breaks, holds and credit). Amounts are millimetres. Sources: 30 days and 10 % Frandsen 2025 (Br J Sports Med
59:1203); the taper Bosquet 2007 (Med Sci Sports Exerc 39:1358); the rest is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction

from plans.training.caps import SPIKE, reference
from plans.training.guardrails import Rails

Number = int | Fraction

BEFORE = 12
"""Weeks before the first that count as run at the declared volume: as far back as "held" looks."""

START_RUNS = 3
"""Someone who declares next to nothing may begin with this many of the shortest runs."""


@dataclass(frozen=True)
class Cap:
    """A limit in mm, the name of the rule that set it, and what it was reckoned from."""

    mm: Number
    rule: str
    base: Number = 0


@dataclass
class Volumes:
    """Weekly running so far: as the template plans it, and as fitted. Declared weeks come first."""

    rails: Rails
    declared: int
    planned_before: int
    planned: list[Number] = field(default_factory=list)
    fitted: list[Number] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.planned = [self.planned_before] * BEFORE
        self.fitted = [self.declared] * BEFORE
        self.kinds = ["base"] * BEFORE

    def add(self, kind: str, planned: Number, fitted: Number) -> None:
        self.planned.append(planned)
        self.fitted.append(fitted)
        self.kinds.append(kind)

    def strict(self) -> Cap:
        """What the next week may be by the rails alone, whatever the coach wrote."""
        rails, i = self.rails, len(self.fitted)
        ref = reference(self.fitted, self.kinds, i)
        held = max(self.fitted[i - BEFORE :])
        limits: dict[str, Number] = {
            "rise": (1 + rails.weekly_rise) * ref,
            "rise_mm": min(ref + rails.weekly_rise_mm, SPIKE * ref),
            "return": min(held, (1 + rails.weekly_return) * ref),
            "held": rails.share_15 * held,
            "start": START_RUNS * rails.shortest_mm,
        }
        rule = max(limits, key=lambda name: limits[name])
        return Cap(limits[rule], rule, ref)

    def cap(self, kind: str, planned: Number) -> Cap:
        """What the next week may be: the rails, the growth the coach wrote, the shape of the plan."""
        i = len(self.fitted)
        ref = reference(self.fitted, self.kinds, i)
        planned_ref = reference(self.planned, self.kinds, i)
        best = self.strict()
        if planned_ref and planned * Fraction(ref) / planned_ref > best.mm:
            best = Cap(planned * Fraction(ref) / planned_ref, "plan", ref)
        if kind in ("recovery", "taper", "race") and i > BEFORE:
            first = max(BEFORE, i - 8)
            top, reached = max(self.planned[first:i]), max(self.fitted[first:i])
            if top and planned * Fraction(reached) / top < best.mm:
                best = Cap(planned * Fraction(reached) / top, kind, reached)
        return best


@dataclass
class LongRuns:
    """Every run so far by day, as planned and as fitted; the declared longest stands a week before the start."""

    rails: Rails
    start: date
    declared: int
    planned_before: int
    planned: list[tuple[date, Number]] = field(default_factory=list)
    fitted: list[tuple[date, Number]] = field(default_factory=list)

    def __post_init__(self) -> None:
        before = self.start - timedelta(days=7)
        self.planned.append((before, self.planned_before))
        self.fitted.append((before, self.declared))

    def strict(self, day: date, week_start: date) -> Cap:
        """The longest one run of this day may be by the rails alone. Runs of the same week don't raise it."""
        rails = self.rails
        longest = _longest(self.fitted, day - timedelta(days=30), week_start)
        held = _longest(self.fitted, week_start - timedelta(weeks=BEFORE), week_start)
        limits: dict[str, Number] = {
            "long_rise": (1 + rails.long_rise) * longest,
            "long_rise_mm": min(longest + rails.long_rise_mm, SPIKE * longest),
            "long_return": min(held, (1 + rails.long_return) * longest),
            "long_floor": min(rails.long_floor_mm, SPIKE * longest),
            "held": rails.share_15 * held,
            "start": rails.shortest_mm,
        }
        rule = max(limits, key=lambda name: limits[name])
        return Cap(limits[rule], rule, longest)

    def cap(self, day: date, planned: Number, week_start: date) -> Cap:
        """The same with the growth the coach wrote; once below the plan, at most 30 % in one go."""
        best = self.strict(day, week_start)
        longest = _longest(self.fitted, day - timedelta(days=30), week_start)
        wish = _longest(self.planned, day - timedelta(days=30), week_start)
        if wish and planned > wish:
            wrote = Fraction(planned) / wish if longest >= wish else min(Fraction(planned) / wish, SPIKE)
            if wrote * longest > best.mm:
                best = Cap(wrote * longest, "plan", longest)
        return best


def _longest(runs: Sequence[tuple[date, Number]], first: date, before: date) -> Number:
    return max((amount for day, amount in runs if first <= day < before), default=0)
