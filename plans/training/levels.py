"""Sessions made definite or cut to a level: from a tree to a tree, without knowing who runs it.

Law of this file: nothing comes out harder or longer than it went in. Results are whole: kilometres or halves of
a mile, minutes, repetitions; never a fraction of a repeat. What can't be made smaller stays as it is.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Final

from plans.training.intensity import has_hard, is_hard
from plans.training.steps import (
    Extent,
    Ladder,
    Other,
    Part,
    Progression,
    Race,
    Repeats,
    RunWith,
    Session,
    Step,
    Unit,
    Words,
)

KM, HALF_MILE, MINUTE = 1_000_000, 804_672, 60
# Below this many repeats a level shortens the pieces instead of leaving out half of them.
FEW_REPEATS: Final = 3
LONG_PIECE_S, LONG_PIECE_MM = 8 * 60, 2 * KM
# Whole steps within a range, and when a part is shortened to a level: (unit, size in mm or s).
RANGE_STEPS: Final[dict[Unit, int]] = {
    "km": KM, "m": 100_000, "mi": HALF_MILE, "s": 5, "min": MINUTE, "h": 5 * MINUTE
}  # fmt: skip
LEVEL_STEPS: Final[dict[Unit, int]] = {
    "km": KM // 2, "m": 100_000, "mi": HALF_MILE // 2, "s": 5, "min": MINUTE, "h": 5 * MINUTE
}  # fmt: skip


def _nearest(value: Fraction) -> int:
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)


def _within(low: int, high: int, step: int, at: Fraction) -> int:
    """The whole step nearest to the place in the range, never outside it; the exact place if none is inside."""
    wish = low + at * (high - low)
    first, last = -(-low // step), high // step
    if first > last:
        return _nearest(wish)
    return max(first, min(last, _nearest(wish / step))) * step if 0 < at < 1 else (low if at <= 0 else high)


def _fixed(extent: Extent, at: Fraction) -> Extent:
    if extent.low == extent.high:
        return extent
    amount = _within(extent.low, extent.high, RANGE_STEPS[extent.unit], at)
    return Extent(amount, amount, extent.unit)


def resolved(session: Session, at: Fraction) -> Session:
    """The session with one amount in the place of every range of amounts: 0 the low end, 1 the high end.

    Ranges of pace, effort and heart rate stay ranges.
    """
    return replace(session, parts=tuple(resolved_part(part, at) for part in session.parts))


def _resolved_step(step: Step, at: Fraction) -> Step:
    return replace(step, extent=_fixed(step.extent, at)) if isinstance(step.extent, Extent) else step


def resolved_part(part: Part, at: Fraction) -> Part:
    match part:
        case Step():
            return _resolved_step(part, at)
        case Repeats(low, high, body, recovery):
            times = _within(low, high, 1, at)
            rest = _resolved_step(recovery, at) if recovery else None
            return Repeats(times, times, tuple(resolved_part(p, at) for p in body), rest)
        case Ladder(recovery=Step() as recovery):
            return replace(part, recovery=_resolved_step(recovery, at))
        case RunWith(outer, inner):
            inside = resolved_part(inner, at)
            return RunWith(_resolved_step(outer, at), inside) if isinstance(inside, Step | Repeats) else part
        case Progression(extent) | Race(extent):
            return replace(part, extent=_fixed(extent, at))
        case Other(extent=Extent() as extent):
            return replace(part, extent=_fixed(extent, at))
        case Words(text, distance, time, hard_distance, hard_time):
            amounts = [_fixed(e, at) if e else None for e in (distance, time, hard_distance, hard_time)]
            return Words(text, *amounts)
        case _:
            return part


# A level of a quality session.


def at_level(session: Session, level: Fraction) -> Session:
    """The session with its hard parts at most so much of what they were: 4/5, 3/5.

    Repeats lose whole repetitions (at least one stays), ladders their top, continuous parts whole minutes or half
    kilometres. One to three long pieces (8 min or 2 km) count as continuous parts: each is shortened. A run that
    holds a hard part gets shorter by as much as the part in it. Easy parts and strides stay.
    """
    if level >= 1:
        return session
    return replace(session, parts=tuple(levelled(part, level) for part in session.parts))


def told_like(old: Extent, low: int, high: int) -> Extent:
    """New amounts in the old one's unit; less than an hour is told in minutes."""
    return Extent(low, high, "min" if old.unit == "h" and low < 3600 else old.unit)


