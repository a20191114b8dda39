"""Which session on which day: exact, over a whole schedule.

In a week there are 7 days and a handful of sessions. Hard sessions (long, quality, race) are few and their
distances matter, so every combination of their days is tried; easy runs don't mind each other, so the best use
of the days left over is found once for each set of days. For each pair "first hard day, last hard day" the best
week is kept, and the weeks are then chained so that hard days keep apart across the week's border as well.
Nothing is lost by this: the chain only ever asks for those two days.

Costs are one integer, its parts in fixed places, so that comparing is comparing part by part: first key
sessions lost, last the days from what was wished. With equal cost the first found wins, and cheap days are
tried first, of equally cheap ones the earlier. More minutes on a day only add choices: they can't make the best cost worse.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from plans.training.fitting_types import Merit
from plans.training.template import Role

FIELD = 24  # bits a part of the cost has; sums over 60 weeks stay far below 2**24
LOST_KEY, EASED_KEY, LOST, EASED, SHORT, LONG_OFF, OFF = (1 << FIELD * n for n in range(6, -1, -1))
LOST_RACE = LOST_KEY << FIELD  # everything else gives way to a race
NOWHERE = -1


@dataclass(frozen=True)
class Item:
    """A run to place in one week. Days count from the week's first, 0 to 6.

    `short`: for each day the minutes that the session would lose there, NOWHERE where it can't stand.
    `easy_short`: the same for the session run easy (empty where that is no choice). `minutes` are lost with it:
    of two runs the shorter is left out.
    """

    role: Role
    key: bool
    wished: int | None
    short: tuple[int, ...]
    easy_short: tuple[int, ...] = ()
    minutes: int = 0


@dataclass(frozen=True)
class Spot:
    """Where an item went; `day` is None when there is no day for it."""

    day: int | None
    eased: bool = False


@dataclass(frozen=True)
class Choice:
    """One way to lay out a week: `first` and `last` are its hard days, None without any."""

    cost: int
    spots: tuple[Spot, ...]
    first: int | None
    last: int | None


def place_weeks(
    weeks: tuple[tuple[Item, ...], ...], max_hard: int, gap: int
) -> tuple[tuple[tuple[Spot, ...], ...], Merit]:
    """The best days for every item of every week, and how good they are together.

    Hard days are at least `gap` days apart, also across borders, and at most `max_hard` a week. A session
    without a legal day is eased where it can be, or lost.
    """
    alone = [week_best(items, max_hard, gap) for items in weeks]
    if _keep_apart(alone, gap):  # each week's best together: nothing can be better
        return tuple(choice.spots for choice in alone), merit_of(sum(choice.cost for choice in alone))
    best: dict[int | None, tuple[int, tuple[Choice, ...]]] = {None: (0, ())}
    for items in weeks:
        following: dict[int | None, tuple[int, tuple[Choice, ...]]] = {}
        for choice in week_choices(items, max_hard, gap):
            for last, (cost, path) in best.items():
                if last is not None and choice.first is not None and choice.first + 7 - last < gap:
                    continue
                total = cost + choice.cost
                known = following.get(choice.last)
                if known is None or total < known[0]:
                    following[choice.last] = (total, (*path, choice))
        best = following
    cost, path = min(best.values(), key=lambda found: found[0])
    return tuple(choice.spots for choice in path), merit_of(cost)


def _keep_apart(choices: list[Choice], gap: int) -> bool:
    """Whether hard days are far enough apart across every border; a gap is never longer than a week."""
    return all(
        one.last is None or other.first is None or other.first + 7 - one.last >= gap
        for one, other in pairwise(choices)
    )


def merit_of(cost: int) -> Merit:
    """The parts of a packed cost."""
    return Merit(*(cost >> FIELD * n & (1 << FIELD) - 1 for n in range(6, -1, -1)))


@lru_cache(maxsize=8192)
def week_best(items: tuple[Item, ...], max_hard: int, gap: int) -> Choice:
    """The best layout of a week on its own."""
    search = _Search(items, max_hard, gap, each_pair=False)
    search.place_hard(0, (), (), 0)
    return search.best[None, None]


@lru_cache(maxsize=4096)
def week_choices(items: tuple[Item, ...], max_hard: int, gap: int) -> tuple[Choice, ...]:
    """The best layout of a week for each pair of first and last hard day.

    Remembered: most weeks of most athletes ask the same question.
    """
    search = _Search(items, max_hard, gap)
    search.place_hard(0, (), (), 0)
    return tuple(search.best.values())


class _Search:
    """One week's enumeration."""

    def __init__(self, items: tuple[Item, ...], max_hard: int, gap: int, *, each_pair: bool = True) -> None:
        self.each_pair = each_pair
        self.items = items
        self.max_hard = max_hard
        self.gap = gap
        # Races first, they have one day only; then long runs, quality, as in the plan.
        order = {"race": 0, "long": 1, "quality": 2}
        self.hard = sorted(
            (n for n, item in enumerate(items) if item.role in order), key=lambda n: (order[items[n].role], n)
        )
        self.soft = [n for n, item in enumerate(items) if item.role not in order]
        # The price of every day for every item, hard and easy, the cheapest day first.
        self.hard_days = {n: _prices(items[n], items[n].short) for n in self.hard}
        self.soft_days = {n: _prices(items[n], items[n].short) for n in self.soft}
        self.soft_days |= {n: _prices(items[n], items[n].easy_short) for n in self.hard}
        # The same for the hard ones, run hard, easy or not at all.
        self.least_hard = [0]
        for n in reversed(self.hard):
            self.least_hard.insert(0, self.least_hard[0] + self._cheapest(n))
        self.best: dict[tuple[int | None, int | None], Choice] = {}
        self.known: dict[int, tuple[int, tuple[int, ...]]] = {}
        # What the easy runs from each on cost at least: each on its own cheapest day.
        self.least = [0]
        for n in reversed(self.soft):
            self.least.insert(
                0, self.least[0] + min([lost_cost(items[n]), *(p for p, _ in self.soft_days[n])])
            )

    def _cheapest(self, number: int) -> int:
        item = self.items[number]
        prices = [lost_cost(item), *(price for price, _ in self.hard_days[number])]
        if item.easy_short:
            prices.append(EASED_KEY if item.key else EASED)
        return min(prices)

    def place_hard(
        self, turn: int, placed: tuple[tuple[int, int], ...], eased: tuple[int, ...], cost: int
    ) -> None:
        """Tries every day for the hard sessions from `turn` on; `placed` are (item, day), `eased` run easy."""
        if turn == len(self.hard):
            self._finish(placed, eased, cost)
            return
        known = None if self.each_pair else self.best.get((None, None))
        if known is not None and cost + self.least_hard[turn] + self.least[0] >= known.cost:
            return
        number = self.hard[turn]
        item = self.items[number]
        if len(placed) < self.max_hard or item.role == "race":
            for price, day in self.hard_days[number]:
                if all(abs(day - other) >= self.gap for _, other in placed):
                    self.place_hard(turn + 1, (*placed, (number, day)), eased, cost + price)
        if item.easy_short:
            price = EASED_KEY if item.key else EASED
            self.place_hard(turn + 1, placed, (*eased, number), cost + price)
        self.place_hard(turn + 1, placed, eased, cost + lost_cost(item))

    def _finish(self, placed: tuple[tuple[int, int], ...], eased: tuple[int, ...], cost: int) -> None:
        days = [day for _, day in placed]
        ends = (min(days), max(days)) if days else (None, None)
        key = ends if self.each_pair else (None, None)
        known = self.best.get(key)
        if known is not None and known.cost <= cost + self.least[0]:
            return
        free = 127
        for day in days:
            free &= ~(1 << day)
        rest, where = self._place_eased(eased, free)
        if known is not None and known.cost <= cost + rest:
            return
        spots = {number: Spot(day) for number, day in placed}
        for number, soft_day in zip((*eased, *self.soft), where, strict=True):
            spots[number] = Spot(soft_day if soft_day != NOWHERE else None, number in eased)
        every = tuple(spots.get(n, Spot(None)) for n in range(len(self.items)))
        self.best[key] = Choice(cost + rest, every, *ends)

    def _place_eased(self, eased: tuple[int, ...], free: int) -> tuple[int, tuple[int, ...]]:
        """The cheapest days for eased sessions and then the easy runs."""
        if not eased:
            return self._place_soft(0, free)
        number, others = eased[0], eased[1:]
        cost, where = self._place_eased(others, free)
        best = (cost + lost_cost(self.items[number]), (NOWHERE, *where))
        for price, day in self.soft_days[number]:
            if price + self.least[0] >= best[0]:
                break
            if free >> day & 1:
                cost, where = self._place_eased(others, free & ~(1 << day))
                if cost + price < best[0]:
                    best = (cost + price, (day, *where))
        return best

    def _place_soft(self, turn: int, free: int) -> tuple[int, tuple[int, ...]]:
        """The cheapest days for the easy runs from `turn` on out of the set `free`, NOWHERE for one that is lost."""
        if turn == len(self.soft):
            return 0, ()
        known = self.known.get(turn << 7 | free)
        if known is not None:
            return known
        number = self.soft[turn]
        cost, where = self._place_soft(turn + 1, free)
        best = (cost + lost_cost(self.items[number]), (NOWHERE, *where))
        for price, day in self.soft_days[number]:
            if price + self.least[turn + 1] >= best[0]:
                break
            if free >> day & 1:
                cost, where = self._place_soft(turn + 1, free & ~(1 << day))
                if cost + price < best[0]:
                    best = (cost + price, (day, *where))
        self.known[turn << 7 | free] = best
        return best


def _prices(item: Item, shorts: tuple[int, ...]) -> list[tuple[int, int]]:
    """(price, day) for every day that the item may take, the cheapest first, of equals the earlier."""
    return sorted((day_cost(item, day, short), day) for day, short in enumerate(shorts) if short != NOWHERE)


def day_cost(item: Item, day: int, short: int) -> int:
    """What this day costs: minutes cut off, then days from the wished one."""
    away = 0 if item.wished is None else abs(day - item.wished)
    if item.role == "long":
        return SHORT * short + LONG_OFF * away
    weight = 3 if item.role == "quality" else 2 if item.key else 1
    return SHORT * short + OFF * weight * away


def lost_cost(item: Item) -> int:
    if item.role == "race":
        return LOST_RACE
    return (LOST_KEY if item.key else LOST) + SHORT * item.minutes
