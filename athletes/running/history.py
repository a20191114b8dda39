"""Past runs in a table: CSV text in, runs out, with what is wrong in which row.

Format: RFC 4180, and what spreadsheets make of it (semicolons, tabs, a byte order mark). The columns are found by
their heads; where the first row is a run already (RFC 4180, 2.3: a head is optional), by what stands in it. Whoever
sent the file may say otherwise.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final, Literal

from athletes.running.units import Distance, Duration, Pace, UnitError, Units, parse_distance, parse_duration

MOST_BYTES: Final = 1_000_000
MOST_ROWS: Final = 5_000
OLDEST: Final = timedelta(days=5 * 366)
Column = Literal["day", "distance", "time"]
HEADS: Final[Mapping[Column, tuple[str, ...]]] = {
    "day": ("date", "day", "start", "when"),
    "distance": ("distance", "dist", "km", "miles", "mi", "length"),
    "time": ("moving", "time", "duration", "elapsed"),
}
ISO: Final = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
PARTS: Final = re.compile(r"(\d{1,2})[./](\d{1,2})[./](\d{4}|\d{2})\b")
WORDED: Final = re.compile(r"\d{1,2} [A-Za-z]+ \d{4}")
AMOUNT: Final = re.compile(r"\d+([.,:]\d+)*\s*([a-z]+)?", re.IGNORECASE)
SLOWEST, FASTEST = Pace.from_s_per_km(40 * 60), Pace.from_s_per_km(120)
FURTHEST: Final = Distance.from_km(250)


class HistoryError(ValueError):
    """A file that is no table of runs; the message says what is the matter and what to do."""


class UnknownColumns(HistoryError):
    """A table whose heads don't say which column is what: `heads` to choose from, `found` what could be told."""

    def __init__(self, heads: Heads, found: Mapping[Column, int], missing: Sequence[str]) -> None:
        super().__init__(
            f"No column for the {' and the '.join(missing)} was found. Let the first row name the columns, "
            "like: date, distance, time."
        )
        self.heads, self.found = heads, found


@dataclass(frozen=True, slots=True)
class PastRun:
    """`row` counts from 1, the head and empty rows included, as a spreadsheet shows it."""

    row: int
    day: date
    distance: Distance
    time: Duration | None


@dataclass(frozen=True, slots=True)
class Wrong:
    row: int
    why: str


@dataclass(frozen=True, slots=True)
class Heads:
    """The names of the columns; without a row of names, `first` shows what stands in each of the first run."""

    names: tuple[str, ...]
    first: tuple[str, ...] = ()

    @property
    def missing(self) -> bool:
        return bool(self.first)

    def words(self) -> tuple[str, ...]:
        """Each column for somebody who has to tell them apart."""
        if self.missing:
            return tuple(f"column {n} ({cell[:24] or 'empty'})" for n, cell in enumerate(self.first, 1))
        return tuple(name or f"column {n}" for n, name in enumerate(self.names, 1))


@dataclass(frozen=True, slots=True)
class History:
    """`columns` says which column was read as what (an index into `heads`); runs are sorted by day."""

    heads: Heads
    columns: Mapping[Column, int]
    runs: tuple[PastRun, ...]
    wrong: tuple[Wrong, ...]
    month_first: bool


def read_history(
    text: str,
    *,
    units: Units,
    today: date,
    columns: Mapping[Column, int] | None = None,
    month_first: bool | None = None,
) -> History:
    """The runs of a CSV file. `units` hold for bare numbers where the head names none.

    Raises HistoryError where no table of runs can be read at all, UnknownColumns where somebody has to say which
    column is which.
    """
    heads, rows = _table(text)
    found = dict(columns) if columns else _find(heads)
    missing = [name for name in ("day", "distance") if name not in found]
    if missing:
        unknown = UnknownColumns(heads, found, missing)
        raise unknown if len(heads.names) > 1 else HistoryError(str(unknown))
    if max(found.values()) >= len(heads.names):
        raise HistoryError("That column is not in this file.")
    if month_first is None:
        month_first = _month_first([row[found["day"]] for _, row in rows if len(row) > found["day"]])
    reader = _Reader(heads.names, found, units, today, month_first)
    runs: list[PastRun] = []
    wrong: list[Wrong] = []
    for number, row in rows:
        try:
            runs.append(reader.run(number, row))
        except (HistoryError, UnitError) as error:
            wrong.append(Wrong(number, str(error)))
    if not runs and not wrong:
        raise HistoryError("There is a head in this file, and no run under it.")
    return History(heads, found, tuple(sorted(runs, key=lambda r: (r.day, r.row))), tuple(wrong), month_first)


def _table(text: str) -> tuple[Heads, list[tuple[int, list[str]]]]:
    """The names of the columns, and the rows under them that are not empty, each with its number."""
    rows = [(number, row) for number, row in enumerate(_rows(text), 1) if any(cell.strip() for cell in row)]
    if not rows:
        raise HistoryError("This file is empty.")
    top = tuple(cell.strip() for cell in rows[0][1])
    headless = any(_is_day(cell) for cell in top) and any(_is_amount(cell) for cell in top)
    heads = Heads(("",) * len(top), top) if headless else Heads(top)
    rows = rows[not headless :]
    if len(rows) > MOST_ROWS:
        raise HistoryError(f"This file has {len(rows)} rows; at most {MOST_ROWS} are read at once.")
    return heads, rows


