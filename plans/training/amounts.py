"""Numbers of the shorthand: from parsed pieces to exact extents, and back to text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import NoReturn, cast

from lark import Token, Tree

from plans.training.mistakes import ShorthandError
from plans.training.steps import DISTANCE_UNITS, TIME_UNITS, Extent, Unit

Node = Tree[Token]
LONGEST_MM = 400_000_000
LONGEST_S = 24 * 3600
MOST_REPEATS = 99
LEAST_BARE_METRES = 100  # "6 x 800" is metres, "6 x 3" is not said


@dataclass(frozen=True, slots=True)
class Piece:
    """One number as written. `seconds` is set instead of `value` where colons or two units were used."""

    value: Fraction
    unit: Unit | None
    clock: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Dashed:
    """One number, a range of two, or a ladder of more, and where it stands in the text."""

    pieces: tuple[Piece, ...]
    start: int
    end: int
    text: str

    def wrong(self, message: str, suggestion: str = "") -> NoReturn:
        raise ShorthandError(message, self.text, self.start, suggestion, self.end - self.start)

    @property
    def written(self) -> str:
        return self.text[self.start : self.end]

    @property
    def unit(self) -> Unit | None:
        return self.pieces[-1].unit

    @property
    def is_bare(self) -> bool:
        """No unit and no colon anywhere: a count, or metres."""
        return all(p.unit is None and not p.clock for p in self.pieces)

    @property
    def is_bare_clock(self) -> bool:
        """Like 2:15, which could be minutes or hours."""
        return any(len(p.clock) == 2 and p.unit is None for p in self.pieces) and self.unit is None


def _number(token: Token) -> Fraction:
    text = str(token)
    if "," in text:
        whole, part = text.split(",")
        text = whole + part if len(part) == 3 else f"{whole}.{part}"
    return Fraction(text)


def _unit(node: Node) -> Unit:
    return cast(Unit, cast(Token, node.children[0]).type.removeprefix("UNIT_").lower())


def _piece(node: Node) -> Piece:
    first = cast(Token, node.children[0])
    if node.data == "hours_minutes":
        minutes = _number(cast(Token, node.children[2]))
        return Piece(_number(first) * 3600 + minutes * 60, "h", (0,))
    if node.data == "minutes_seconds":
        seconds = _number(cast(Token, node.children[2]))
        return Piece(_number(first) * 60 + seconds, "min", (0,))
    unit = _unit(cast(Node, node.children[1])) if len(node.children) > 1 else None
    if first.type == "CLOCK":
        fields = tuple(int(field) for field in first.split(":"))
        return Piece(Fraction(0), unit or ("h" if len(fields) == 3 else None), fields)
    return Piece(_number(first), unit)


def read_dashed(node: Node, text: str) -> Dashed:
    pieces = tuple(_piece(c) for c in node.children if isinstance(c, Tree))
    return Dashed(pieces, node.meta.start_pos, node.meta.end_pos, text)


def unit_name(node: Node) -> Unit:
    return _unit(node)


def _clock_seconds(piece: Piece, unit: Unit | None, where: Dashed) -> Fraction:
    fields = piece.clock
    if any(field > 59 for field in fields[1:]):
        where.wrong(f"“{where.written}” has more than 59 after the colon.")
    if len(fields) == 3:
        return Fraction(fields[0] * 3600 + fields[1] * 60 + fields[2])
    if unit == "h":
        return Fraction(fields[0] * 3600 + fields[1] * 60)
    if unit not in (None, "min"):
        where.wrong(
            f"“{where.written}” is a time, and {unit} does not go with it.", "Write 1:30 min or 90 s."
        )
    return Fraction(fields[0] * 60 + fields[1])


def _base(piece: Piece, unit: Unit | None, where: Dashed) -> tuple[int, Unit]:
    """Whole mm or s of one piece, and the unit it reads back in."""
    if piece.clock == (0,):
        assert piece.unit
        amount = _whole(piece.value, piece.unit, where)
        return amount, "min" if amount < 3600 else piece.unit
    if piece.clock:
        shown: Unit = "h" if len(piece.clock) == 3 or unit == "h" else "min"
        amount = _whole(_clock_seconds(piece, unit, where), shown, where)
        return amount, "min" if amount < 3600 else shown
    if unit is None:
        if piece.value.denominator == 1 and piece.value >= LEAST_BARE_METRES:
            return _whole(piece.value * 1000, "m", where), "m"
        n = where.written
        if where.text[: where.start].rstrip().endswith(("+", "-")):
            where.wrong(
                f"{n} seconds for each km or for each mile?", f"Write {n} s/km or {n} s/mi after the pace."
            )
        where.wrong(f"“{n}” of what? A unit is missing.", f"Write {n} min, {n} km or {n} s.")
    factor = DISTANCE_UNITS.get(unit) or TIME_UNITS[unit]
    return _whole(piece.value * factor, unit, where), unit


def _whole(value: Fraction, unit: Unit, where: Dashed) -> int:
    amount = (2 * value.numerator + value.denominator) // (2 * value.denominator)
    if amount < 1:
        where.wrong(f"“{where.written}” is no amount at all.")
    if amount > (LONGEST_MM if unit in DISTANCE_UNITS else LONGEST_S):
        where.wrong(f"“{where.written}” is more than 400 km or 24 hours.", "Is the unit right?")
    return amount


def rungs(where: Dashed) -> tuple[Extent, ...]:
    """Each piece as an amount of its own; a piece without a unit takes the last one's."""
    given = where.unit
    found = [_base(piece, piece.unit or given, where) for piece in where.pieces]
    if len({unit in DISTANCE_UNITS for _, unit in found}) > 1:
        where.wrong(f"“{where.written}” mixes distances and times.")
    return tuple(Extent(amount, amount, unit) for amount, unit in found)


