"""Caps: how much a week, and a single run, may be.

Law: every cap is a function of earlier volumes that never falls when one of them rises; so one walk
through the weeks in order finds the largest caps there are. No rule here may loosen when a volume is
low. What a week and a run may be after others stands in `rising`; here is what a schedule under way adds:
breaks, holds, recovery and taper. Sources: taper Bosquet 2007, Smyth & Lawlor 2021; the rest is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from plans.training.breaks import Off, base, candidates
from plans.training.ledger import BEFORE, Ledger
from plans.training.rising import (
    SPIKE,
    Number,
    least_week,
    longest_between,
    most,
    reference,
    run_limits,
    week_limits,
)
from plans.training.schedule import Hold

TRAVEL_WEEKS = 12

LONG_BREAK = 15
"""Days off from which the way back is climbed to the kilometre: half of what was run, or less, is left."""

IN_PROPORTION = Fraction(9, 10)
"""A recovery or taper week keeps its plan while what was reached is at least this share of what was planned.

These two caps keep a season's shape, no rise is in them: nobody trims race week because the peak was 66 km, not 70.
"""


@dataclass(slots=True)
class WeekCap:
    """The cap of a week with everything weighed, in the ledger's measure.

    `whole`: what a whole week would be allowed (differs in a part week after a break).
    `above_plan`: the cap before it is held down to the plan. `exact`: no tolerance on it.
    """

    cap: Number
    whole: Number
    above_plan: Number
    reference: Number
    binding: str
    caps: dict[str, Number]
    numbers: dict[str, Any] = field(default_factory=dict)
    plan: Number = 0
    exact: bool = False

    def bear(self, total: Number, tolerance: Fraction) -> bool:
        """Raise the cap to a total that exceeds it by no more than the tolerance; an open health note has none.

        The dead band of the plan, for what is left of it when single runs were limited: nobody takes one
        kilometre off Thursday because the week is 51 km where it may be 50. On the way back from a long break
        the climb is kept to the kilometre (`exact`).
        """
        if not self.binding or self.binding == "hold" or self.exact:
            return total <= self.above_plan
        if total > self.above_plan and total * (1 - tolerance) <= self.caps[self.binding]:
            self.above_plan, self.cap = total, min(total, self.plan)
        return total <= self.above_plan


def recent(ledger: Ledger, values: Sequence[Number], i: int, breaks: Sequence[Off] = ()) -> Number:
    """The reference of week `i`; one light week among the last two that are no recovery weeks costs nothing.

    As far as no break of five days and more lies between: what came before one is judged by its share.
    """
    best, seen = reference(values, ledger.kinds, i), 0
    for j in range(i - 1, i - 5, -1):
        if any(b.start < ledger.start(i) and b.week_back > ledger.start(j) + 7 for b in breaks):
            break
        best = max(best, values[j])
        seen += ledger.kinds[j] != "recovery"
        if seen == 2:
            break
    return best


def week_cap(
    ledger: Ledger, credited: Sequence[Number], i: int, breaks: Sequence[Off], parts: dict[int, tuple[Number, Number]]
) -> WeekCap:  # fmt: skip
    """The cap of week `i`. `parts`: by a break's first day, (what stands, what is planned besides)."""
    plan, kind = ledger.planned[i], ledger.kinds[i]
    ref = recent(ledger, credited, i, breaks)
    rise, numbers = _rise(ledger, credited, i, ref)
    caps: dict[str, Number] = {"rise": rise}
    whole = rise
    for off in breaks_here(ledger, i, breaks):
        share, was, _ = allowance(ledger, credited, off, i)
        allowed: Number = max(share * was, least_week(ledger.inputs.rails, ledger.rail))
        whole = min(whole, allowed)
        if off.start in parts:
            before, after = parts[off.start]
            allowed = before + (allowed * Fraction(after) / plan if plan else 0)
        if allowed < caps.get("break", allowed + 1):
            caps["break"] = allowed
            numbers |= {"break_days": off.days, "break_why": off.why, "share": share, "base": was}
    if kind in ("recovery", "taper", "race"):
        top, reached = max(ledger.planned_all[i - 8 : i]), max(credited[i - 8 : i])
        if top:
            ratio = Fraction(reached) / top
            share = ratio if ratio < IN_PROPORTION else max(ratio, Fraction(1))
            caps["recovery" if kind == "recovery" else "taper"] = plan * share
            numbers["peak_reached"], numbers["peak_planned"] = reached, top
    binding = min(sorted(caps), key=lambda name: caps[name])  # equal ones: the break is named first
    above = caps[binding]
    cap = min(above, plan)
    if cap < plan and cap >= plan * (1 - ledger.inputs.rails.tolerance):
        cap, above, binding = plan, max(above, plan), ""
    elif cap == plan:
        binding = ""
    if not binding:
        # The dead band holds both ways: a few hundred metres run beyond the advice cut nothing from the plan.
        above = max(above, plan * (1 + ledger.inputs.rails.tolerance))
    held = held_back(ledger, credited, i)
    if held is not None:
        caps["hold"] = held
        if held < cap:
            cap, above, binding = held, held, "hold"
    exact = _climbing_back(ledger, i, breaks)
    return WeekCap(cap, min(max(cap, whole), plan), above, ref, binding, caps, numbers, plan, exact)


