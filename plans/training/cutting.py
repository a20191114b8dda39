"""Cutting: what a week's runs may be. Stage two of the planner.

Law: it only takes away, in an order a coach can read aloud:
 1. a planned second run of a day;
 2. the top quarter of easy runs;            3. the top 15 % of the long run;
 4. easy runs down to half;                  5. a supporting quality session, run easy;
 6. the long run to 60 %;                    7. the other quality to its 80, then its 60 % level;
 8. easy runs below half;                    9. what quality is left, run easy;
10. the long run below 60 %;                11. dropping.
Then easy and long runs get steps back, last cut first, while the week still fits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from plans.training.caps import LongRuns, WeekCap
from plans.training.ledger import Item, Ledger, Number
from plans.training.placing import free_seconds

POINTS = Fraction(5, 100)
"""What a share may exceed the share the plan itself writes by."""

EASE_TO = Fraction(3, 5)
"""A long run that an added race turns into an easy one is at most this share of it."""


@dataclass(slots=True)
class Cut:
    """One cut, so that it can be given back."""

    item: Item
    before: int
    rule: str


class WeekCut:
    """The runs of one week while they are being cut. `most` of an item: after its own limits."""

    def __init__(self, ledger: Ledger, index: int, items: list[Item], cap: WeekCap) -> None:
        self.ledger, self.index, self.cap, self.rails = ledger, index, cap, ledger.inputs.rails
        self.items = items
        self.open = [i for i in items if not i.fixed and not i.dropped and i.session.role != "race"]
        self.loose = [i for i in self.open if not i.session.pinned]
        self.cuts: list[Cut] = []
        self.shortest = ledger.rail(self.rails.shortest_mm)

    def total(self) -> Number:
        return sum(i.amount * i.unit for i in self.open)

    # -- limits of a single run -------------------------------------------------------------

    def limit_runs(self, longs: LongRuns) -> None:
        """Bring each run under its own limits: barred, minutes, days, hours, share."""
        start = self.ledger.start(self.index)
        for item in self.open:
            if item.session.pinned and not item.barred:
                self._count_pin(item, longs, start)
                continue
            if item.barred:
                self._run_easy(item, item.barred)
            self._limit(item, longs, start)

    def _limit(self, item: Item, longs: LongRuns, start: int) -> None:
        if item.limit is not None:
            self._to(item, item.limit, "minutes", {"minutes": self._minutes(item)})
        run = longs.cap(item.day, item.planned * item.unit, start)
        if run.cap < item.amount * item.unit:
            self._to(item, int(run.cap / item.unit), run.rule, run.numbers | {"cap": run.cap})
        hours = max(self.rails.longest_s, item.session.signed_s or item.session.s)
        if item.amount and item.seconds(item.amount) > hours:
            self._to(item, item.native_in(hours), "hours", {"hours": hours})
        if item.session.role == "long" and item.amount:
            share = self._long_share(item)
            if share * self.cap.whole < item.amount * item.unit:
                numbers = {"share": share, "week": self.cap.whole}
                self._to(item, int(share * self.cap.whole / item.unit), "long_share", numbers)

    def _minutes(self, item: Item) -> int:
        return (free_seconds(self.ledger, item.day) or 0) // 60

    def _long_share(self, item: Item) -> Fraction:
        start = self.ledger.start(self.index)
        runs = sum(
            1
            for i in self.ledger.items
            if start <= i.session.day.toordinal() < start + 7 and i.session.role != "race"
        )
        plan = self.ledger.planned[self.index]
        wrote = Fraction(item.planned * item.unit) / plan + POINTS if plan else Fraction(1)
        return max(self.rails.long_share(runs), wrote)

    def _count_pin(self, item: Item, longs: LongRuns, start: int) -> None:
        run = longs.cap(item.day, item.planned * item.unit, start)
        if run.cap < item.amount * item.unit:
            item.counted = run.cap
            item.numbers |= {"pin_rule": run.rule, "pin_cap": run.cap, **run.numbers}

    def _to(self, item: Item, most: int, rule: str, numbers: dict[str, Any]) -> None:
        """Lower a run to a limit of its own: whole steps, or a level; too little is not left standing."""
        if item.amount <= most:
            return
        item.rule = rule
        item.numbers |= numbers
        if item.session.role == "quality" and not item.easy:
            for level in range(item.level, len(item.session.levels)):
                if self._level_amount(item, level) <= most:
                    item.level, item.amount = level, self._level_amount(item, level)
                    return
            self._run_easy(item, rule)
        step = self.ledger.step_of(item)
        item.amount = min(item.amount, max(0, most) // step * step)
        if item.amount * item.unit < self.shortest:
            self._drop(item, rule)

    def _level_amount(self, item: Item, level: int) -> int:
        at = item.session.levels[level]
        return at.s if item.session.written_in == "time" else at.mm

    def _run_easy(self, item: Item, rule: str) -> None:
        """The same distance or time, run easy; its minutes are checked again at easy pace."""
        if item.session.role == "long":  # only an added race does this
            step = self.ledger.step_of(item)
            item.eased = bool(item.session.hard_mm)
            item.amount = min(item.amount, int(item.planned * EASE_TO) // step * step)
            item.easy, item.rule = True, rule
            return
        item.easy, item.level, item.amount, item.rule = True, 0, item.planned, rule
        free = free_seconds(self.ledger, item.day)
        if free is not None and item.seconds(item.amount) > free:
            step = self.ledger.step_of(item)
            item.amount = min(item.amount, item.native_in(free) // step * step)
            if item.amount * item.unit < self.shortest:
                self._drop(item, rule)

    def _drop(self, item: Item, rule: str) -> None:
        item.amount, item.dropped, item.rule = 0, rule, rule

    # -- the hard part's share of the week --------------------------------------------------

    def limit_hard(self) -> None:
        plan = self.ledger.planned[self.index]
        if not plan or self.cap.whole >= plan:
            return
        start = self.ledger.start(self.index)
        wrote = sum(
            self._hard_of(i, 0)
            for i in self.ledger.items
            if start <= i.session.day.toordinal() < start + 7 and i.session.role != "race"
        )
        limit = max(self.rails.quality_share, Fraction(wrote) / plan + POINTS) * self.cap.whole
        quality = sorted(
            (i for i in self.loose if i.session.role == "quality"),
            key=lambda i: (not i.session.supporting, -i.day, i.session.key),
        )
        steps: list[Callable[[], None]] = []
        for level in (1, 2):
            steps += [lambda i=i, n=level: self._lower_level(i, n, "hard_share") for i in quality]  # type: ignore[misc]
        steps += [lambda i=i: self._ease(i) for i in self.loose if i.session.role == "long"]  # type: ignore[misc]
        steps += [lambda i=i: self._turn(i, "hard_share") for i in quality]  # type: ignore[misc]
        for step in steps:
            if self._hard_now() <= limit:
                return
            step()

    def _hard_of(self, item: Item, level: int) -> Number:
        s = item.session
        hard = s.levels[level].hard_mm if s.levels else s.hard_mm
        if not self.ledger.in_time:
            return hard
        return Fraction(hard * s.s, s.mm) if s.mm else 0

    def _hard_now(self) -> Number:
        standing = [i for i in self.items if not i.dropped and i.session.role != "race"]
        standing = [i for i in standing if i.state not in ("missed", "gone")]
        return sum(self._hard_of(i, i.level) for i in standing if not i.easy and not i.eased)

    def _ease(self, item: Item) -> None:
        if item.session.hard_mm and not item.eased and item.amount:
            item.eased = True
            item.numbers.setdefault("eased_by", "hard_share")

    # -- the week ---------------------------------------------------------------------------

    def fit(self, budget: Number) -> None:
        """Cut until the runs still to come fit the budget, then give back what fits again."""
        budget -= sum(i.amount * i.unit for i in self.open if i.session.pinned)
        for stage in self._stages():
            if self._over(budget) <= 0:
                break
            stage(budget)
        self._give_back(budget)

    def after_stage_four(self) -> Number:
        """What would be left if only easy runs were halved and the long run lost its top."""
        left: Number = 0
        for item in self.open:
            low = item.amount
            if not item.session.pinned and self._is_easy(item):
                low = min(low, self._floor(item, Fraction(1, 2)))
            elif not item.session.pinned and item.session.role == "long":
                low = min(low, self._floor(item, Fraction(85, 100)))
            left += low * item.unit
        return left

    def _over(self, budget: Number) -> Number:
        return sum(i.amount * i.unit for i in self.loose) - budget

    def _stages(self) -> Iterable[Callable[[Number], None]]:
        half, none = Fraction(1, 2), Fraction(0)
        yield lambda b: self._each(self._seconds(), half, b, "second_run")
        yield lambda b: self._each(self._seconds(), none, b, "second_run")
        yield lambda b: self._drops(self._seconds(), b, "second_run")
        yield lambda b: self._each(self._easy(), Fraction(3, 4), b, "easy_quarter")
        yield lambda b: self._each(self._long(), Fraction(85, 100), b, "long_top")
        yield lambda b: self._each(self._easy(), half, b, "easy_half")
        yield lambda b: self._turns(b, supporting=True)
        yield lambda b: self._each(self._long(), Fraction(3, 5), b, "long_sixty")
        yield lambda b: self._levels(b)
        yield lambda b: self._each(self._easy(), none, b, "easy_below")
        yield lambda b: self._turns(b, supporting=False)
        yield lambda b: self._each(self._long(), none, b, "long_below")
        yield lambda b: self._drops(self._easy(), b, "dropped")
        yield lambda b: self._drops(self._long(), b, "dropped")

    def _is_easy(self, item: Item) -> bool:
        return item.session.role == "easy" or item.easy

    def _standing(self) -> list[Item]:
        return [i for i in self.loose if i.amount and not i.dropped]

    def _seconds(self) -> list[Item]:
        return [i for i in self._standing() if i.slot > 0 and i.session.role == "easy"]

    def _easy(self) -> list[Item]:
        found = [i for i in self._standing() if self._is_easy(i)]
        return sorted(found, key=lambda i: (-i.planned * i.unit, -i.day, i.session.key))

    def _long(self) -> list[Item]:
        found = [i for i in self._standing() if i.session.role == "long" and not i.easy]
        return sorted(found, key=lambda i: (-i.day, i.session.key))

    def _floor(self, item: Item, share: Fraction) -> int:
        """The least a stage may leave of a run: its share in whole steps, never under the shortest."""
        step = self.ledger.step_of(item)
        least = max(item.planned * share, Fraction(self.shortest) / item.unit)
        return min(item.amount, -(-least // step) * step)

    def _first_notch(self, item: Item) -> int:
        """The highest amount worth changing a run to: a change too small is not made."""
        step = self.ledger.step_of(item)
        small = max(
            self.ledger.rail(self.rails.small_mm) / item.unit
            if item.unit != 1
            else self.ledger.rail(self.rails.small_mm),
            item.planned * self.rails.small_share,
        )
        return int((item.planned - small) // step * step)

    def _each(self, items: list[Item], share: Fraction, budget: Number, rule: str) -> None:
        for item in items:
            over = self._over(budget)
            if over <= 0:
                return
            step = self.ledger.step_of(item)
            wanted = int((item.amount - over / Fraction(item.unit)) // step * step)
            wanted = min(max(wanted, self._floor(item, share)), self._first_notch(item))
            if self._floor(item, share) <= wanted < item.amount:
                self._cut(item, wanted, rule)

    def _cut(self, item: Item, amount: int, rule: str) -> None:
        self.cuts.append(Cut(item, item.amount, item.rule))
        item.amount, item.rule = amount, rule
        if not amount:
            item.dropped = rule

    def _drops(self, items: list[Item], budget: Number, rule: str) -> None:
        for item in sorted(items, key=lambda i: (i.amount * i.unit, -i.day, i.session.key)):
            if self._over(budget) <= 0:
                return
            self._cut(item, 0, rule)

    def _turns(self, budget: Number, supporting: bool) -> None:
        quality = [i for i in self._standing() if i.session.role == "quality" and not i.easy]
        chosen = [i for i in quality if i.session.supporting or not supporting]
        for item in sorted(chosen, key=lambda i: (-i.day, i.session.key)):
            if self._over(budget) <= 0:
                return
            self._turn(item, "turned_easy")
            self._each([item], Fraction(1, 2) if supporting else Fraction(0), budget, "turned_easy")

    def _turn(self, item: Item, rule: str) -> None:
        if item.easy or item.dropped or not item.amount:
            return
        before = item.amount
        self._run_easy(item, rule)
        if item.amount > before:  # a level or a limit had already made it shorter
            step = self.ledger.step_of(item)
            item.amount = before // step * step

    def _levels(self, budget: Number) -> None:
        for level in (1, 2):
            quality = [i for i in self._standing() if i.session.role == "quality" and not i.easy]
            for item in sorted(quality, key=lambda i: (-i.day, i.session.key)):
                if self._over(budget) <= 0:
                    return
                self._lower_level(item, level, "quality_level")

    def _lower_level(self, item: Item, level: int, rule: str) -> None:
        if item.easy or item.dropped or level <= item.level or level >= len(item.session.levels):
            return
        item.level, item.amount, item.rule = level, self._level_amount(item, level), rule

    def _give_back(self, budget: Number) -> None:
        for cut in reversed(self.cuts):
            item, room = cut.item, -self._over(budget)
            if room <= 0:
                return
            step = self.ledger.step_of(item)
            if (cut.before - item.amount) * item.unit <= room:
                item.amount, item.dropped, item.rule = cut.before, "", cut.rule
            elif item.amount:
                raised = int((item.amount + room / Fraction(item.unit)) // step * step)
                item.amount = max(item.amount, min(raised, self._first_notch(item)))
