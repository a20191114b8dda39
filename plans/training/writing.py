"""From the tree back to the shorthand, in one spelling: `parse(write(session)) == session`."""

from __future__ import annotations

from itertools import pairwise

from plans.training.amounts import write_extent, write_rungs
from plans.training.steps import (
    DISTANCE_UNITS,
    BetweenPaces,
    Change,
    Effort,
    Extent,
    Feel,
    FixedPace,
    HeartRate,
    Ladder,
    Manner,
    Other,
    Part,
    Progression,
    Race,
    RacePace,
    Repeats,
    RunWith,
    Session,
    Shift,
    Step,
    Target,
    Words,
)


def write(session: Session) -> str:
    """The session as one line of shorthand."""
    line = _joined(session.parts) if session.parts else "rest"
    return f"{line}; note: {session.note}" if session.note else line


def _joined(parts: tuple[Part, ...]) -> str:
    text = write_part(parts[0])
    for part in parts[1:]:
        text += (" + " if is_strides(part) else "; ") + write_part(part)
    return text


def is_strides(part: Part) -> bool:
    return isinstance(part, Repeats) and all(
        isinstance(p, Step) and "strides" in p.manners for p in part.body
    )


def write_part(part: Part) -> str:
    match part:
        case Step():
            return _step(part)
        case Repeats():
            return _repeats(part)
        case Ladder(rungs, manners, target, recovery):
            words = [
                "" if len(rungs) > 2 else "ladder", write_rungs(rungs), _manner(manners), _target(target)
            ]  # fmt: skip
            return " ".join(filter(None, words)) + _recovery(recovery)
        case RunWith(outer, inner):
            inside = (
                f"last {_step(inner, amount_first=True)}" if isinstance(inner, Step) else write_part(inner)
            )
            return f"{_step(outer)} with {inside}"
        case Progression(extent, start, end, change):
            ends = f" from {_goal(start)}" if start else ""
            ends += f" to {_goal(end)}" if end else ""
            return f"{write_extent(extent)} progression{ends}{_change(change)}"
        case Race(extent, target):
            return " ".join(filter(None, ["race", write_extent(extent), _target(target)]))
        case Other(kind, extent, activity):
            kind_word = "cross-train" if kind == "cross" else kind
            return " ".join(filter(None, [kind_word, write_extent(extent) if extent else "", activity]))
        case Words():
            return _words(part)


def _step(step: Step, *, amount_first: bool = False) -> str:
    if step.extent == "equal":
        return f"equal {_manner(step.manners)}".strip()
    if step.extent == "back":
        return f"{_manner(step.manners)} back".strip()
    amount = write_extent(step.extent) if step.extent else ""
    if "long" in step.manners and not amount_first:
        return " ".join(filter(None, [_manner(step.manners), amount, _target(step.target)]))
    return " ".join(filter(None, [amount, _manner(step.manners), _target(step.target)]))


def _repeats(part: Repeats) -> str:
    times = str(part.low) if part.low == part.high else f"{part.low}-{part.high}"
    only = part.body[0]
    if len(part.body) == 1 and isinstance(only, Step):
        if only.extent is None and only.manners == ("strides",):
            return f"{times} {_step(only)}{_recovery(part.recovery)}"
        return f"{times} x {_step(only)}{_recovery(part.recovery)}"
    return f"{times} x ({_body(part.body)}){_recovery(part.recovery)}"


def _body(parts: tuple[Part, ...]) -> str:
    """Commas between plain steps; after anything that could take a recovery, a semicolon."""
    text = write_part(parts[0])
    for before, part in pairwise(parts):
        plain = isinstance(before, Step) and isinstance(part, Step)
        text += (", " if plain else "; ") + write_part(part)
    return text


def _recovery(recovery: Step | None) -> str:
    return f", {_step(recovery)}" if recovery else ""


def _manner(manners: tuple[Manner, ...]) -> str:
    return " or ".join("long run" if m == "long" else "time trial" if m == "trial" else m for m in manners)


def _target(target: Target | None) -> str:
    return f"@ {_goal(target)}" if target else ""


def _range(low: int, high: int) -> str:
    return str(low) if low == high else f"{low}-{high}"


def _goal(target: Target) -> str:
    match target:
        case RacePace(race, shift):
            return race + (f"{shift.seconds:+d} s/{shift.per}" if shift else "")
        case BetweenPaces(first, second):
            return f"{first}-{second}"
        case FixedPace(low, high, per):
            both = [f"{s // 60}:{s % 60:02d}" for s in ((low,) if low == high else (low, high))]
            return f"{'-'.join(both)}/{per}"
        case Effort(low, high):
            return f"effort {_range(low, high)}"
        case HeartRate(low, high, unit):
            return f"{_range(low, high)} bpm" if unit == "bpm" else f"{_range(low, high)} % HR"
        case Feel(manner):
            return _manner((manner,))


def _change(change: Change | None) -> str:
    if not change:
        return ""
    shift: Shift = change.shift
    word = "faster" if shift.seconds < 0 else "slower"
    return f", {abs(shift.seconds)} s/{shift.per} {word} every {_every(change.every)}"


def _every(every: Extent) -> str:
    if every.unit in ("km", "mi") and every.low == DISTANCE_UNITS[every.unit]:
        return every.unit
    return write_extent(every)


def _words(part: Words) -> str:
    amounts = [(part.distance, ""), (part.time, ""), (part.hard_distance, " hard"), (part.hard_time, " hard")]
    said = [write_extent(amount) + word for amount, word in amounts if amount]
    return f"free: {part.text}" + (f" = {', '.join(said)}" if said else "")