def _climbing_back(ledger: Ledger, i: int, breaks: Sequence[Off]) -> bool:
    """Whether a long break ended within the weeks over which ground counts as held."""
    start = ledger.start(i)
    return any(
        b.days >= LONG_BREAK and b.back is not None and b.back < start + 7 and start < b.back + 7 * BEFORE
        for b in breaks
    )


def _rise(ledger: Ledger, credited: Sequence[Number], i: int, ref: Number) -> tuple[Number, dict[str, Any]]:
    rails = ledger.inputs.rails
    planned_ref = recent(ledger, ledger.planned_all, i)
    wrote = ledger.planned[i] * Fraction(ref) / planned_ref if planned_ref else 0
    held = max(credited[i - BEFORE : i])
    ret = rails.travel_return if _travelled(ledger, i) else rails.weekly_return
    rise, _ = most(week_limits(rails, ref, held, ret, ledger.rail))
    return max(rise, wrote, _as_if_off(ledger, credited, i)), {"reference": ref, "held": held, "return": ret}


def _as_if_off(ledger: Ledger, credited: Sequence[Number], i: int) -> Number:
    """What somebody would be allowed who had run nothing since the end of some earlier week.

    Without it a few short runs (no break, hence no break's share) could hold a runner lower than none.
    """
    rails, start = ledger.inputs.rails, ledger.start(i)
    best: Number = 0
    for index in range(i - 1, max(3, i - BEFORE), -1):
        day = ledger.start(index) + (6 if index < i - 1 else 2)  # five days at least
        best = max(best, rails.break_share(start - day) * base(ledger, credited, day))
    return best


def _travelled(ledger: Ledger, i: int) -> bool:
    """Known travel of five days and more that ended in the last weeks: ground is regained quicker."""
    start = ledger.start(i)
    return any(
        a.travel
        and (a.last_day - a.first_day).days >= 4
        and a.first_day.toordinal() <= start + 6
        and start - a.last_day.toordinal() <= 7 * TRAVEL_WEEKS
        for a in ledger.inputs.away
    )


def breaks_here(ledger: Ledger, i: int, breaks: Sequence[Off]) -> list[Off]:
    """Breaks that touch this week, the first full week after one included."""
    start = ledger.start(i)
    return [b for b in breaks if b.start <= start + 6 and b.week_back > start - 7]


def allowance(ledger: Ledger, credited: Sequence[Number], off: Off, i: int) -> tuple[Fraction, Number, int]:
    """The share and the base of a break in week `i`: the best of the days it may be reckoned from.

    While the break goes on beyond the week, its length up to the week's end counts.
    """
    end = ledger.start(i) + 7
    until = off.back if off.back is not None and off.back < end else end
    return max(
        ((share, base(ledger, credited, day), days) for day, share, days in candidates(ledger, off, until)),
        key=lambda found: (found[0] * found[1], -found[2]),
    )


def holds_on(ledger: Ledger) -> list[Hold]:
    """Holds nobody has cleared by today."""
    return [h for h in ledger.inputs.holds if h.closed is None or h.closed.toordinal() > ledger.today]


def held_back(ledger: Ledger, credited: Sequence[Number], i: int) -> Number | None:
    """With an open hold no steps up: the week is at most the reference when it was opened."""
    limits = [
        reference(credited, ledger.kinds, max(BEFORE, min(i, ledger.week_of(h.opened.toordinal()))))
        for h in holds_on(ledger)
        if ledger.week_of(h.opened.toordinal()) <= i
        and (h.closed is None or h.closed.toordinal() > ledger.start(i))
    ]
    return min(limits) if limits else None


