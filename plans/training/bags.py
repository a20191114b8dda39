"""One item of the shorthand as a bag of phrases: how much, in what manner, at what target, in any order."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, cast

from lark import Token, Tree

from plans.training import words
from plans.training.amounts import Dashed, Node, Piece, extent, read_dashed, unit_name, whole_numbers
from plans.training.mistakes import ShorthandError
from plans.training.steps import (
    DISTANCE_UNITS,
    BetweenPaces,
    Change,
    Effort,
    Extent,
    Feel,
    FixedPace,
    HeartRate,
    Manner,
    RaceName,
    RacePace,
    Shift,
    Target,
)

# A weak word says how hard, a strong one says what: "long run, steady" is a long run that is steady.
WEAK: tuple[Manner, ...] = ("easy", "recovery", "steady", "tempo", "hard", "fast", "float")
GENTLE: tuple[Manner, ...] = ("easy", "recovery")


@dataclass(slots=True)
class Bag:
    """What the phrases of one item said."""

    text: str
    start: int
    end: int
    amounts: list[Dashed] = field(default_factory=list)
    manners: list[tuple[Manner, ...]] = field(default_factory=list)
    target: Target | None = None
    marks: dict[str, str] = field(default_factory=dict)
    fillers: list[str] = field(default_factory=list)
    last: Dashed | None = None
    before_last: tuple[list[tuple[Manner, ...]], Target | None] | None = None
    starts: Target | None = None
    ends: Target | None = None
    change: Change | None = None

    def wrong(self, message: str, suggestion: str = "") -> ShorthandError:
        return ShorthandError(message, self.text, self.start, suggestion, self.end - self.start)

    @property
    def written(self) -> str:
        return self.text[self.start : self.end]

    def says(self, *words: str) -> bool:
        """Whether a word that carries no amount, manner or pace stands in it: "run", "between"."""
        return any(word in filler.split() for word in words for filler in self.fillers)

    def split_at_last(self) -> Bag:
        """The bag of what stands before "last ...", in the same item; self keeps what follows it."""
        manners, target = self.before_last or ([], None)
        outer = Bag(self.text, self.start, self.last.start if self.last else self.end)
        outer.amounts, self.amounts = self.amounts, []
        outer.manners, self.manners = manners, self.manners[len(manners) :]
        outer.target = target
        self.target = None if self.target is target else self.target
        return outer

    def manner(self) -> tuple[tuple[Manner, ...], Feel | None]:
        """The manners of the step, and a feel beside a strong one."""
        choice = [m for m in self.manners if len(m) == 2]
        single = list(dict.fromkeys(m[0] for m in self.manners if len(m) == 1))
        if choice:
            if len(choice) > 1 or any(m not in GENTLE for m in single):
                raise self.wrong(f"“{self.written}” asks for too many things at once.", "Use “;” between.")
            return choice[0], None
        strong = [m for m in single if m not in WEAK]
        weak = [m for m in single if m in WEAK and m not in GENTLE]
        if len(strong) > 1 or len(weak) > 1 or (not strong and weak and len(single) > 1):
            both = "” and “".join(single[:2])
            raise self.wrong(f"“{both}” do not go together in one piece.", "Use “;” or “,” between.")
        if strong:
            return (strong[0],), Feel(weak[0]) if weak else None
        if weak:
            return (weak[0],), None
        return (("recovery" if "recovery" in single else single[0],) if single else ()), None


def read_bag(node: Node, text: str) -> Bag:
    bag = Bag(text, node.meta.start_pos, node.meta.end_pos)
    for phrase in cast(list[Node], node.children):
        _add(bag, phrase)
    return bag


def _add(bag: Bag, phrase: Node) -> None:
    children = phrase.children
    match phrase.data:
        case "amount":
            bag.amounts.append(read_dashed(cast(Node, children[0]), bag.text))
        case "manner":
            bag.manners.append(_manners(children))
        case "target" | "bare_pace":
            goal = _race_pace(phrase) if phrase.data == "bare_pace" else _goal_of(children, bag)
            if bag.target is not None:
                raise _at(phrase, bag, "This piece has two paces already.", "Use “;” or “,” between pieces.")
            bag.target = goal
        case "bare_heart_rate" | "bare_effort":
            if bag.target is not None:
                raise _at(phrase, bag, "This piece has two paces already.", "Use “;” or “,” between pieces.")
            bag.target = (
                _heart_rate(phrase, bag) if phrase.data == "bare_heart_rate" else _effort(phrase, bag)
            )
        case "last":
            if bag.last:
                raise _at(phrase, bag, "“Last” stands twice in one piece.")
            bag.before_last = (list(bag.manners), bag.target)
            bag.last = read_dashed(cast(Node, children[-1]), bag.text)
            if bag.amounts:  # "20 km @ MP+40 s/km last 5 km @ HM": two targets, one each
                bag.target = None
        case "start_at":
            _start(bag, phrase)
        case "change" | "signed_change":
            if bag.change:
                raise _at(phrase, bag, "The change of pace stands twice.")
            read = _change if phrase.data == "change" else _signed_change
            bag.change = read(phrase, bag)
        case _:
            mark = cast(Token, children[0])
            if mark.type != "FILLER" and mark.type in bag.marks:
                raise _at(phrase, bag, f"“{mark}” stands twice.")
            bag.marks[mark.type] = str(mark)
            if mark.type == "FILLER":
                bag.fillers.append(str(mark).lower())


def _at(node: Node, bag: Bag, message: str, suggestion: str = "") -> ShorthandError:
    start, end = node.meta.start_pos, node.meta.end_pos
    return ShorthandError(message, bag.text, start, suggestion, end - start)


def _manners(tokens: list[Node | Token]) -> tuple[Manner, ...]:
    names = [
        words.MANNER_OF[" ".join(t.lower().split())] for t in cast(list[Token], tokens) if t.type == "MANNER"
    ]
    return cast(tuple[Manner, ...], tuple(dict.fromkeys(names)))


def _start(bag: Bag, phrase: Node) -> None:
    goals = [c for c in phrase.children if isinstance(c, Tree)]
    if bag.starts:
        raise _at(phrase, bag, "The start stands twice.")
    read = [_goal(g, bag) for g in goals]
    bag.starts, bag.ends = read[0], read[1] if len(read) > 1 else None


def _every(node: Node, bag: Bag) -> Extent:
    given = cast(Node, node.children[-1])
    if given.data == "dashed":
        amount = extent(read_dashed(given, bag.text))
        if amount.low != amount.high:
            raise _at(node, bag, "A change comes after one amount, not a range.")
        return amount
    unit = unit_name(given)
    size = DISTANCE_UNITS.get(unit) or {"s": 1, "min": 60, "h": 3600}[unit]
    return Extent(size, size, unit)


def _built_change(seconds: int, per: str | None, every: Extent | None, node: Node, bag: Bag) -> Change:
    length: Literal["km", "mi"] = (
        "mi" if per == "mi" or (per is None and every and every.unit == "mi") else "km"
    )
    if per not in (None, "km", "mi"):
        raise _at(
            node, bag, "A change of pace is so many seconds per km or per mile.", "10 s/km faster every km"
        )
    if seconds == 0:
        raise _at(node, bag, "A change of no seconds changes nothing.")
    size = DISTANCE_UNITS[length]
    return Change(Shift(seconds, length), every or Extent(size, size, length))


def _change(phrase: Node, bag: Bag) -> Change:
    trees = [c for c in phrase.children if isinstance(c, Tree)]
    amount = read_dashed(trees[0], bag.text)
    seconds = extent(amount)
    if seconds.is_distance or seconds.low != seconds.high:
        amount.wrong(f"“{amount.written}” should be so many seconds.", "10 s/km faster every km")
    per = next((unit_name(t) for t in trees[1:] if t.data == "unit"), None)
    every = next((_every(t, bag) for t in trees[1:] if t.data == "each"), None)
    slower = any(isinstance(c, Token) and c.type == "SLOWER" for c in phrase.children)
    return _built_change(seconds.low if slower else -seconds.low, per, every, phrase, bag)


def _shift(token: Token) -> Shift:
    digits = "".join(c for c in token if c.isdigit())
    length = token.lower().replace("/", " ").split()[-1]
    per: Literal["km", "mi"] = "mi" if words.UNIT_OF.get(length) == "mi" else "km"
    return Shift(int(digits) if token.startswith("+") else -int(digits), per)


def _signed_change(phrase: Node, bag: Bag) -> Change:
    shift = _shift(cast(Token, phrase.children[0]))
    each = cast(Node, phrase.children[-1])
    said = [c.type for c in phrase.children if isinstance(c, Token)]
    seconds = -abs(shift.seconds) if "FASTER" in said else shift.seconds
    seconds = abs(seconds) if "SLOWER" in said else seconds
    return _built_change(seconds, shift.per, _every(each, bag), phrase, bag)


def _goal_of(children: list[Node | Token], bag: Bag) -> Target:
    return _goal(next(c for c in children if isinstance(c, Tree)), bag)


def _race(token: Token) -> RaceName:
    if token.type == "SHORT_RACE":
        return "10K" if token.startswith("10") else "5K"
    if token.type in ("MARATHON", "HALF"):
        return "MP" if token.type == "MARATHON" else "HM"
    return cast(RaceName, words.RACE_OF[" ".join(token.lower().split())])


def _race_pace(node: Node) -> RacePace:
    first = node.children[0]
    token = cast(Token, first.children[0]) if isinstance(first, Tree) else first
    offset = next((c for c in node.children if isinstance(c, Token) and c.type == "OFFSET"), None)
    shift = _shift(offset) if offset else None
    if shift and shift.seconds == 0:
        shift = None
    return RacePace(_race(token), shift)


def _goal(node: Node, bag: Bag) -> Target:
    """goal: a race pace, two of them, a fixed pace, an effort, a heart rate, or a manner."""
    inner = node
    while inner.data in ("goal", "single"):
        inner = cast(Node, inner.children[0])
    match inner.data:
        case "race_pace":
            return _race_pace(inner)
        case "between":
            first, second = (_race(cast(Token, c.children[0])) for c in inner.children if isinstance(c, Tree))
            return BetweenPaces(first, second) if first != second else RacePace(first)
        case "feel":
            return Feel(_manners(inner.children)[0])
        case "fixed_pace":
            return _fixed_pace(inner, bag)
        case "heart_rate":
            return _heart_rate(inner, bag)
        case _:
            return _effort(inner, bag)


def _dashed_in(node: Node, bag: Bag) -> Dashed:
    return read_dashed(next(c for c in node.children if isinstance(c, Tree) and c.data == "dashed"), bag.text)


def _fixed_pace(node: Node, bag: Bag) -> FixedPace:
    given = _dashed_in(node, bag)
    per = unit_name(next(c for c in node.children if isinstance(c, Tree) and c.data == "unit"))
    if per not in ("km", "mi") or len(given.pieces) > 2 or (given.is_bare):
        raise _at(node, bag, f"“{given.written}” is not a pace.", "Write 4:30/km or 7:15/mi.")
    both = sorted(extent(Dashed((p,), given.start, given.end, given.text)).low for p in _timed(given))
    slowest = 2400 if per == "km" else 3862  # 40:00 per km: slower than any walk
    if both[0] < 90 or both[-1] > slowest:
        raise _at(node, bag, f"“{given.written}” is no running pace.", "Write 4:30/km or 7:15/mi.")
    return FixedPace(both[0], both[-1], "km" if per == "km" else "mi")


def _timed(given: Dashed) -> list[Piece]:
    """The pieces, each with the last one's unit where it has none."""
    return [Piece(p.value, p.unit or given.unit, p.clock) for p in given.pieces]


def _effort(node: Node, bag: Bag) -> Effort:
    given = _dashed_in(node, bag)
    if node.data == "effort_of_ten" and str(node.children[-1]) != "10":
        raise _at(node, bag, "Effort is counted out of ten.", "Write effort 7 or 7/10.")
    return Effort(*whole_numbers(given, 10, "effort"))


def _heart_rate(node: Node, bag: Bag) -> HeartRate:
    given = _dashed_in(node, bag)
    percent = any(isinstance(c, Token) and c.type == "PERCENT" for c in node.children)
    low, high = whole_numbers(given, 100 if percent else 230, "heart rate")
    if low < (30 if percent else 40):
        raise _at(node, bag, f"“{given.written}” is no heart rate.", "Write HR 150-160 or 80-85 % HR.")
    return HeartRate(low, high, "%" if percent else "bpm")