def shorter(extent: Extent, level: Fraction) -> Extent:
    step = LEVEL_STEPS[extent.unit]

    def cut(amount: int) -> int:
        whole = int(amount * level / step) * step
        return whole if whole else min(amount, step)

    return told_like(extent, cut(extent.low), cut(extent.high))


def levelled(part: Part, level: Fraction, *, working: bool = False) -> Part:
    match part:
        case Step(extent=Extent() as extent) if is_hard(part, working=working):
            return replace(part, extent=shorter(extent, level))
        case Progression(extent) if has_hard(part):
            return replace(part, extent=shorter(extent, level))
        case Repeats() if has_hard(part):
            return _fewer(part, level)
        case Ladder() if is_hard(part, working=True):
            return _without_top(part, level)
        case RunWith(outer, inner) if has_hard(part):
            return _less_inside(outer, inner, level)
        case Words(text, distance, time, hard_distance, hard_time) if has_hard(part):
            hard = [shorter(e, level) if e else None for e in (hard_distance, hard_time)]
            return Words(text, distance, time, *hard)
        case _:
            return part


def _is_long_piece(part: Part) -> bool:
    if not isinstance(part, Step | Progression) or not isinstance(part.extent, Extent):
        return False
    return part.extent.low >= (LONG_PIECE_MM if part.extent.is_distance else LONG_PIECE_S)


def _fewer(part: Repeats, level: Fraction) -> Repeats:
    inside = any(isinstance(p, Repeats | Ladder) for p in part.body)
    if (part.high <= FEW_REPEATS and (inside or all(_is_long_piece(p) for p in part.body))) or part.high == 1:
        return replace(part, body=tuple(levelled(p, level, working=True) for p in part.body))
    return replace(part, low=max(1, int(part.low * level)), high=max(1, int(part.high * level)))


def _without_top(part: Ladder, level: Fraction) -> Ladder:
    """The largest pieces go, the later of equal ones first, until what is left fits the level; one stays."""
    left = list(part.rungs)
    allowed = level * sum(rung.low for rung in left)
    while len(left) > 1 and sum(rung.low for rung in left) > allowed:
        top = max(range(len(left)), key=lambda i: (left[i].low, i))
        del left[top]
    return replace(part, rungs=tuple(left))


def _less_inside(outer: Step, inner: Step | Repeats, level: Fraction) -> Part:
    less = levelled(inner, level)
    if not isinstance(less, Step | Repeats) or not isinstance(outer.extent, Extent):
        return RunWith(outer, inner)
    whole, before, after = outer.extent, amount_like(inner, outer.extent), amount_like(less, outer.extent)
    saved = before - after
    if saved <= 0 or saved >= whole.low:
        return RunWith(outer, less)
    return RunWith(replace(outer, extent=told_like(whole, whole.low - saved, whole.high - saved)), less)


def amount_like(part: Part, like: Extent) -> int:
    """The least amount of a part in mm or s, whichever `like` is in, as far as it was written that way."""
    match part:
        case Step(extent=Extent() as extent) | Progression(extent=extent) | Race(extent=extent):
            return extent.low if extent.is_distance == like.is_distance else 0
        case Repeats(low, _, body, recovery):
            between = amount_like(recovery, like) if recovery else 0
            return low * sum(amount_like(p, like) for p in body) + (low - 1) * between
        case RunWith(outer):
            return amount_like(outer, like)
        case Ladder(rungs, _, _, recovery):
            between = amount_like(recovery, like) if recovery else 0
            work = sum(rung.low for rung in rungs) if rungs[0].is_distance == like.is_distance else 0
            return work + (len(rungs) - 1) * between
        case _:
            return 0