@dataclass(slots=True)
class RunCap:
    """The most one run may be. A run that nothing limits has its own planned amount here."""

    cap: Number
    rule: str
    numbers: dict[str, Any]


class LongRuns:
    """The longest runs so far, by day: planned, and run or allowed."""

    def __init__(self, ledger: Ledger, breaks: Sequence[Off]) -> None:
        self.ledger, self.rails = ledger, ledger.inputs.rails
        self.breaks = [b for b in breaks if b.back is not None]
        self.ran: list[tuple[int, Number]] = sorted(ledger.runs)
        self.planned = sorted(ledger.planned_runs)
        self.shortest, self.floor = ledger.rail(self.rails.shortest_mm), ledger.rail(self.rails.long_floor_mm)
        self.holds = holds_on(ledger)
        self._first: dict[int, tuple[Fraction, Number, Number]] = {}
        self._held: dict[int, Number] = {}

    def add(self, day: int, amount: Number) -> None:
        self.ran.append((day, amount))

    def longest(self, first: int, before: int) -> Number:
        return longest_between(self.ran, first, before)

    def cap(self, day: int, planned: Number, week_start: int) -> RunCap:
        """The most one run on this day may be. Runs of the same week do not raise it."""
        off = self._latest(day)
        result = (
            self._after_break(off, day, planned, week_start)
            if off
            else self._by_month(day, planned, week_start)
        )
        if planned * (1 - self.rails.tolerance) <= result.cap < planned:
            result.cap = planned
        for hold in self.holds:
            opened = hold.opened.toordinal()
            if opened <= day and (hold.closed is None or day < hold.closed.toordinal()):
                limit = self.longest(opened - 30, opened)
                if limit < result.cap:
                    result = RunCap(limit, "hold_cap", {"longest": limit})
        return result

    def _latest(self, day: int) -> Off | None:
        """The last break whose way back still matters."""
        past = [b for b in self.breaks if b.week_back <= day <= (b.back or 0) + 7 * BEFORE]
        return past[-1] if past else None

    def _by_month(self, day: int, planned: Number, week_start: int) -> RunCap:
        longest = self.longest(day - 30, week_start)
        if planned <= longest:
            return RunCap(planned, "", {})
        return RunCap(self._grown(longest, day, planned, week_start), "long_rise", {"longest": longest})

    def _after_break(self, off: Off, day: int, planned: Number, week_start: int) -> RunCap:
        """First a share of the longest run before it; then up from what has been run since."""
        share, was, allowed = self._first_after(off)
        first = max(allowed, min(self.floor, SPIKE * self.longest(day - 30, week_start)), self.shortest)
        numbers = {"share": share, "longest": was, "break_days": off.days, "break_why": off.why}
        if week_start - 7 < off.week_back or planned <= first:
            return RunCap(first, "long_break", numbers)
        since = self.longest(max(off.back or 0, day - 30), week_start)
        if planned <= since:
            return RunCap(planned, "", {})
        cap = max(first, self._grown(since, day, planned, week_start))
        return (
            RunCap(cap, "long_break", numbers)
            if cap == first
            else RunCap(cap, "long_rise", {"longest": since})
        )

    def _grown(self, longest: Number, day: int, planned: Number, week_start: int) -> Number:
        """Over the longest so far: the rails, or the coach's own step."""
        wish = longest_between(self.planned, day - 30, week_start)
        wrote = Fraction(planned) / wish if wish else SPIKE
        if longest < wish:
            wrote = min(wrote, SPIKE)  # once something was missed the coach's own leap no longer holds
        limits = run_limits(self.rails, longest, self._held_at(week_start), self.ledger.rail)
        return max(most(limits)[0], wrote * longest)

    def _held_at(self, week_start: int) -> Number:
        if week_start not in self._held:
            self._held[week_start] = self.longest(week_start - 7 * BEFORE, week_start)
        return self._held[week_start]

    def _first_after(self, off: Off) -> tuple[Fraction, Number, Number]:
        """(share, longest run before, their product): the best of the days the break may be reckoned from."""
        if off.start not in self._first:
            found = []
            for day, share, _ in candidates(self.ledger, off, off.back or off.start):
                longest = self.longest(day - 30, day)
                found.append((share * longest, share, longest))
            allowed, share, longest = max(found)
            self._first[off.start] = share, longest, allowed
        return self._first[off.start]
