"""A session's amounts in the athlete's units.

Law: nothing is converted that the trade says as it is (repetitions on a track stay in metres, a race keeps its
name); an amount of whole halves of the new unit changes its unit only; an amount that reads like 6.437376 is
brought to the nearest tenth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from athletes.running.units import Units
from plans.training.steps import (
    DISTANCE_UNITS,
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
    Words,
)


def in_units(session: Session, units: Units) -> Session:
    """The same session, its kilometres or miles told in `units` where they can be said plainly there."""
    return replace(
        session, parts=tuple(_part(part, lambda extent: told(extent, units)) for part in session.parts)
    )


def told(extent: Extent, units: Units) -> Extent:
    """One amount in `units`; times and metres as they are.

    5 km for someone in miles stays 5 km; 11.265408 km becomes 7 mi; 6.44 km becomes 4 mi.
    """
    if extent.unit not in ("km", "mi"):
        return extent
    half = DISTANCE_UNITS[units] // 2
    if extent.low % half == 0 and extent.high % half == 0:
        return replace(extent, unit=units)
    if _plain(extent):
        return extent
    tenth = DISTANCE_UNITS[units]
    low, high = (max(1, (20 * mm + tenth) // (2 * tenth)) * tenth // 10 for mm in (extent.low, extent.high))
    return Extent(low, high, units)


def _plain(extent: Extent) -> bool:
    """Whether both ends read with at most two decimals in their own unit."""
    return all((100 * mm) % DISTANCE_UNITS[extent.unit] == 0 for mm in (extent.low, extent.high))


def _part(part: Part, change: Callable[[Extent], Extent]) -> Part:
    match part:
        case Step(extent=Extent() as extent):
            return replace(part, extent=change(extent))
        case Progression(extent=extent):
            return replace(part, extent=change(extent))
        case RunWith(outer, inner):
            whole, inside = _part(outer, change), _part(inner, change)
            assert isinstance(whole, Step)
            assert isinstance(inside, Step | Repeats)
            return RunWith(whole, inside)
        case Repeats(body=body, recovery=recovery):
            between = _part(recovery, change) if recovery else None
            assert between is None or isinstance(between, Step)
            return replace(part, body=tuple(_part(p, change) for p in body), recovery=between)
        case Ladder(rungs=rungs):
            return replace(part, rungs=tuple(change(rung) for rung in rungs))
        case Step() | Race() | Other() | Words():
            return part
