"""The planner's answer as content again: the shorthand of each changed session written anew."""

from __future__ import annotations

from dataclasses import replace

from athletes.running.units import Units
from plans.issuing import Content
from plans.reading import understood
from plans.situation import Situation
from plans.training import schedule as core
from plans.training.converting import in_units
from plans.training.easing import eased
from plans.training.levels import at_level
from plans.training.sizing import resized, written_in
from plans.training.writing import write


def contents(found: Situation, change: core.Change) -> tuple[Content, Content]:
    """What stands and what the planner's answer makes of it."""
    before, written, after = found.standing(change.key), found.written(change.key), change.after
    bent = {
        "level": str(after.level),
        "turned_easy": after.turned_easy,
        "eased": after.eased,
        "counted": after.counted,
        "dropped_by": change.reason.rule if after.dropped else "",
    }
    return before, replace(
        written,
        day=after.day,
        slot=after.slot,
        role="easy" if after.turned_easy else written.role,
        steps=steps_after(written, after, found.inputs.units),
        planned_mm=after.mm,
        planned_s=after.s,
        removed=after.dropped,
        bent=bent if after.reason is not None else {},
    )


def steps_after(written: Content, after: core.Placed, units: Units) -> str:
    """The shorthand of a session as the planner left it, in the athlete's units."""
    if after.dropped or after.reason is None:
        return written.steps
    if after.turned_easy:
        return easy_run(after.mm, units)
    steps = understood(written.steps)
    if steps is None:
        return written.steps if after.mm == written.planned_mm else easy_run(after.mm, units)
    before = steps
    if after.eased:
        steps = eased(steps)
    if after.level < 1:
        steps = at_level(steps, after.level)
    elif written.role != "quality" and (after.mm, after.s) != (written.planned_mm, written.planned_s):
        steps = resized(steps, s=after.s) if written_in(steps) == "s" else resized(steps, mm=after.mm)
    return written.steps if steps == before else write(in_units(steps, units))


def easy_run(mm: int, units: Units) -> str:
    """`8 km easy` or `5 mi easy`, to the half unit, at least one half."""
    size = 1_609_344 if units == "mi" else 1_000_000
    halves = max(1, (2 * mm + size // 2) // size)
    amount = f"{halves // 2}.5" if halves % 2 else f"{halves // 2}"
    return f"{amount} {units} easy"
