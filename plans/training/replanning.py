"""Re-balancing: the smallest change to the coach's plan that keeps every guard rail, with its reason.

One forward pass. Stage one gives every run its day, from plan, calendar, logs and holds; stage two
walks the weeks in order, computes each week's cap from what earlier weeks realise, and only cuts.
Because no cap falls when an earlier volume rises, one walk finds the largest caps there are; nearest
weeks come first. The same input gives the same output, whatever its order.
"""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from typing import Any

from plans.training.barring import apply_calm, apply_holds, apply_races
from plans.training.breaks import Off, find_breaks
from plans.training.caps import LongRuns, WeekCap, breaks_here, holds_on, week_cap
from plans.training.cutting import WeekCut
from plans.training.gates import SHOWN_DAYS, SILENT_RUN_DAYS, silence, silent_days, verdicts
from plans.training.ledger import BEFORE, Item, Ledger, open_ledger
from plans.training.letting_stand import let_stand
from plans.training.limits import limit_hard, limit_runs
from plans.training.placing import place
from plans.training.reasons import amount_words, name_of, reason_for, restored
from plans.training.rising import Number
from plans.training.schedule import (
    FULL,
    RUNS,
    Break,
    Change,
    Inputs,
    PinConflict,
    Placed,
    Reason,
    Result,
    Standing,
    Verdict,
    WeekResult,
)


def rebalance(inputs: Inputs) -> Result:
    """Re-balance what is still to come of one athlete's schedule. Pure; `inputs.today` is the clock.

    Raises ValueError when the weeks are not seven days apart or a session lies outside them.
    """
    _check(inputs)
    ledger = open_ledger(inputs)
    silent = silent_days(ledger)
    if silent >= SILENT_RUN_DAYS and not inputs.signed_silence:
        return _as_it_stands(ledger, (silence(ledger, silent),))
    breaks = _choose_days(ledger)
    apply_calm(ledger, breaks)
    walk = _Walk(ledger, breaks)
    for index in range(ledger.current, len(ledger.kinds)):
        walk.week(index)
    return walk.result()


def breaks_of(inputs: Inputs) -> tuple[Break, ...]:
    """The days off alone, as `rebalance` finds them; nothing is computed beyond. None while silence is asked about."""
    _check(inputs)
    ledger = open_ledger(inputs)
    if silent_days(ledger) >= SILENT_RUN_DAYS and not inputs.signed_silence:
        return ()
    return tuple(off.public() for off in _choose_days(ledger))


def _check(inputs: Inputs) -> None:
    if not inputs.weeks:
        raise ValueError("A schedule needs at least one week.")
    first = inputs.weeks[0].first_day
    for n, week in enumerate(inputs.weeks):
        if week.first_day != first + timedelta(days=7 * n):
            raise ValueError(f"The week of {week.first_day} does not follow the one before it by seven days.")
    end = first + timedelta(days=7 * len(inputs.weeks))
    for session in inputs.plan:
        if not first <= session.day < end:
            raise ValueError(f"The session of {session.day} lies outside the schedule's weeks.")


def _choose_days(ledger: Ledger) -> list[Off]:
    """Stage one: bar, place, then read the breaks off the days that result."""
    apply_holds(ledger)
    apply_races(ledger)
    by_week: dict[int, list[Item]] = {}
    for item in ledger.items:
        by_week.setdefault(ledger.week_of(item.day), []).append(item)
    for index in range(ledger.current, len(ledger.kinds)):
        beside = by_week.get(index - 1, []) + by_week.get(index + 1, [])
        place(ledger, index, by_week.get(index, []), beside)
    return find_breaks(ledger)


