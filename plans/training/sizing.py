"""Easy and long runs cut or scaled to a total.

The main part of the session takes the change: its largest easy run, a run that holds something, or easy repeats
(walk breaks). Warm-up walks and the like beside it stay. What stands inside a run shrinks with it, never grows.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Literal

from plans.training.intensity import has_hard, role_of
from plans.training.levels import HALF_MILE, KM, MINUTE, amount_like, shorter, told_like
from plans.training.steps import (
    Extent,
    Ladder,
    Other,
    Part,
    Progression,
    Repeats,
    RunWith,
    Session,
    Step,
    Unit,
    Words,
    leaves,
)
from plans.training.writing import is_strides

FIVE_MINUTES = 5 * MINUTE
_ONE_MM, _ONE_S = Extent(1, 1, "m"), Extent(1, 1, "s")


def resized(session: Session, *, mm: int | None = None, s: int | None = None) -> Session:
    """An easy or long session with a total of `mm` millimetres or of `s` seconds: give one of them.

    A range becomes one value. Strides after a run happen within it and change no total. Repeats with walk breaks
    keep whole repeats, so their total may be less, never more, except that one repeat stays. A hard run gets no
    longer. Where what stands beside the main part leaves it too little, or can't be counted in that kind of amount,
    the main part alone takes the total; where nothing is written in that kind, an easy run does.
    Raises ValueError for a total that is not above zero.
    """
    if (mm is None) == (s is None):
        raise ValueError("Give a distance or a time.")
    total, like = (mm, _ONE_MM) if mm is not None else (s, _ONE_S)
    if total is None or total <= 0:
        raise ValueError("A session's total is above zero.")
    index = _main_part(session, like)
    if index is None:
        unit: Unit = "km" if like.is_distance else "min"
        return replace(session, parts=(Step(Extent(total, total, unit), ("easy",)),))
    main = session.parts[index]
    others = [p for i, p in enumerate(session.parts) if i != index and not is_strides(p)]
    beside = sum(amount_like(p, like) for p in others)
    if beside * 2 > total or not all(_countable(p, like) for p in others):
        return replace(session, parts=(_resized_part(main, total, like),))
    parts = list(session.parts)
    parts[index] = _resized_part(main, total - beside, like)
    return replace(session, parts=tuple(parts))


def _countable(part: Part, like: Extent) -> bool:
    """Whether all running in the part is written in the same kind of amount; training beside it doesn't matter."""
    if isinstance(part, Ladder):
        return part.rungs[0].is_distance == like.is_distance
    if isinstance(part, Repeats):
        return all(_countable(p, like) for p in (*part.body, *([part.recovery] if part.recovery else [])))
    if isinstance(part, Other | Words) or (isinstance(part, Step) and part.manners == ("drills",)):
        return True
    extent = part.outer.extent if isinstance(part, RunWith) else part.extent
    return not isinstance(extent, Extent) or extent.is_distance == like.is_distance


def _main_part(session: Session, like: Extent) -> int | None:
    sizes = [
        (amount_like(part, like), -index)
        for index, part in enumerate(session.parts)
        if isinstance(part, Step | RunWith | Progression)
        or (isinstance(part, Repeats) and not has_hard(part))
        if not is_strides(part) and amount_like(part, like) > 0
    ]
    return -max(sizes)[1] if sizes else None


def _resized_part(part: Part, amount: int, like: Extent) -> Part:
    match part:
        case Step(extent=Extent() as old) | Progression(extent=old):
            allowed = min(amount, old.high) if has_hard(part) else amount
            return replace(part, extent=told_like(old, allowed, allowed))
        case RunWith(outer=Step(extent=Extent() as old) as outer, inner=inner):
            whole = replace(outer, extent=told_like(old, amount, amount))
            return _with_inside(whole, inner, Fraction(amount, old.high))
        case Repeats(_, _, body, recovery):
            once = sum(amount_like(p, like) for p in body)
            between = amount_like(recovery, like) if recovery else 0
            times = max(1, (amount + between) // (once + between))
            return replace(part, low=times, high=times)
        case _:
            return part


def _with_inside(whole: Step, inner: Step | Repeats, share: Fraction) -> Part:
    """The run with what it holds at most so much of what that was; left out when nothing whole remains."""
    if is_strides(inner) or share >= 1:
        return RunWith(whole, inner)
    if isinstance(inner, Repeats) and int(inner.low * share) < 1:
        return whole
    less = _shrunk(inner, share)
    extent = less.extent if isinstance(less, Step) else None
    if isinstance(extent, Extent) and isinstance(whole.extent, Extent):
        same = extent.is_distance == whole.extent.is_distance
        if same and extent.high * 2 > whole.extent.low * (2 if share > Fraction(1, 2) else 1):
            return whole
    return RunWith(whole, less)


def _shrunk(inner: Step | Repeats, share: Fraction) -> Step | Repeats:
    if isinstance(inner, Repeats):
        high = max(1, int(inner.high * share))
        recovery = inner.recovery if high > 1 else None
        return replace(inner, low=int(inner.low * share), high=high, recovery=recovery)
    return replace(inner, extent=shorter(inner.extent, share)) if isinstance(inner.extent, Extent) else inner


def scaled(session: Session, factor: Fraction, units: Literal["km", "mi"] = "km") -> Session:
    """An easy or long session times a factor, to whole km, halves of a mile or 5 minutes, at least one of them.

    Distances come out in the units asked for. Both ends of a range are scaled; a hard run gets no longer. Other sessions are returned as
    they are: a quality session is cut by `at_level`.
    """
    if role_of(session) not in ("easy", "long") or any(
        isinstance(p, Repeats) and has_hard(p) for p in session.parts
    ):
        return session
    like = _ONE_S if written_in(session) == "s" else _ONE_MM
    index = _main_part(session, like)
    if index is None:
        return session
    parts = list(session.parts)
    parts[index] = _scaled_part(parts[index], factor, units)
    return replace(session, parts=tuple(parts))


def _scaled_extent(extent: Extent, factor: Fraction, units: Literal["km", "mi"]) -> Extent:
    step = (KM if units == "km" else HALF_MILE) if extent.is_distance else FIVE_MINUTES

    def nearest(amount: int) -> int:
        wish = amount * factor / step
        return max(1, (2 * wish.numerator + wish.denominator) // (2 * wish.denominator)) * step

    low, high = nearest(extent.low), nearest(extent.high)
    return Extent(low, high, units) if extent.is_distance else told_like(extent, low, high)


def _scaled_part(part: Part, factor: Fraction, units: Literal["km", "mi"]) -> Part:
    match part:
        case Step() | Progression() if factor > 1 and has_hard(part):
            return part
        case Step(extent=Extent() as old) | Progression(extent=old):
            return replace(part, extent=_scaled_extent(old, factor, units))
        case RunWith(outer=Step(extent=Extent() as old) as outer, inner=inner):
            return _with_inside(replace(outer, extent=_scaled_extent(old, factor, units)), inner, factor)
        case Repeats(low, high):
            times = [max(1, int(n * factor + Fraction(1, 2))) for n in (low, high)]
            return replace(part, low=times[0], high=times[1])
        case _:
            return part


def written_in(session: Session) -> Literal["mm", "s"]:
    """Whether a session is planned in time: every run in it is written so; else in distance."""
    sizes = [
        leaf.extent
        for part in session.parts
        if not is_strides(part)
        for leaf in leaves(part)
        if isinstance(leaf, Step | Progression) and isinstance(leaf.extent, Extent)
    ]
    return "s" if sizes and not any(size.is_distance for size in sizes) else "mm"