def extent(where: Dashed) -> Extent:
    """One amount or a range of two."""
    if len(where.pieces) > 2:
        where.wrong(f"“{where.written}” has more than two numbers.", "A ladder stands on its own.")
    found = rungs(where)
    low, high = found[0], found[-1]
    if low.low > high.low:
        where.wrong(f"“{where.written}” goes from the larger to the smaller.", "Put the smaller first.")
    return Extent(low.low, high.high, low.unit)


def whole_numbers(where: Dashed, most: int, what: str) -> tuple[int, int]:
    """A count or a range of two, without a unit."""
    values = [p.value for p in where.pieces]
    whole = where.is_bare and len(values) <= 2 and all(v.denominator == 1 for v in values)
    if not whole or values[0] > values[-1] or values[-1] > most:
        where.wrong(f"“{where.written}” is no {what}: a whole number up to {most}, or two like 4-5.")
    return int(values[0]), int(values[-1])


def count(where: Dashed) -> tuple[int, int]:
    low, high = whole_numbers(where, MOST_REPEATS, "number of repeats")
    if low < 1:
        where.wrong("Repeats begin at one.")
    return low, high


def _plain(number: Decimal) -> str:
    return format(number.normalize(), "f")


def _miles(mm: int) -> str:
    """The shortest decimal that reads back to the same millimetres."""
    for places in range(8):
        shown = round(Fraction(mm, 1_609_344), places)
        if (2 * shown * 1_609_344 + 1) // 2 == mm:
            break
    return _plain(Decimal(shown.numerator) / Decimal(shown.denominator))


def _one(amount: int, unit: Unit) -> tuple[str, bool]:
    """The number as text, and whether a unit must follow for it to be read back."""
    match unit:
        case "km":
            return _plain(Decimal(amount).scaleb(-6)), True
        case "m":
            return _plain(Decimal(amount).scaleb(-3)), True
        case "mi":
            return _miles(amount), True
        case "s":
            return str(amount), True
        case "min":
            return (str(amount // 60) if amount % 60 == 0 else f"{amount // 60}:{amount % 60:02d}"), True
        case _:
            hours, rest = divmod(amount, 3600)
            if rest == 0:
                return str(hours), True
            if rest % 60:
                return f"{hours}:{rest // 60:02d}:{rest % 60:02d}", False
            return f"{hours} h {rest // 60} min", False


def write_extent(amount: Extent) -> str:
    """`26-29 km`, `90 s`, `2 h 15 min`: text that `extent` reads back to the same amount."""
    low, low_needs = _one(amount.low, amount.unit)
    if amount.low == amount.high:
        return f"{low} {amount.unit}" if low_needs else low
    high, high_needs = _one(amount.high, amount.unit)
    if low_needs and high_needs:
        return f"{low}-{high} {amount.unit}"
    return "-".join(
        f"{t} {amount.unit}" if needs else t for t, needs in ((low, low_needs), (high, high_needs))
    )


def write_rungs(ladder: Sequence[Extent]) -> str:
    """`2-4-6-4-2 min`; pieces of different units each carry their own."""
    units = {rung.unit for rung in ladder}
    parts = [_one(rung.low, rung.unit) for rung in ladder]
    if len(units) == 1 and all(needs for _, needs in parts):
        return f"{'-'.join(text for text, _ in parts)} {ladder[0].unit}"
    return "-".join(
        f"{text} {rung.unit}" if needs else text for rung, (text, needs) in zip(ladder, parts, strict=True)
    )
