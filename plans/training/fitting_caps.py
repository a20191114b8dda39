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

BEFORE = 12
"""Weeks before the first that count as run at the declared volume: as far back as "held" looks."""

START_RUNS = 3
"""Someone who declares next to nothing may begin with this many of the shortest runs."""


@dataclass(frozen=True, slots=True)
class Cap:
    """A limit in mm, the name of the rule that set it, and what it was reckoned from."""

    mm: int
    rule: str
    base: int = 0


def part(share: Fraction, mm: int) -> int:
    """So much of an amount, down to the whole millimetre: never more than the share allows."""
    return mm * share.numerator // share.denominator


def scaled(mm: int, to: int, whole: int) -> int:
    """The amount in the proportion of `to` to `whole`, down to the whole millimetre."""
    return mm * to // whole


@dataclass
class Volumes:
    """Weekly running so far: as the template plans it, and as fitted. Declared weeks come first."""

    rails: Rails
    declared: int
    planned_before: int
    planned: list[int] = field(default_factory=list)
    fitted: list[int] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.planned = [self.planned_before] * BEFORE
        self.fitted = [self.declared] * BEFORE
        self.kinds = ["base"] * BEFORE

    def add(self, kind: str, planned: int, fitted: int) -> None:
        self.planned.append(planned)
        self.fitted.append(fitted)
        self.kinds.append(kind)

    def strict(self) -> Cap:
        """What the next week may be by the rails alone, whatever the coach wrote."""
        rails, i = self.rails, len(self.fitted)
        ref = int(reference(self.fitted, self.kinds, i))
        held = max(self.fitted[i - BEFORE :])
        limits = (
            (part(1 + rails.weekly_rise, ref), "rise"),
            (min(ref + rails.weekly_rise_mm, part(SPIKE, ref)), "rise_mm"),
            (min(held, part(1 + rails.weekly_return, ref)), "return"),
            (part(rails.share_15, held), "held"),
            (START_RUNS * rails.shortest_mm, "start"),
        )
        mm, rule = max(limits, key=lambda limit: limit[0])
        return Cap(mm, rule, ref)

    def cap(self, kind: str, planned: int) -> Cap:
        """What the next week may be: the rails, the growth the coach wrote, the shape of the plan."""
        i = len(self.fitted)
        best = self.strict()
        planned_ref = int(reference(self.planned, self.kinds, i))
        wrote = scaled(planned, best.base, planned_ref) if planned_ref else 0
        if wrote > best.mm:
            best = Cap(wrote, "plan", best.base)
        if kind in ("recovery", "taper", "race") and i > BEFORE:
            first = max(BEFORE, i - 8)
            top, reached = max(self.planned[first:i]), max(self.fitted[first:i])
            if top and scaled(planned, reached, top) < best.mm:
                best = Cap(scaled(planned, reached, top), kind, reached)
        return best


@dataclass
class LongRuns:
    """Every run so far by day, as planned and as fitted; the declared longest stands a week before the start."""

    rails: Rails
    start: date
    declared: int
    planned_before: int
    planned: list[tuple[date, int]] = field(default_factory=list)
    fitted: list[tuple[date, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        before = self.start - timedelta(days=7)
        self.planned.append((before, self.planned_before))
        self.fitted.append((before, self.declared))

    def safe(self, week_start: date) -> int:
        """A run of the week up to so far needs no look at its day: every window holds a longer one."""
        return _longest(self.fitted, week_start - timedelta(days=24), week_start)

    def strict(self, day: date, week_start: date) -> Cap:
        """The longest one run of this day may be by the rails alone. Runs of the same week don't raise it."""
        rails = self.rails
        longest = _longest(self.fitted, day - timedelta(days=30), week_start)
        held = _longest(self.fitted, week_start - timedelta(weeks=BEFORE), week_start)
        limits = (
            (part(1 + rails.long_rise, longest), "long_rise"),
            (min(longest + rails.long_rise_mm, part(SPIKE, longest)), "long_rise_mm"),
            (min(held, part(1 + rails.long_return, longest)), "long_return"),
            (min(rails.long_floor_mm, part(SPIKE, longest)), "long_floor"),
            (part(rails.share_15, held), "held"),
            (rails.shortest_mm, "start"),
        )
        mm, rule = max(limits, key=lambda limit: limit[0])
        return Cap(mm, rule, longest)

    def cap(self, day: date, planned: int, week_start: date) -> Cap:
        """The same with the growth the coach wrote; once below the plan, at most 30 % in one go."""
        best = self.strict(day, week_start)
        if planned <= best.mm:
            return best
        wish = _longest(self.planned, day - timedelta(days=30), week_start)
        if wish and planned > wish:
            wrote = scaled(planned, best.base, wish)
            if best.base < wish:
                wrote = min(wrote, part(SPIKE, best.base))
            if wrote > best.mm:
                best = Cap(wrote, "plan", best.base)
        return best


def _longest(runs: Sequence[tuple[date, int]], first: date, before: date) -> int:
    return max((mm for day, mm in runs if first <= day < before), default=0)
