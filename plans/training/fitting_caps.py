"""How much an athlete may run in a week and in one go, from what was run before: the guard rails in numbers.

Every cap is a function of earlier amounts that never falls when one of them rises, so one walk through the weeks
finds the largest schedule there is (see `caps`, which does the same for a schedule that is under way, with
breaks, holds and credit; both ask `rising` for the rails). Amounts are millimetres. Source: the taper Bosquet 2007
(Med Sci Sports Exerc 39:1358).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction

from plans.training.guardrails import Rails
from plans.training.rising import HELD_WEEKS as BEFORE
from plans.training.rising import longest_between, most, reference, run_limits, week_limits


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


@dataclass(frozen=True, slots=True)
class Shape:
    """How a template's week stands to the weeks before it, as the coach wrote it: pairs of mm.

    `growth`: its volume and the reference before it; `fall`: its volume and the largest of the eight weeks
    before; `long_growth`: its longest run and the longest of the 30 days before.
    """

    growth: tuple[int, int] = (0, 0)
    fall: tuple[int, int] = (0, 0)
    long_growth: tuple[int, int] = (0, 0)


def shapes_of(
    kinds: Sequence[str],
    volumes: Sequence[int],
    races: Sequence[int],
    longs: Sequence[int],
    from_week: int,
    from_long: int,
) -> list[Shape]:
    """The shape of every week of a template. What it begins from counts for the weeks before it.

    Volumes leave races out; races count in what later weeks are compared with.
    """
    before = [min(from_week or volumes[0], volumes[0])] * BEFORE
    whole = [*before, *(volume + race for volume, race in zip(volumes, races, strict=True))]
    every = ["base"] * BEFORE + list(kinds)
    ran = [min(from_long or longs[0], longs[0])] * 4 + list(longs)
    return [
        Shape(
            (volume, int(reference(whole, every, place + BEFORE))),
            (volume, max(whole[place + BEFORE - 8 : place + BEFORE])),
            (longs[place], max(ran[place : place + 4])),
        )
        for place, volume in enumerate(volumes)
    ]


NO_SHAPE = Shape()


@dataclass
class Volumes:
    """Weekly running so far, declared weeks first."""

    rails: Rails
    declared: int
    fitted: list[int] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.fitted = [self.declared] * BEFORE
        self.kinds = ["base"] * BEFORE

    def add(self, kind: str, fitted: int) -> None:
        self.fitted.append(fitted)
        self.kinds.append(kind)

    def strict(self) -> Cap:
        """What the next week may be by the rails alone, whatever the coach wrote."""
        rails, i = self.rails, len(self.fitted)
        ref = int(reference(self.fitted, self.kinds, i))
        held = max(self.fitted[i - BEFORE :])
        mm, rule = most(week_limits(rails, ref, held))
        return Cap(int(mm), rule, ref)

    def cap(self, kind: str, shape: Shape) -> Cap:
        """What the next week may be: the rails, the growth the coach wrote, the shape of the plan."""
        best = self.strict()
        planned, ref = shape.growth
        wrote = scaled(best.base, planned, ref) if ref else 0
        if wrote > best.mm:
            best = Cap(wrote, "plan", best.base)
        planned, top = shape.fall
        if kind in ("recovery", "taper", "race") and top:
            reached = max(self.fitted[-8:])
            if scaled(reached, planned, top) < best.mm:
                best = Cap(scaled(reached, planned, top), kind, reached)
        return best


@dataclass
class LongRuns:
    """Every run so far by day; the declared longest stands a week before the start."""

    rails: Rails
    start: date
    declared: int
    fitted: list[tuple[date, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.fitted.append((self.start - timedelta(days=7), self.declared))

    def safe(self, week_start: date) -> int:
        """A run of the week up to so far needs no look at its day: every window holds a longer one."""
        return _longest(self.fitted, week_start - timedelta(days=24), week_start)

    def strict(self, day: date, week_start: date) -> Cap:
        """The longest one run of this day may be by the rails alone. Runs of the same week don't raise it."""
        rails = self.rails
        longest = _longest(self.fitted, day - timedelta(days=30), week_start)
        held = _longest(self.fitted, week_start - timedelta(weeks=BEFORE), week_start)
        mm, rule = most(run_limits(rails, longest, held))
        return Cap(int(mm), rule, longest)

    def cap(self, day: date, week_start: date, shape: Shape) -> Cap:
        """The same with the growth the coach wrote."""
        best = self.strict(day, week_start)
        planned, wish = shape.long_growth
        wrote = scaled(best.base, planned, wish) if wish else 0
        return Cap(wrote, "plan", best.base) if wrote > best.mm else best


def longest_declared(week_mm: int, long_mm: int) -> int:
    """Somebody who runs so far in a week has run a seventh of it in one go at least once."""
    return max(long_mm, week_mm // 7)


def _longest(runs: Sequence[tuple[date, int]], first: date, before: date) -> int:
    return int(longest_between(runs, first, before))
