"""From parsed items to the tree: which piece belongs to which.

Law of this file, in the order it is applied to an item after a comma or "with":
1. an item with "last ..." or a change of pace and no amount of its own belongs to the run before it;
2. a jog, walk, rest or easy piece right after repeats or a ladder is their recovery;
3. repeats after "with" happen inside the run before them;
4. everything else is a part of its own. After ";" or "+" it always is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

from lark import Token, Tree

from plans.training import words
from plans.training.amounts import Dashed, Node, count, extent, read_dashed, rungs
from plans.training.bags import Bag, read_bag
from plans.training.levels import amount_like
from plans.training.mistakes import ShorthandError
from plans.training.steps import (
    Extent,
    Feel,
    Ladder,
    Manner,
    Other,
    Part,
    Progression,
    Race,
    RacePace,
    Relative,
    Repeats,
    RunWith,
    Step,
    Target,
)

RECOVERING: frozenset[Manner] = frozenset(("jog", "walk", "rest", "easy", "recovery", "float"))
COUNTED: tuple[Manner, ...] = ("strides", "hill")
NEED_NO_AMOUNT: frozenset[Manner] = frozenset(("drills", "warm-up", "cool-down", "strides", "hill"))
STRIDES_IF_NOT_SAID = (4, 6)  # the usual 4 to 8, its lower half (sources.md 20, common practice)
HALF_MM, MARATHON_MM = 21_097_500, 42_195_000


def read_line(node: Node, text: str) -> tuple[Part, ...]:
    """line: item (separator item | "(" item ")")*"""
    parts: list[Part] = []
    separator = ";"
    for child in node.children:
        if not isinstance(child, Tree):
            continue
        if child.data == "separator":
            token = cast(Token, child.children[0])
            loose = {"WITH": "with", "PAUSE": "off", "COMMA": ",", "PER": ","}
            separator = loose.get(token.type, ";")
            continue
        _join(parts, separator, child, text)
        separator = ","  # for a bracket after the item
    return tuple(parts)


def _join(parts: list[Part], separator: str, node: Node, text: str) -> None:
    where = (node.meta.start_pos, node.meta.end_pos)
    if node.data == "repeats":
        part: Part = _repeats(node, text)
    else:
        bag = read_bag(node, text)
        if (separator == "off" or bag.says("between")) and not bag.manners and not bag.target:
            bag.manners.append(("jog",))
        if _is_modifier(bag):
            if not parts or separator == ";":
                raise bag.wrong(
                    "This belongs to a run, and none stands before it.", "Try: 12 km, last 4 km @ MP"
                )
            parts[-1] = _modified(parts[-1], bag)
            return
        loose = separator != ";" and bool(parts)
        part = _part(bag, recovering=loose and _takes_recovery(parts[-1], bag))
        if loose and _takes_recovery(parts[-1], bag):
            parts[-1] = _with_recovery(parts[-1], cast(Step, part))
            return
    if separator == "with":
        parts[-1] = _holding(parts[-1], part, text, where)
    else:
        parts.append(part)


def _is_modifier(bag: Bag) -> bool:
    changes = bag.last or bag.change or bag.starts or "PROGRESSION" in bag.marks
    return bool(changes) and not bag.amounts


def _takes_recovery(previous: Part, bag: Bag) -> bool:
    """Whether the item is the recovery of the repeats or the ladder before it."""
    open_end = previous.inner if isinstance(previous, RunWith) else previous
    if not isinstance(open_end, Repeats | Ladder) or open_end.recovery is not None:
        return False
    if (
        bag.target
        or bag.last
        or bag.marks.keys() - {"EQUAL", "BACK", "FILLER"}
        or not (bag.manners or bag.marks)
    ):
        return False
    said = [m for group in bag.manners for m in group]
    plain = [m for m in said if m not in ("easy", "recovery")]
    if (
        _is_strides(open_end)
        and not plain
        and "recovery" not in said
        and not bag.marks.keys() & {"EQUAL", "BACK"}
    ):
        return False  # "6 strides, 10 min easy" is a run after the strides
    return set(said) <= RECOVERING and bool(said or bag.marks.keys() & {"EQUAL", "BACK"})


def _is_strides(part: Repeats | Ladder) -> bool:
    return isinstance(part, Repeats) and all(
        isinstance(p, Step) and "strides" in p.manners for p in part.body
    )


def _with_recovery(part: Part, recovery: Step) -> Part:
    if isinstance(part, RunWith):
        return replace(part, inner=replace(cast(Repeats, part.inner), recovery=recovery))
    return replace(cast(Repeats | Ladder, part), recovery=recovery)


def _holding(outer: Part, inner: Part, text: str, where: tuple[int, int]) -> Part:
    if isinstance(inner, Step) and isinstance(inner.extent, Extent):  # "16 km with 10 km @ MP": once, inside
        inner = Repeats(1, 1, (inner,))
    if isinstance(outer, Step) and isinstance(outer.extent, Extent) and isinstance(inner, Repeats):
        if amount_like(inner, outer.extent) > outer.extent.low:
            raise ShorthandError(
                "What is inside is longer than the whole run.", text, where[0],
                "The whole stands first: 20 km with 3 x 3 km @ MP", where[1] - where[0],
            )  # fmt: skip
        return RunWith(outer, inner)
    raise ShorthandError(
        "“With” joins a run and its last part, or repeats inside it.", text, where[0],
        "Try: 12 km with last 4 km @ MP, or 20 km with 3 x 3 km @ MP", where[1] - where[0],
    )  # fmt: skip


def _modified(previous: Part, bag: Bag) -> Part:
    """Attach "last 4 km @ MP" or "-8 s/km every km" to the run before it."""
    if isinstance(previous, Repeats) and len(previous.body) == 1 and previous.recovery is None:
        return replace(previous, body=(_modified(previous.body[0], bag),))
    plain = isinstance(previous, Step) and isinstance(previous.extent, Extent)
    if bag.last and plain:
        step = cast(Step, previous)
        return _checked(RunWith(step, _last(bag)), bag)
    if not bag.last and plain:
        step = cast(Step, previous)
        start = _start_of(step.manners, step.target, bag)
        return Progression(cast(Extent, step.extent), start, bag.ends, bag.change)
    if not bag.last and isinstance(previous, Progression):
        if (bag.starts and previous.start) or (bag.change and previous.change) or (bag.ends and previous.end):
            raise bag.wrong("The run before it says this already.")
        end, change = bag.ends or previous.end, bag.change or previous.change
        return _sensible(Progression(previous.extent, previous.start or bag.starts, end, change), bag)
    raise bag.wrong(
        "This belongs to a plain run, and the piece before it is none.", "Try: 12 km, last 4 km @ MP"
    )


def _start_of(manners: Sequence[Manner], target: Target | None, bag: Bag) -> Target | None:
    said = target or (Feel(manners[0]) if manners else None)
    if said and bag.starts:
        raise bag.wrong("The start is said twice.", "Try: 6 km progression from MP, 10 s/km faster each km")
    return bag.starts or said


def _sensible(run: Progression, bag: Bag) -> Progression:
    if run.end and run.change:
        raise bag.wrong("Either a last pace or a change for each piece, not both.")
    return run


def _last(bag: Bag) -> Step:
    assert bag.last
    manners, target = _manner_and_target(bag)
    return Step(extent(bag.last), manners, target)


def _checked(run: RunWith, bag: Bag) -> RunWith:
    whole, end = run.outer.extent, run.inner.extent if isinstance(run.inner, Step) else None
    if not isinstance(whole, Extent) or not isinstance(end, Extent) or not bag.last:
        return run
    if whole.is_distance == end.is_distance and end.high >= whole.low:
        bag.last.wrong(
            "The last part is as long as the whole.", "The whole stands first: 12 km with last 4 km"
        )
    return run


def _repeats(node: Node, text: str) -> Repeats:
    """repeats: dashed TIMES (group | phrases)"""
    low, high = count(read_dashed(cast(Node, node.children[0]), text))
    body = cast(Node, node.children[2])
    if body.data == "group":
        inner = next(c for c in body.children if isinstance(c, Tree))
        return Repeats(low, high, read_line(inner, text))
    bag = read_bag(body, text)
    if _is_modifier(bag):
        raise bag.wrong("How long is each repeat?", "Try: 6 x 3 min @ 10K")
    return Repeats(low, high, (_part(bag, repeated=True),))


def _part(bag: Bag, *, recovering: bool = False, repeated: bool = False) -> Part:
    marks = bag.marks
    if marks.keys() & {"RACE", "HALF", "MARATHON"}:
        return _race(bag)
    if marks.keys() & {"STRENGTH", "CROSS", "ACTIVITY"}:
        return _other(bag)
    if bag.last:
        outer = bag.split_at_last()
        step = _part(outer)
        if not isinstance(step, Step) or not isinstance(step.extent, Extent):
            raise bag.wrong("“Last” belongs to a plain run.", "Try: 12 km with last 4 km @ MP")
        return _checked(RunWith(step, _last(bag)), bag)
    if "PROGRESSION" in marks or bag.change or bag.starts:
        return _progression(bag)
    manners, target = _manner_and_target(bag)
    if "LADDER" in marks or (bag.amounts and len(bag.amounts[-1].pieces) > 2):
        return Ladder(rungs(_single(bag)), manners, target)
    if (
        len(manners) == 1
        and manners[0] in COUNTED
        and not repeated
        and (found := _counted(bag, manners, target))
    ):
        return found
    return Step(_amount(bag, manners, recovering), manners, target)


def _single(bag: Bag) -> Dashed:
    if len(bag.amounts) != 1:
        raise bag.wrong("One amount is needed here.", "Try: 8 km easy")
    return bag.amounts[0]


def _counted(bag: Bag, manners: tuple[Manner, ...], target: Target | None) -> Repeats | None:
    """`6 strides`, `6 strides of 20 s`, `strides`: a number without a unit is how many."""
    if bag.amounts and bag.amounts[0].is_bare and bag.amounts[0].pieces[0].value < 100:
        times, rest = bag.amounts[0], bag.amounts[1:]
        if len(rest) > 1:
            raise bag.wrong("Too many amounts in one piece.")
        low, high = count(times)
        return Repeats(low, high, (Step(extent(rest[0]) if rest else None, manners, target),))
    if not bag.amounts and manners[0] == "strides":
        return Repeats(*STRIDES_IF_NOT_SAID, (Step(None, manners, target),))
    return None


def _amount(bag: Bag, manners: tuple[Manner, ...], recovering: bool) -> Extent | Relative | None:
    relative: Relative | None = "equal" if "EQUAL" in bag.marks else "back" if "BACK" in bag.marks else None
    if relative and (bag.amounts or not recovering or bag.marks.keys() >= {"EQUAL", "BACK"}):
        word = bag.marks.get("EQUAL") or bag.marks["BACK"]
        raise bag.wrong(f"“{word}” belongs to a recovery after repeats.", "Try: 8 x 30 s hill, jog back")
    if relative:
        return relative
    if len(bag.amounts) > 1:
        raise bag.wrong("This piece has two amounts.", "Use “;” or “,” between pieces.")
    if bag.amounts:
        if bag.amounts[0].is_bare_clock and set(manners) <= {"easy", "long", "recovery", "steady"}:
            given = bag.amounts[0]
            hours = f"{given.pieces[-1].clock[0]} h {given.pieces[-1].clock[1]}"
            given.wrong(
                f"“{given.written}” could be minutes or hours.", f"Write {hours} or {given.written} min."
            )
        return extent(bag.amounts[0])
    if recovering or set(manners) & NEED_NO_AMOUNT:
        return None
    raise bag.wrong(
        f"How far or how long is “{bag.written}”?", f"Try: 45 min {bag.written} or 8 km {bag.written}"
    )


def _manner_and_target(bag: Bag) -> tuple[tuple[Manner, ...], Target | None]:
    manners, feel = bag.manner()
    target = bag.target
    if isinstance(target, Feel):  # "@ easy" says the manner
        bag.manners.append((target.manner,))
        bag.target = None
        return _manner_and_target(bag)
    if not manners and not target and bag.says("run", "running"):
        manners = ("easy",)  # "4 min run, 1 min walk" is no speed work
    if feel and target:
        raise bag.wrong(f"“{feel.manner}” and a pace do not go together here.", "Say one of them.")
    return manners, target or feel


def _progression(bag: Bag) -> Progression:
    amount = extent(_single(bag))
    manners, _ = bag.manner()
    target = bag.target
    if target and not bag.change:
        raise bag.wrong("From which pace to which?", "Try: 8 km progression from MP to HM")
    start = _start_of(manners if manners != ("long",) else (), target, bag)
    return _sensible(Progression(amount, start, bag.ends, bag.change), bag)


def _race(bag: Bag) -> Race:
    target = bag.target
    named = isinstance(target, RacePace) and target.shift is None and "@" not in bag.written
    if named and not bag.amounts and not bag.marks.keys() & {"HALF", "MARATHON"}:  # "race HM"
        sizes = {"HM": HALF_MM, "MP": MARATHON_MM}
        if size := sizes.get(cast(RacePace, target).race):
            return Race(Extent(size, size, "km"), None)
    if isinstance(target, Feel):
        raise bag.wrong("A race is run at a pace or an effort.", "Try: race 10 km @ goal")
    if bag.amounts:
        return Race(extent(_single(bag)), target)
    half = "HALF" in bag.marks or ("MARATHON" not in bag.marks and target is not None)
    if not bag.marks.keys() & {"HALF", "MARATHON"}:
        raise bag.wrong("How long is the race?", "Try: race 10 km")
    size = HALF_MM if half else MARATHON_MM
    return Race(Extent(size, size, "km"), target)


def _other(bag: Bag) -> Other:
    activity = (
        words.ACTIVITY_OF[" ".join(bag.marks["ACTIVITY"].lower().split())] if "ACTIVITY" in bag.marks else ""
    )
    strength = "STRENGTH" in bag.marks or ("CROSS" not in bag.marks and activity in words.STRENGTH_ACTIVITIES)
    if bag.target or bag.last or any(m != ("easy",) for m in bag.manners):
        raise bag.wrong(
            "Training beside running takes an amount and no more.", "Try: cross-train 45 min bike"
        )
    amount = extent(_single(bag)) if bag.amounts else None
    return Other("strength" if strength else "cross", amount, activity)
