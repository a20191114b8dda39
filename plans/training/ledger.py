"""The ledger: what was planned, advised and run, settled session by session before anything is decided.

Law: nothing in this file looks ahead or cuts. Days are ordinals here (whole numbers are quicker and
cannot carry a time of day). Amounts are "native" (mm, or s for a session written in time) until
`Item.unit` turns them into the ledger's one measure: mm, or s when every run of the plan is in time.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Literal

from plans.training.rising import HELD_WEEKS, Number
from plans.training.schedule import HARD, RUNS, Inputs, Log, Session, Standing

State = Literal["done", "unknown", "missed", "gone", "open", "again"]
BEFORE = HELD_WEEKS
"""Weeks before the first one that can still matter: as far back as "held" looks."""

ABSENT_RULES = frozenset({"no_day", "hold"})
"""Rules that took a run away because the athlete could not run: in a break these count as missed."""


@dataclass(slots=True)
class Item:
    """A run on its way through the planner. `state` again: missed for lack of time, may move."""

    session: Session
    state: State
    day: int
    slot: int
    planned: int
    unit: Number
    advised: Number = 0
    done: Number = 0
    origin: int = 0
    reason_missed: str = ""
    absent: bool = False
    logged: bool = False
    # stage one
    moved: bool = False
    limit: int | None = None
    barred: str = ""
    dropped: str = ""
    swapped_with: str = ""
    # stage two
    amount: int = 0
    most: int = 0  # what its own limits allow
    level: int = 0
    easy: bool = False
    eased: bool = False
    counted: Number | None = None
    rule: str = ""
    numbers: dict[str, Any] = field(default_factory=dict)

    @property
    def hard(self) -> bool:
        return self.session.role in HARD and not self.barred and not self.dropped

    @property
    def fixed(self) -> bool:
        return self.state not in ("open", "again")

    def seconds(self, amount: int | None = None) -> int:
        """Seconds the run takes at this native amount (rounded up), easy pace when turned easy."""
        s = self.session
        native = self.planned if amount is None else amount
        if s.written_in == "time":
            return native
        if s.role == "quality" and (self.easy or self.barred):
            return -(-native * easy_s_per_km(s) // 1_000_000)
        if s.role == "quality" and self.level and native == s.levels[self.level].mm:
            return s.levels[self.level].s
        return -(-native * s.s // s.mm) if s.mm else s.s

    def native_in(self, seconds: int) -> int:
        """The most native amount that fits into so many seconds."""
        s = self.session
        if s.written_in == "time":
            return seconds
        if s.role == "quality" and (self.easy or self.barred):
            return seconds * 1_000_000 // easy_s_per_km(s)
        return seconds * s.mm // s.s if s.s else s.mm


def easy_s_per_km(session: Session) -> int:
    """Seconds a km when run easy; without a given pace, the session's own mean."""
    return session.s_per_km or max(1, session.s * 1_000_000 // max(1, session.mm))


@dataclass(slots=True)
class Ledger:
    """All weeks, those before the first included: week w of the schedule is index w + BEFORE."""

    inputs: Inputs
    first: int
    kinds: list[str]
    items: list[Item]
    in_time: bool
    pace: Fraction  # s for a mm, the plan's mean: turns absolute rails into minutes
    planned: list[Number]  # fits under a cap: no races
    planned_all: list[Number]  # with races, for references
    actual: list[Number]  # run so far, with races
    advised: list[Number]
    short: list[Number]  # by how much the run of each week that fell shortest did
    fit_done: list[Number]  # run so far, no races
    fit_advised: list[Number]
    runs: list[tuple[int, Number]]  # what was run, by day
    planned_runs: list[tuple[int, Number]]
    current: int  # index of the week of today
    today: int

    def week_of(self, day: int) -> int:
        return (day - self.first) // 7 + BEFORE

    def start(self, index: int) -> int:
        return self.first + (index - BEFORE) * 7

    def rail(self, mm: int) -> Number:
        """An absolute rail in the ledger's measure."""
        return mm * self.pace if self.in_time else mm

    def step_of(self, item: Item) -> int:
        return self.inputs.step_s if item.session.written_in == "time" else self.inputs.step

    def credited(self, index: int) -> Number:
        """What a week counts in references: in full when nearly all of what was advised was run.

        Nearly all: its share, or all runs but one; and of the last four weeks together nearly everything.
        """
        actual, advised = self.actual[index], self.advised[index]
        if actual >= advised or index < BEFORE:
            return actual
        rails = self.inputs.rails
        but_one = actual + self.short[index]
        if actual < rails.credit * advised and but_one < rails.credit4 * advised:
            return actual
        four, told = sum(self.actual[index - 3 : index + 1]), sum(self.advised[index - 3 : index + 1])
        return advised if four >= rails.credit4 * told else actual


def stays_missed(ledger: Ledger, item: Item) -> None:
    """A key session that found no other day: only now it counts against what was advised."""
    item.state, item.absent = "missed", True
    index = ledger.week_of(item.origin)
    if index < len(ledger.kinds):
        ledger.advised[index] += item.advised
        ledger.fit_advised[index] += item.advised
        ledger.short[index] = max(ledger.short[index], item.advised)


def native(session: Session) -> int:
    """Planned amount of a session in the unit it is written in."""
    return session.s if session.written_in == "time" else session.mm


def open_ledger(inputs: Inputs) -> Ledger:
    """Settle every session of the plan against its standing and its log."""
    runs = [s for s in inputs.plan if s.role in RUNS]
    in_time = any(s.role != "race" for s in runs) and all(
        s.written_in == "time" for s in runs if s.role != "race"
    )
    total_mm, total_s = sum(s.mm for s in runs), sum(s.s for s in runs)
    pace = Fraction(total_s, total_mm) if total_mm else Fraction(360, 1_000_000)
    first = inputs.weeks[0].first_day.toordinal()
    size = len(inputs.weeks) + BEFORE
    today = inputs.today.toordinal()
    ledger = Ledger(
        inputs, first, ["base"] * BEFORE + [w.kind for w in inputs.weeks], [], in_time, pace,
        [0] * size, [0] * size, [0] * size, [0] * size, [0] * size, [0] * size, [0] * size, [], [],
        max(BEFORE, min(size, (today - first) // 7 + BEFORE)), today,
    )  # fmt: skip
    logs = _latest(inputs.logs)
    for session in sorted(runs, key=lambda s: (s.day, s.slot, s.key)):
        _enter(ledger, session, logs.get(session.key))
    _enter_declared(ledger)
    _enter_extra(ledger)
    return ledger


def _latest(logs: tuple[Log, ...]) -> dict[str, Log]:
    """The log that counts for each session: the last day's; of one day the fullest."""
    chosen: dict[str, Log] = {}
    order = {"missed": 0, "part": 1, "done": 2}
    for log in sorted(logs, key=lambda x: (x.day, order[x.outcome], x.mm or 0, x.s or 0, x.reason)):
        if log.key is not None:
            chosen[log.key] = log
    return chosen


def _unit(ledger: Ledger, session: Session) -> Number:
    if ledger.in_time:
        return 1 if session.written_in == "time" else Fraction(session.s, max(1, session.mm))
    return 1 if session.written_in == "distance" else Fraction(session.mm, max(1, session.s))


def _enter(ledger: Ledger, session: Session, log: Log | None) -> None:
    planned, unit = native(session), _unit(ledger, session)
    index = ledger.week_of(session.day.toordinal())
    amount = planned * unit
    race_put_in = session.added and session.role == "race"  # it takes another session's place
    if not race_put_in:
        ledger.planned_all[index] += amount
        ledger.planned_runs.append((session.day.toordinal(), amount))
    if session.role != "race":
        ledger.planned[index] += amount
    standing = ledger.inputs.standing.get(session.key)
    item = _settle(ledger, session, standing, log, planned, unit)
    ledger.items.append(item)
    if item.fixed:
        _book(ledger, item, standing)


def _settle(
    ledger: Ledger, s: Session, standing: Standing | None, log: Log | None, planned: int, unit: Number
) -> Item:
    today = ledger.today
    day = (standing.day if standing else s.day).toordinal()
    slot = standing.slot if standing else s.slot
    item = Item(
        s, "open", day, slot, planned, unit, origin=day, amount=planned, most=planned, logged=log is not None
    )
    told = (standing.s if s.written_in == "time" else standing.mm) if standing else planned
    item.advised = 0 if standing and standing.dropped_by else told * unit
    if standing and standing.counted is not None:  # what a pin holds above a limit is not credited either
        item.advised = min(item.advised, standing.counted * unit)
    unknown_from = ledger.inputs.unknown_from or ledger.inputs.today
    if log and log.outcome != "missed":
        item.state, item.day = "done", log.day.toordinal()
        item.done = _run(s, standing, log, told) * unit
        item.absent = item.done == 0
        if standing and standing.counted is not None:
            item.done = min(item.done, standing.counted * unit)
    elif standing and standing.dropped_by and day < today:
        item.state = "gone"
        item.absent = standing.dropped_by in ABSENT_RULES
    elif log and (log.day.toordinal() >= day or day >= today):
        item.state, item.origin = "missed", log.day.toordinal()
        item.reason_missed = log.reason
        item.day = item.origin
        if _may_move(ledger, item):
            item.state = "again"
        else:
            item.absent = True
    elif day < today:
        item.state = "unknown" if day >= unknown_from.toordinal() else "missed"
        item.absent = item.state == "missed"
        if item.state == "unknown":
            item.done = item.advised
    elif s.day.toordinal() >= today:
        item.day, item.slot = s.day.toordinal(), s.slot  # still to come: begin from the plan again
    else:
        item.moved = True  # its planned day is gone by, it was moved to one still to come
    return item


def _may_move(ledger: Ledger, item: Item) -> bool:
    """Missed for lack of time or travel, a key session, in the week of today or later."""
    s = item.session
    key = s.role in ("long", "quality") and not s.pinned
    return key and item.reason_missed in ("time", "travel") and ledger.week_of(item.origin) >= ledger.current


def _run(s: Session, standing: Standing | None, log: Log, told: int) -> int:
    """Native amount that counts for a logged run: all of it from the low end of its range on."""
    in_time = s.written_in == "time"
    amount = log.s if in_time else log.mm
    other = log.mm if in_time else log.s
    if amount is None and other is not None and s.mm and s.s:
        amount = other * s.s // s.mm if in_time else other * s.mm // s.s
    if amount is None:
        return told if log.outcome == "done" else told // 2
    low = s.low_s if in_time else s.low_mm
    planned = native(s)
    low_here = told if low is None or not planned else Fraction(low * told, planned)
    if standing and standing.dropped_by:
        return amount
    return max(amount, told) if amount >= low_here else amount


def _book(ledger: Ledger, item: Item, standing: Standing | None) -> None:
    """Enter a settled run in its week: advised on the day it stood, run on the day it was run."""
    size = len(ledger.kinds)
    stood = (standing.day if standing else item.session.day).toordinal()
    told, ran = ledger.week_of(stood), min(size - 1, max(0, ledger.week_of(item.day)))
    race = item.session.role == "race"
    if item.state != "gone" and 0 <= told < size:
        ledger.advised[told] += item.advised
        lacks = item.advised - (item.done if ran == told else 0)
        ledger.short[told] = max(ledger.short[told], lacks)
        if not race:
            ledger.fit_advised[told] += item.advised
    if item.done:
        ledger.actual[ran] += item.done
        ledger.runs.append((item.day, item.done))
        if not race:
            ledger.fit_done[ran] += item.done


def _enter_declared(ledger: Ledger) -> None:
    """The weeks before the first: what was declared and signed (else as the first planned week)."""
    inputs = ledger.inputs
    first_week = [a for d, a in ledger.planned_runs if d < ledger.first + 7]
    weekly = ledger.planned[BEFORE] if inputs.weekly_mm is None else ledger.rail(inputs.weekly_mm)
    longest = max(first_week, default=0) if inputs.longest_mm is None else ledger.rail(inputs.longest_mm)
    for i in range(BEFORE):
        ledger.planned[i] = ledger.planned_all[i] = ledger.advised[i] = weekly
        ledger.actual[i] = weekly
    ledger.runs.append((ledger.first - 1, longest))
    ledger.planned_runs.append((ledger.first - 1, longest))


def _enter_extra(ledger: Ledger) -> None:
    """Runs outside the plan; before its first week they count where they exceed what was declared."""
    early: dict[int, Number] = {}
    for log in ledger.inputs.logs:
        if log.key is not None or log.outcome == "missed":
            continue
        if ledger.in_time:
            amount: Number = log.s if log.s is not None else (log.mm or 0) * ledger.pace
        else:
            amount = log.mm if log.mm is not None else (log.s or 0) / ledger.pace
        day = log.day.toordinal()
        index = ledger.week_of(day)
        if amount <= 0 or not 0 <= index < len(ledger.kinds):
            continue
        ledger.runs.append((day, amount))
        if index < BEFORE:
            early[index] = early.get(index, 0) + amount
        else:
            ledger.actual[index] += amount
            ledger.fit_done[index] += amount
    for index, amount in early.items():
        ledger.actual[index] = max(ledger.actual[index], amount)
