"""How much may follow what was run: the limits of a week and of one run, stated once for fitting and re-balancing.

Law: each limit never falls when an earlier amount rises; the largest of them holds. Amounts are in any one measure;
`rail` turns the absolute rails, which are distances, into it. Sources: 30 days and 10 % Frandsen 2025 (Br J Sports
Med 59:1203); the rest is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from fractions import Fraction
from typing import TypeVar

from plans.training.guardrails import Rails

Number = int | Fraction
Limits = tuple[tuple[Number, str], ...]
Day = TypeVar("Day", int, date)

SPIKE = Fraction(13, 10)
"""No absolute allowance and no floor exceeds 30 % over the reference."""

HELD_WEEKS = 12
"""What was held: the largest week and the longest run of so many weeks."""

START_RUNS = 3
"""A week is never below this many of the shortest runs: a cap of next to nothing could never be left again."""


def as_it_is(mm: int) -> Number:
    return mm


def reference(values: Sequence[Number], kinds: Sequence[str], i: int) -> Number:
    """Last week, the mean of the last four, or the week before a recovery week: the largest."""
    found = max(values[i - 1], Fraction(sum(values[i - 4 : i])) / 4)
    return max(found, values[i - 2]) if kinds[i - 1] == "recovery" else found


def week_limits(
    rails: Rails,
    ref: Number,
    held: Number,
    back: Fraction | None = None,
    rail: Callable[[int], Number] = as_it_is,
) -> Limits:
    """What a week may be after a reference, with the largest week held. `back`: the way back, if not the usual one."""
    return (
        ((1 + rails.weekly_rise) * ref, "rise"),
        (min(ref + rail(rails.weekly_rise_mm), SPIKE * ref), "rise_mm"),
        (min(held, (1 + (rails.weekly_return if back is None else back)) * ref), "return"),
        (rails.share_15 * held, "held"),
        (least_week(rails, rail), "start"),
    )


def least_week(rails: Rails, rail: Callable[[int], Number] = as_it_is) -> Number:
    return START_RUNS * rail(rails.shortest_mm)


def run_limits(
    rails: Rails, longest: Number, held: Number, rail: Callable[[int], Number] = as_it_is
) -> Limits:
    """What one run may be over the longest of 30 days, with the longest run held."""
    return (
        ((1 + rails.long_rise) * longest, "long_rise"),
        (min(longest + rail(rails.long_rise_mm), SPIKE * longest), "long_rise_mm"),
        (min(held, (1 + rails.long_return) * longest), "long_return"),
        (min(rail(rails.long_floor_mm), SPIKE * longest), "long_floor"),
        (rails.share_15 * held, "held"),
        (rail(rails.shortest_mm), "start"),
    )


def most(limits: Limits) -> tuple[Number, str]:
    """The largest limit and its name; of equal ones the first."""
    return max(limits, key=lambda limit: limit[0])


def longest_between(runs: Iterable[tuple[Day, Number]], first: Day, before: Day) -> Number:
    return max((amount for day, amount in runs if first <= day < before), default=0)