def _rows(text: str) -> list[list[str]]:
    text = text.removeprefix("\ufeff")
    if not text.strip():
        raise HistoryError("This file is empty.")
    if "\0" in text:
        raise HistoryError("This is no CSV file: save the table as CSV first.")
    first = next(line for line in text.splitlines() if line.strip())
    delimiter = max(",;\t", key=first.count)
    try:
        rows = list(csv.reader(text.splitlines(keepends=True), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise HistoryError(f"This table can't be read as CSV: {error}.") from error
    return rows


def heads_of(text: str) -> Heads:
    """The names of the columns. Raises HistoryError where there is no table."""
    return _table(text)[0]


def _find(heads: Heads) -> dict[Column, int]:
    """The first column whose head has the word, the words in the order of how surely they say it."""
    if heads.missing:
        return _find_in_run(heads.first)
    found: dict[Column, int] = {}
    for column, words in HEADS.items():
        for word in words:
            at = next(
                (n for n, head in enumerate(heads.names) if _has(head, word) and n not in found.values()),
                None,
            )
            if at is not None:
                found[column] = at
                break
    return found


def _find_in_run(cells: Sequence[str]) -> dict[Column, int]:
    """The first day, the first amount without a colon; the first with one after it, else before it."""
    amounts = [n for n, cell in enumerate(cells) if _is_amount(cell)]
    kinds: dict[Column, list[int]] = {
        "day": [n for n, cell in enumerate(cells) if _is_day(cell)],
        "distance": [n for n in amounts if ":" not in cells[n]],
        "time": [n for n in amounts if ":" in cells[n]],
    }
    found = {column: places[0] for column, places in kinds.items() if places}
    if "distance" in found and (after := [n for n in kinds["time"] if n > found["distance"]]):
        found["time"] = after[0]  # what stands before it is the hour at which the run began
    return found


def _is_day(cell: str) -> bool:
    return bool(ISO.match(cell) or PARTS.match(cell) or WORDED.fullmatch(cell))


def _is_amount(cell: str) -> bool:
    return bool(AMOUNT.fullmatch(cell)) and not _is_day(cell)


def _has(head: str, word: str) -> bool:
    return word in re.findall(r"[a-z]+", head.lower())


def _month_first(days: Sequence[str]) -> bool:
    """3/14/2026 shows it. Where nothing does, the day comes first."""
    pairs = [(int(m[1]), int(m[2])) for text in days if (m := PARTS.search(text))]
    return any(second > 12 for _, second in pairs) and not any(first > 12 for first, _ in pairs)


@dataclass(frozen=True)
class _Reader:
    heads: tuple[str, ...]
    columns: Mapping[Column, int]
    units: Units
    today: date
    month_first: bool

    def run(self, number: int, row: Sequence[str]) -> PastRun:
        day = self._day(self._cell(row, "day"))
        distance = self._distance(self._cell(row, "distance"))
        text = self._cell(row, "time") if "time" in self.columns else ""
        time = self._time(text) if text else None
        if time and not SLOWEST <= Pace(distance, time) <= FASTEST:
            raise HistoryError("distance and time don't go together: nobody runs like that")
        return PastRun(number, day, distance, time)

    def _cell(self, row: Sequence[str], column: Column) -> str:
        at = self.columns[column]
        return row[at].strip() if at < len(row) else ""

    def _day(self, text: str) -> date:
        try:
            if found := ISO.search(text):
                day = date(int(found[1]), int(found[2]), int(found[3]))
            elif found := PARTS.search(text):
                one, two, year = (int(part) for part in found.groups())
                day = date(year + 2000 * (year < 100), *((one, two) if self.month_first else (two, one)))
            else:
                day = datetime.strptime(text, "%d %B %Y").date()  # noqa: DTZ007 (only the day is kept)
        except ValueError as error:
            raise HistoryError(f"“{text[:40]}” is no day; write it like 2026-03-14") from error
        if day > self.today:
            raise HistoryError(f"{day} is still to come")
        if day < self.today - OLDEST:
            raise HistoryError(f"{day} is more than five years ago")
        return day

    def _distance(self, text: str) -> Distance:
        head = self.heads[self.columns["distance"]].lower()
        words = re.findall(r"[a-z]+", head)
        units: Units = "mi" if {"mi", "miles", "mile"} & set(words) else "km" if "km" in words else self.units
        if re.fullmatch(r"[\d.,]+", text) and {"m", "metres", "meters"} & set(words):
            text = f"{text} m"
        distance = parse_distance(text, units)
        if distance > FURTHEST:
            raise HistoryError(f"{text} is further than 250 km; is the unit right?")
        return distance

    def _time(self, text: str) -> Duration:
        words = re.findall(r"[a-z]+", self.heads[self.columns["time"]].lower())
        if re.fullmatch(r"\d+([.,]\d+)?", text):
            number = float(text.replace(",", "."))
            if {"min", "minutes", "mins"} & set(words):
                return Duration(round(number * 60_000))
            if {"s", "sec", "secs", "seconds"} & set(words):
                return Duration(round(number * 1000))
        return parse_duration(text)
