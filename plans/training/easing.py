"""Sessions with everything hard run easy, for the days when quality is barred.

Law of this file: an easy day has no hard step, no hills, no strides, and covers no more distance and takes no
more planned minutes than the session it stands for.
"""

from __future__ import annotations

from dataclasses import replace

from plans.training.intensity import ABOVE_EASY, has_hard
from plans.training.steps import (
    Extent,
    Ladder,
    Manner,
    Part,
    Progression,
    Race,
    Repeats,
    RunWith,
    Session,
    Step,
    Unit,
    Words,
    leaves,
)
from plans.training.writing import is_strides

MINUTE = 60
ONLY_STRIDES = Extent(
    20 * MINUTE, 20 * MINUTE, "min"
)  # what stands for a session that was strides and no more


def eased(session: Session) -> Session:
    """The session with everything above easy run easy, strides left out; for when quality is barred.

    Neighbouring easy pieces become one. An easy session without strides is returned as it is. The time
    of repeats includes their jogs, not standing or walking rests. A race becomes an easy run of its length.
    """
    if not any(_to_ease(part) for part in session.parts):
        return session
    steps: list[Part] = []
    for part in session.parts:
        if not is_strides(part):
            steps += _easy_parts(part) if _to_ease(part) else [part]
    merged = _merged(steps)
    return replace(session, parts=merged or (_easy(ONLY_STRIDES),))


def _to_ease(part: Part) -> bool:
    quick = any(isinstance(leaf, Step) and "strides" in leaf.manners for leaf in leaves(part))
    return quick or has_hard(part, limit=ABOVE_EASY)


def _easy(extent: Extent, manner: Manner = "easy") -> Step:
    return Step(extent, (manner,))


def _easy_parts(part: Part) -> list[Part]:
    match part:
        case Step(extent=Extent() as extent, manners=manners):
            gentle: Manner = (
                manners[0] if manners and manners[0] in ("long", "warm-up", "cool-down") else "easy"
            )
            return [] if manners[:1] in (("rest",), ("walk",), ("strides",)) else [_easy(extent, gentle)]
        case Progression(extent=extent) | Race(extent=extent):
            return [_easy(extent)]
        case RunWith(outer=outer):
            return _easy_parts(outer)
        case Repeats(low, high, body, recovery):
            return _easy_repeats(low, high, body, recovery)
        case Ladder(rungs, _, _, recovery):
            between = [_same_recovery(recovery, rung) for rung in rungs[:-1]] if recovery else []
            return [_easy(rung) for rung in rungs] + [b for b in between if b]
        case Words(distance=distance, time=time):
            given = distance or time
            return [_easy(given)] if given else []
        case _:
            return []


def _same_recovery(recovery: Step, work: Extent) -> Part | None:
    """A jog between pieces as easy running; walks and rests give nothing."""
    if recovery.manners and recovery.manners[0] in ("walk", "rest"):
        return None
    if isinstance(recovery.extent, Extent):
        return _easy(recovery.extent)
    return _easy(work) if recovery.extent else None


def _easy_repeats(low: int, high: int, body: tuple[Part, ...], recovery: Step | None) -> list[Part]:
    once = [easy for part in body for easy in _easy_parts(part)]
    sizes = [part.extent for part in once if isinstance(part, Step) and isinstance(part.extent, Extent)]
    found: list[Part] = [_easy(Extent(size.low * low, size.high * high, size.unit)) for size in sizes]
    between = _same_recovery(recovery, sizes[0]) if recovery and sizes else None
    if isinstance(between, Step) and isinstance(between.extent, Extent) and high > 1:
        size = between.extent
        found.append(_easy(Extent(size.low * max(1, low - 1), size.high * (high - 1), size.unit)))
    return found


def _merged(parts: list[Part]) -> tuple[Part, ...]:
    """Easy pieces of one kind of amount added up: at most one in distance and one in time; the rest in order."""
    sums: dict[bool, Step] = {}
    for part in parts:
        if isinstance(part, Step) and isinstance(part.extent, Extent) and _plain(part):
            kind = part.extent.is_distance
            sums[kind] = _added(sums[kind], part) if kind in sums else part
    done: set[bool] = set()
    merged: list[Part] = []
    for part in parts:
        if isinstance(part, Step) and isinstance(part.extent, Extent) and _plain(part):
            kind = part.extent.is_distance
            if kind not in done:
                merged.append(_rounded_down(sums[kind]))
            done.add(kind)
        elif not (isinstance(part, Step) and part.manners == ("drills",)):
            merged.append(part)
    return tuple(merged)


def _plain(step: Step) -> bool:
    return step.target is None and step.manners[:1] in (
        (),
        ("easy",),
        ("long",),
        ("warm-up",),
        ("cool-down",),
    )


def _added(one: Step, other: Step) -> Step:
    a, b = one.extent, other.extent
    assert isinstance(a, Extent)
    assert isinstance(b, Extent)
    unit: Unit = a.unit if a.unit == b.unit else ("km" if a.is_distance else "min")
    manner: Manner = "long" if "long" in (*one.manners, *other.manners) else "easy"
    return Step(Extent(a.low + b.low, a.high + b.high, unit), (manner,))


def _rounded_down(step: Step) -> Step:
    """To whole minutes, or to tenths of a km or mile."""
    extent = step.extent
    assert isinstance(extent, Extent)
    unit: Unit
    if extent.is_distance:
        unit = "mi" if extent.unit == "mi" else "km"
        size = 804_672 // 4 if unit == "mi" else 100_000
    else:
        unit = "h" if extent.unit == "h" else "min"
        size = MINUTE
    if extent.low < size:
        return step
    return replace(step, extent=Extent(extent.low // size * size, extent.high // size * size, unit))
