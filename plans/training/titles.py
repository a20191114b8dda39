"""A session's short name for a row."""

from __future__ import annotations

from typing import Final

from athletes.running.units import Units
from plans.training.intensity import has_hard
from plans.training.steps import (
    Extent,
    Ladder,
    Manner,
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
from plans.training.wording import goal_words, race_name, rungs_text, show_extent, target_words, times_text
from plans.training.writing import is_strides

NOUNS: Final[dict[Manner, str]] = {
    "long": "Long run", "recovery": "very easy", "warm-up": "warm-up", "cool-down": "cool-down",
    "trial": "time trial", "hill": "uphill", "strides": "strides", "rest": "rest",
}  # fmt: skip


def title(session: Session, units: Units = "km") -> str:
    """A short name for a row: `6 × 3 min at 10K pace`, `Long run 22 km`, `8 km easy + 6 strides`, `Rest`.

    Around a hard part the warm-up and cool-down are left out.
    """
    if not session.parts:
        return "Rest"
    parts = session.parts
    main = [part for part in parts if has_hard(part)]
    if not main:
        main = [p for p in parts if not isinstance(p, Step) or p.manners != ("drills",)] or list(parts)
    text = " + ".join(_short(part, units) for part in main)
    return text[:1].upper() + text[1:]


def _short(part: Part, units: Units) -> str:
    match part:
        case Step():
            return _short_step(part, units)
        case Repeats():
            return _short_repeats(part, units)
        case Ladder(rungs, manners, target):
            what = " ".join(filter(None, [_manner_text(manners), target_words(target, units)]))
            return f"ladder {rungs_text(rungs, units)} {what}".strip()
        case RunWith(outer, inside):
            last = "last " if isinstance(inside, Step) else ""
            joint = " + " if is_strides(inside) else f", {last}" if last else " with "
            return f"{_short_step(outer, units)}{joint}{_short(inside, units)}"
        case Progression(extent, start, end):
            ends = f" from {goal_words(start, units)}" if start else ""
            ends += f" to {goal_words(end, units)}" if end else ""
            return f"{show_extent(extent, units)} progression{ends}"
        case Race(extent):
            return f"race {race_name(extent, units)}"
        case Other(kind, extent, activity):
            name = activity or ("strength" if kind == "strength" else "cross-training")
            return " ".join(filter(None, [name, show_extent(extent, units) if extent else ""]))
        case Words(text):
            return text


def _short_step(step: Step, units: Units) -> str:
    amount = show_extent(step.extent, units) if isinstance(step.extent, Extent) else ""
    target = target_words(step.target, units)
    if step.manners == ("long",):
        return " ".join(filter(None, ["long run", amount, target]))
    return " ".join(filter(None, [amount, _manner_text(step.manners), target]))


def _manner_text(manners: tuple[Manner, ...]) -> str:
    return " or ".join(NOUNS.get(m, m) for m in manners)


def _short_repeats(part: Repeats, units: Units) -> str:
    only = part.body[0]
    if part.high == 1 and len(part.body) == 1:
        return _short(only, units)
    times = times_text(part.low, part.high)
    if is_strides(part) and isinstance(only, Step):
        count = times.removesuffix(" ×")
        return f"{count} strides" + (
            f" of {show_extent(only.extent, units)}" if isinstance(only.extent, Extent) else ""
        )
    if len(part.body) == 1:
        inside = _short(only, units)
        return f"{times} ({inside})" if isinstance(only, Repeats | Ladder | RunWith) else f"{times} {inside}"
    return f"{times} ({', '.join(_short(p, units) for p in part.body)})"