class _Walk:
    """Stage two: the walk through the weeks, with what each hands on to the next."""

    def __init__(self, ledger: Ledger, breaks: list[Off]) -> None:
        self.ledger, self.breaks = ledger, breaks
        self.longs = LongRuns(ledger, breaks)
        self.tolerance = ledger.inputs.rails.tolerance
        self.beyond: dict[int, Number] = {}
        self.credited: list[Number] = [ledger.credited(i) for i in range(ledger.current)]
        self.weeks: list[WeekResult] = []
        self.numbers: dict[int, dict[str, Any]] = {}
        self.conflicts: list[PinConflict] = []
        self.by_week: dict[int, list[Item]] = {}
        for item in ledger.items:
            self.by_week.setdefault(ledger.week_of(item.day), []).append(item)

    def week(self, index: int) -> None:
        ledger, items = self.ledger, self.by_week.get(index, [])
        cap = week_cap(ledger, self.credited, index, self.breaks, self._parts(index, items))
        ran, told = ledger.fit_done[index], ledger.fit_advised[index]
        self.beyond[index] = max(0, ran - told)
        limit_runs(ledger, index, items, cap, self.longs)
        limit_hard(ledger, index, items, cap)
        cut = WeekCut(ledger, items)
        cap.bear(ran + cut.total(), self.tolerance)
        cut.fit(cap.above_plan - min(ran, told))
        if ran > told:  # what was run beyond the advice costs easy running, never the key sessions
            cut.ease(cap.above_plan - ran)
        let_stand(ledger, items, cap, ran)
        self._pins(cut, cap, ran)
        self._hand_on(index, items, cap)

    def _parts(self, index: int, items: list[Item]) -> dict[int, tuple[Number, Number]]:
        """For a break that takes a part of this week: what stands, and what is planned besides.

        What was run before it ends and what is planned before it begins stand; runs planned after it,
        and single runs within it, share its allowance. A run missed in it and made up later shares the
        allowance without enlarging it.
        """
        ledger, start = self.ledger, self.ledger.start(index)
        parts: dict[int, tuple[Number, Number]] = {}
        training = [i for i in items if i.session.role != "race"]
        races = {i.day for i in items if i.session.role == "race"}
        for off in breaks_here(ledger, index, self.breaks):
            if off.week_back <= start:
                continue
            stands: Number = sum(a for d, a in ledger.runs if start <= d < off.week_back and d not in races)
            besides: Number = sum(
                i.planned * i.unit for i in training if i.day >= off.week_back and i.state != "again"
            )
            for item in training:
                if not item.fixed and not item.dropped and item.day < off.week_back:
                    if item.day < off.start:
                        stands += item.planned * item.unit
                    else:
                        besides += item.planned * item.unit
            parts[off.start] = stands, besides
        return parts

    def _pins(self, cut: WeekCut, cap: WeekCap, ran: Number) -> None:
        """Report pins above a rail; what they hold above it does not raise later references."""
        excess = ran + cut.total() - max(cap.above_plan, ran)
        for item in sorted(cut.open, key=lambda i: (-i.day, i.session.key)):
            if not item.session.pinned:
                continue
            amount = item.amount * item.unit
            counted = amount if item.counted is None else min(amount, item.counted)
            rule = str(item.numbers.get("pin_rule", ""))
            if excess > 0:
                counted, rule = min(counted, max(Fraction(0), amount - excess)), rule or "week"
                excess -= amount - counted
            if counted < amount:
                item.counted = counted
                self._conflict(item, rule, counted, cap)

    def _conflict(self, item: Item, rule: str, counted: Number, cap: WeekCap) -> None:
        words = amount_words(self.ledger.inputs, self.ledger.in_time)
        limit = (
            words(item.numbers["pin_cap"]) if "pin_cap" in item.numbers else words(cap.cap) + " in the week"
        )
        sentence = (
            f"{name_of(item.session)} on {item.session.day:%a %-d %b} is fixed at {words(item.amount * item.unit)}, "
            f"where the guard rails allow {limit}; only {words(counted)} count for later weeks."
        )
        numbers = {"cap": int(cap.cap), "amount": item.amount, "counted": int(counted)}
        self.conflicts.append(PinConflict(item.session.key, rule, sentence, numbers))

    def _hand_on(self, index: int, items: list[Item], cap: WeekCap) -> None:
        ledger = self.ledger
        allowed: Number = 0
        for item in items:
            if item.fixed or item.dropped:
                continue
            amount = item.amount * item.unit if item.counted is None else item.counted
            ledger.actual[index] += amount
            ledger.advised[index] += amount
            self.longs.add(item.day, amount)
            if item.session.role != "race":
                allowed += item.amount * item.unit
        self.credited.append(ledger.credited(index))
        self.numbers[index] = {
            "cap": cap.cap,
            "binding": cap.binding,
            "reference": cap.reference,
            "beyond": self.beyond[index],
            **cap.numbers,
        }
        self.weeks.append(
            WeekResult(
                date.fromordinal(ledger.start(index)),
                ledger.inputs.weeks[index - BEFORE].kind,
                int(ledger.planned[index]),
                int(cap.cap),
                int(allowed + ledger.fit_done[index]),
                int(ledger.actual[index]),
                int(cap.reference),
                {name: int(value) for name, value in cap.caps.items()},
                cap.binding,
            )
        )

    def result(self) -> Result:
        ledger = self.ledger
        slots = _taken_slots(ledger)
        placed, changes = [], []
        for item in sorted(ledger.items, key=lambda i: (i.day, i.slot, i.session.key)):
            if item.fixed:
                continue
            week = self.numbers[ledger.week_of(item.day)]
            now = _placed(ledger, item, week, slots)
            placed.append(now)
            before = ledger.inputs.standing.get(item.session.key) or _as_planned(item)
            if not _same(before, now):
                changes.append(
                    Change(item.session.key, before, now, now.reason or restored(ledger, item, before))
                )
        changed = any(p.reason for p in placed)
        return Result(
            tuple(self.weeks),
            tuple(placed),
            tuple(changes),
            verdicts(ledger, self.longs, ledger.actual, changed),
            tuple(self.conflicts),
            tuple(off.public() for off in self.breaks),
            "s" if ledger.in_time else "mm",
            ledger.inputs.today + timedelta(days=SHOWN_DAYS) if holds_on(ledger) else None,
        )


