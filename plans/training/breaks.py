"""Breaks: how long somebody has been away, and what the way back begins with.

Law: a break is read from logs, known absences, holds and the calendar, never from a computed volume.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from plans.training.ledger import BEFORE, Ledger
from plans.training.rising import Number
from plans.training.schedule import Break

BACK_WITHIN = 4
"""Two runs within four days end a break; also two further apart when nothing planned was missed between them."""

COUNTS_FROM = 5
"""Days off from which on a break changes anything."""


@dataclass(frozen=True)
class Off:
    """A break with its days as ordinals; `back` is None while nothing is planned after it."""

    start: int
    back: int | None
    week_back: int  # the same, or the first day of its week when no run was planned before it
    days: int
    hurt: bool
    why: str

    def public(self) -> Break:
        back = date.fromordinal(self.back) if self.back is not None else None
        return Break(date.fromordinal(self.start), back, self.days, self.hurt, self.why)  # type: ignore[arg-type]


def find_breaks(ledger: Ledger) -> list[Off]:
    """All breaks of five days and more, first to last; those still to come (known absence) included."""
    ran = {day for day, _ in ledger.runs if day >= ledger.first}
    missed: dict[int, str] = {}
    for item in ledger.items:
        if item.absent:
            missed[item.origin] = max(missed.get(item.origin, ""), item.reason_missed)
        elif item.state in ("open", "gone") or (item.state == "again" and item.moved):
            ran.add(item.day)
    days = sorted(ran)
    breaks: list[Off] = []
    for start in sorted(set(missed) - ran):
        if breaks and (breaks[-1].back is None or start < breaks[-1].back):
            continue
        off = _one(ledger, start, days, missed)
        if off.days >= COUNTS_FROM:
            breaks.append(off)
    return breaks


def _one(ledger: Ledger, start: int, days: Sequence[int], missed: dict[int, str]) -> Off:
    back = None
    for i, day in enumerate(days):
        if day > start and (i + 1 == len(days) or _together(day, days[i + 1], missed)):
            back = day
            break
    end = back if back is not None else ledger.start(len(ledger.kinds))
    reasons = [why for day, why in missed.items() if start <= day < end]
    held = [
        hold
        for hold in ledger.inputs.holds
        if hold.opened.toordinal() < end and (hold.closed is None or hold.closed.toordinal() > start)
    ]
    hurt = "hurt" in reasons or any(hold.hurt for hold in held)
    away = any(
        a.travel and a.first_day.toordinal() < end and a.last_day.toordinal() >= start
        for a in ledger.inputs.away
    )
    why = "hurt" if hurt else "ill" if held or "ill" in reasons else "travel" if away else ""
    if not why:
        why = max(reasons, key=lambda r: (reasons.count(r), r), default="")
    return Off(start, back, _week_back(ledger, end), end - start, hurt, why)


def _together(day: int, following: int, missed: Container[int]) -> bool:
    near = following - day <= BACK_WITHIN
    return near or not any(between in missed for between in range(day + 1, following))


def _week_back(ledger: Ledger, back: int) -> int:
    """A week whose first planned run is the first run back is a full week."""
    start = ledger.start(ledger.week_of(back))
    early = any(start <= item.session.day.toordinal() < back for item in ledger.items)
    return back if early else start


def candidates(ledger: Ledger, off: Off, until: int) -> list[tuple[int, Fraction, int]]:
    """Days from which the break may be reckoned, with the share each gives and the length.

    Its own first day, and the last day of each week before: someone who ran a little meanwhile is
    not held lower than someone who ran nothing since that earlier day.
    """
    rails = ledger.inputs.rails
    factor = rails.injury_share if off.hurt else Fraction(1)
    week = ledger.week_of(off.start)
    found = [(off.start, rails.break_share(until - off.start) * factor, until - off.start)]
    for index in range(week - 1, max(week - BEFORE, 4) - 1, -1):
        day = ledger.start(index) + 6
        found.append((day, rails.break_share(until - day) * factor, until - day))
    return found


def base(ledger: Ledger, credited: Sequence[Number], day: int) -> Number:
    """What was run before a break that began on this day: the week before, or the mean of four."""
    week = ledger.week_of(day)
    if week < 4:
        return credited[0]
    return max(credited[week - 1], Fraction(sum(credited[week - 4 : week])) / 4)
