"""Cutting: what a week's runs may be. Stage two of the planner.

Law: it only takes away, in an order a coach can read aloud:
 1. a planned second run of a day;
 2. the top quarter of easy runs;            3. the top 15 % of the long run;
 4. easy runs down to half;                  5. a supporting quality session, run easy;
 6. the long run to 60 %;                    7. the other quality to its 80, then its 60 % level;
 8. easy runs below half;                    9. what quality is left, run easy;
10. the long run below 60 %;                11. dropping.
After each whole session turned or lowered, easy and long runs are cut anew from the top of the list, so
that they keep what fits; after each one dropped, everything is. The answer does not depend on the way it
was found: no quality is run easy for a week that another run has left.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial

from plans.training.ledger import Item, Ledger
from plans.training.limits import drop, lower_level, to_come, turn_easy
from plans.training.rising import Number

HALF, NONE = Fraction(1, 2), Fraction(0)
Stage = tuple[str, Fraction, str]
"""Which runs ("second", "easy", "long"), down to which share, under which name."""

FINE: tuple[Stage, ...] = (
    ("second", HALF, "second_run"),
    ("easy", Fraction(3, 4), "easy_quarter"),
    ("long", Fraction(85, 100), "long_top"),
    ("easy", HALF, "easy_half"),
    ("long", Fraction(3, 5), "long_sixty"),
    ("easy", NONE, "easy_below"),
    ("long", NONE, "long_below"),
)


@dataclass(slots=True)
class Cut:
    """One cut, so that it can be given back."""

    item: Item
    before: int
    rule: str


class WeekCut:
    """The runs of one week while they are being cut to a budget in the ledger's measure."""

    def __init__(self, ledger: Ledger, items: Sequence[Item]) -> None:
        self.ledger, self.rails = ledger, ledger.inputs.rails
        self.open = to_come(items)
        self.loose = [i for i in self.open if not i.session.pinned]
        self.begun = {id(i): (i.amount, i.level, i.easy, i.rule, i.dropped) for i in self.loose}
        self.whole = {id(i): (i.amount, i.rule) for i in self.loose}
        self.cuts: list[Cut] = []
        self.shortest = ledger.rail(self.rails.shortest_mm)

    def total(self) -> Number:
        """What the runs still to come amount to."""
        return sum(i.amount * i.unit for i in self.open)

    def fit(self, budget: Number) -> None:
        """Cut until the runs still to come fit the budget, then give back what fits again."""
        budget -= sum(i.amount * i.unit for i in self.open if i.session.pinned)
        if self._over(budget) <= 0:
            return
        gone: list[Item] = []
        while not self._in_order(budget) and (least := self._least()) is not None:
            gone.append(least)
            self._begin_anew(gone)
        self._give_back(budget)

    def _in_order(self, budget: Number) -> bool:
        """Cut from the top of the list down to the last long run; whether the week fits then."""
        fine: list[Stage] = []
        for stages, coarse in self._order():
            for stage in stages:
                fine.append(stage)
                self._shave(stage, budget)
            for whole in coarse():
                if self._over(budget) <= 0:
                    break
                whole()
                self._start_again(fine, budget)
            if self._over(budget) <= 0:
                return True
        return False

    def ease(self, budget: Number) -> None:
        """Cut easy runs towards the budget, to half of them and no further; nothing else is touched."""
        budget -= sum(i.amount * i.unit for i in self.open if i.session.pinned)
        self.cuts.clear()
        for stage in FINE:
            if stage[0] == "easy" and stage[1] >= HALF:
                self._shave(stage, budget)
        self._give_back(budget)

    def _order(self) -> Iterator[tuple[Sequence[Stage], Callable[[], Iterator[Callable[[], None]]]]]:
        yield FINE[:1], self._drop_seconds
        yield FINE[1:4], self._turn_supporting
        yield FINE[4:5], self._lower_quality
        yield FINE[5:6], self._turn_quality
        yield FINE[6:], lambda: iter(())

    # -- whole sessions ----------------------------------------------------------------------

    def _drop_seconds(self) -> Iterator[Callable[[], None]]:
        for item in self._runs("second"):
            yield partial(drop, item, "second_run")

    def _quality(self) -> list[Item]:
        found = [i for i in self.loose if i.amount and i.session.role == "quality" and not i.easy]
        return sorted(found, key=lambda i: (-i.day, i.session.key))

    def _turn_supporting(self) -> Iterator[Callable[[], None]]:
        for item in self._quality():
            if item.session.supporting:
                yield partial(self._turn, item)

    def _lower_quality(self) -> Iterator[Callable[[], None]]:
        for level in (1, 2):
            for item in self._quality():
                yield partial(self._lower, item, level)

    def _turn_quality(self) -> Iterator[Callable[[], None]]:
        for item in self._quality():
            yield partial(self._turn, item)

    def _least(self) -> Item | None:
        """What is dropped next: the shortest easy run, then quality turned easy for lack of room, the long run last."""

        def order(item: Item) -> tuple[bool, Number, int]:
            turned = item.easy and not self.begun[id(item)][2]
            return turned, self.whole[id(item)][0] * item.unit, -item.day

        return next(iter([*sorted(self._runs("easy"), key=order), *self._runs("long")]), None)

    def _begin_anew(self, gone: Sequence[Item]) -> None:
        """As before any cut, without what is dropped."""
        self.cuts.clear()
        for item in self.loose:
            item.amount, item.level, item.easy, item.rule, item.dropped = self.begun[id(item)]
            self.whole[id(item)] = item.amount, item.rule
        for item in gone:
            drop(item, "dropped")

    def _turn(self, item: Item) -> None:
        turn_easy(self.ledger, item, "turned_easy")
        self.whole[id(item)] = item.amount, item.rule

    def _lower(self, item: Item, level: int) -> None:
        lower_level(item, level, "quality_level")
        self.whole[id(item)] = item.amount, item.rule

    # -- steps off easy and long runs ----------------------------------------------------------

    def _start_again(self, fine: Sequence[Stage], budget: Number) -> None:
        """Whole sessions changed: easy and long runs begin from their full amounts again."""
        self.cuts.clear()
        for item in self.loose:
            if not item.dropped:
                item.amount, item.rule = self.whole[id(item)]
        for stage in fine:
            self._shave(stage, budget)

    def _over(self, budget: Number) -> Number:
        return sum(i.amount * i.unit for i in self.loose) - budget

    def _runs(self, which: str) -> list[Item]:
        """Second runs by day; easy runs, the longest first; the long run."""
        standing = [i for i in self.loose if i.amount and not i.dropped]
        if which == "second":
            return [i for i in standing if i.slot > 0 and i.session.role == "easy"]
        if which == "easy":
            found = [i for i in standing if _is_easy(i)]
            return sorted(found, key=lambda i: (-i.planned * i.unit, -i.day, i.session.key))
        found = [i for i in standing if i.session.role == "long" and not i.easy]
        return sorted(found, key=lambda i: (-i.day, i.session.key))

    def _shave(self, stage: Stage, budget: Number) -> None:
        which, share, rule = stage
        for item in self._runs(which):
            over = self._over(budget)
            if over <= 0:
                return
            step, floor = self.ledger.step_of(item), self._floor(item, share)
            wanted = int((item.amount - over / Fraction(item.unit)) // step * step)
            wanted = min(max(wanted, floor), self._first_notch(item))
            if floor <= wanted < item.amount:
                self.cuts.append(Cut(item, item.amount, item.rule))
                item.amount, item.rule = wanted, rule

    def _floor(self, item: Item, share: Fraction) -> int:
        """The least a stage may leave of a run: its share in whole steps, never under the shortest."""
        step = self.ledger.step_of(item)
        least = max(item.planned * share, Fraction(self.shortest) / item.unit)
        return min(item.amount, int(-(-least // step) * step))

    def _first_notch(self, item: Item) -> int:
        """The highest amount worth changing a run to: a change too small is not made."""
        step = self.ledger.step_of(item)
        small = max(
            Fraction(self.ledger.rail(self.rails.small_mm)) / item.unit, item.planned * self.rails.small_share
        )
        return int((item.planned - small) // step * step)

    def _give_back(self, budget: Number) -> None:
        """The smallest change worth making may have cut a little too much: the last cuts get it back."""
        for cut in reversed(self.cuts):
            item, room = cut.item, -self._over(budget)
            if room <= 0:
                return
            step = self.ledger.step_of(item)
            if (cut.before - item.amount) * item.unit <= room:
                item.amount, item.rule = cut.before, cut.rule
            else:
                raised = int((item.amount + room / Fraction(item.unit)) // step * step)
                item.amount = max(item.amount, min(raised, self._first_notch(item)))


def _is_easy(item: Item) -> bool:
    return item.session.role == "easy" or item.easy