def _as_planned(item: Item) -> Standing:
    s = item.session
    return Standing(s.day, s.mm, s.s, s.slot)


def _taken_slots(ledger: Ledger) -> dict[int, set[int]]:
    """Slots of each day that are taken by what does not move, strength and cross training included."""
    taken: dict[int, set[int]] = {}
    for item in ledger.items:
        if not item.dropped and not (item.moved and not item.fixed):
            taken.setdefault(item.day, set()).add(item.slot)
    for session in ledger.inputs.plan:
        if session.role not in RUNS:
            standing = ledger.inputs.standing.get(session.key)
            day, slot = (standing.day, standing.slot) if standing else (session.day, session.slot)
            taken.setdefault(day.toordinal(), set()).add(slot)
    return taken


def _placed(ledger: Ledger, item: Item, week: dict[str, Any], slots: dict[int, set[int]]) -> Placed:
    s = item.session
    if item.moved and not item.dropped:
        used = slots.setdefault(item.day, set())
        item.slot = next(n for n in range(10) if n not in used)
        used.add(item.slot)
    mm, seconds = _amounts(item)
    counted = None if item.counted is None else int(item.counted / item.unit)
    now = Placed(s.key, date.fromordinal(item.day), item.slot, mm, seconds, _level(item), item.easy, item.eased,
                 bool(item.dropped), counted)  # fmt: skip
    if _same(_as_planned(item), now):
        return now
    reason = reason_for(ledger, item, week)
    return Placed(now.key, now.day, now.slot, mm, seconds, now.level, now.turned_easy, now.eased, now.dropped,
                  counted, reason)  # fmt: skip


def _level(item: Item) -> Fraction:
    return item.session.levels[item.level].share if item.level else FULL


def _amounts(item: Item) -> tuple[int, int]:
    s = item.session
    if item.dropped:
        return 0, 0
    if item.level:
        return s.levels[item.level].mm, s.levels[item.level].s
    if item.amount == item.planned and not item.easy:
        return s.mm, s.s
    if s.written_in == "time":
        return (item.amount * s.mm // s.s if s.s else s.mm), item.amount
    return item.amount, item.seconds(item.amount)


def _same(before: Standing, now: Placed) -> bool:
    if before.dropped_by or now.dropped:
        return bool(before.dropped_by) == now.dropped
    return (before.day, before.mm, before.s, before.level, before.turned_easy, before.eased) == (
        now.day, now.mm, now.s, now.level, now.turned_easy, now.eased,
    ) and (before.slot == now.slot or before.day != now.day)  # fmt: skip


def _as_it_stands(ledger: Ledger, verdicts: tuple[Verdict, ...]) -> Result:
    """Nothing is proposed: everything still to come stays exactly as it stands."""
    placed = []
    for item in sorted(ledger.items, key=lambda i: (i.day, i.slot, i.session.key)):
        if item.fixed:
            continue
        plan = _as_planned(item)
        st = ledger.inputs.standing.get(item.session.key) or plan
        reason = None if st == plan else Reason("stands", f"{name_of(item.session)} stays as it stands.")
        placed.append(
            Placed(item.session.key, st.day, st.slot, st.mm, st.s, st.level, st.turned_easy, st.eased,
                   bool(st.dropped_by), st.counted, reason)
        )  # fmt: skip
    return Result((), tuple(placed), (), verdicts, (), (), "s" if ledger.in_time else "mm")
