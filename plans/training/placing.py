"""Placing: which day each run of a week stands on. Stage one of the planner.

Law: days are chosen from the plan, the calendar, the logs and the holds, never from a cap. At most
seven days and a handful of sessions: every arrangement is tried, the cheapest by an exact order wins.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from plans.training.ledger import Item, Ledger, stays_missed
from plans.training.schedule import HARD, Refusal

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
BEFORE_RACE = 3
"""No quality in the three days before a race."""

SLIGHT = Fraction(8, 100)
"""A run that loses less than this to the clock stays on its day."""

Cost = tuple[int, int, int, int, tuple[int, ...]]


def weekday(day: int) -> str:
    return DAYS[(day + 6) % 7]


def free_seconds(ledger: Ledger, day: int) -> int | None:
    """Free time of a day in seconds; None where nothing limits it."""
    minutes = ledger.inputs.minutes.get(date.fromordinal(day))
    return None if minutes is None else minutes * 60


def fits(ledger: Ledger, item: Item, day: int) -> bool:
    free = free_seconds(ledger, day)
    return free is None or item.seconds() <= free


class Week:
    """One week being arranged: its items, and the hard days of the weeks beside it."""

    def __init__(self, ledger: Ledger, index: int, items: list[Item], beside: list[Item]) -> None:
        self.ledger, self.items = ledger, items
        self.start = ledger.start(index)
        self.days = range(max(self.start, ledger.today), self.start + 7)
        self.beside = [i for i in beside if i.hard and not _not_run(i)]
        planned = [i for i in ledger.items if self.start <= i.session.day.toordinal() < self.start + 7]
        rails = ledger.inputs.rails
        self.max_hard = max(rails.max_hard, len({i.session.day for i in planned if i.session.role in HARD}))
        self.min_rest = min(rails.min_rest, 7 - len({i.session.day for i in planned}))

    def standing(self, without: list[Item]) -> list[Item]:
        """Runs that stand whatever is decided about `without`."""
        return [i for i in self.items if i not in without and not _not_run(i)]


def _not_run(item: Item) -> bool:
    """Stands on no day. What a cap took out still holds its day here: days are never chosen from caps."""
    return bool(item.dropped) or item.state == "missed" or (item.fixed and item.absent)


def place(ledger: Ledger, index: int, items: list[Item], beside: list[Item]) -> None:
    """Give every run of a week its day: moved, swapped, kept and cut to the minutes, or dropped."""
    week = Week(ledger, index, items, beside)
    _still_give_way(ledger, items)
    _second_runs(ledger, items)
    seeking = [i for i in items if _seeks(ledger, i)]
    if not seeking:
        return
    best: tuple[Cost, list[int | None]] | None = None
    for days in _arrangements(week, seeking):
        cost = _cost(week, seeking, days)
        if cost is not None and (best is None or cost < best[0]):
            best = cost, days
    assert best is not None  # staying is always an arrangement
    _settle(week, seeking, best[1])


def _seeks(ledger: Ledger, item: Item) -> bool:
    if item.dropped or item.session.pinned or item.session.role == "race":
        return False
    if item.state == "again" or item.barred == "race_long":
        return True
    return item.state == "open" and item.slot == 0 and not fits(ledger, item, item.day)


def _still_give_way(ledger: Ledger, items: list[Item]) -> None:
    """A run that gave its day to a session moved there for good, its own day gone by, does not come back beside it."""
    for item in items:
        standing = ledger.inputs.standing.get(item.session.key)
        if item.state != "open" or item.dropped or standing is None or standing.dropped_by != "gave_way":
            continue
        other = next((o for o in items if o.moved and o.day == item.day and o is not item), None)
        if other is not None:
            item.dropped, item.rule, item.numbers = "gave_way", "gave_way", {"for": other.session}


def _second_runs(ledger: Ledger, items: list[Item]) -> None:
    """A planned second run of a day gives way when both no longer fit the day's minutes."""
    for item in items:
        if item.state != "open" or item.slot == 0 or item.session.pinned or item.dropped:
            continue
        free = free_seconds(ledger, item.day)
        same = sum(i.seconds() for i in items if i.day == item.day and i.slot == 0 and not _not_run(i))
        if free is not None and same + item.seconds() > free:
            rule = "no_day" if free == 0 else "second_minutes"
            item.dropped, item.rule, item.absent = rule, rule, free == 0


def _arrangements(week: Week, seeking: list[Item]) -> Iterator[list[int | None]]:
    """Every way to give the seeking runs a day each (None: stays where it is), no day twice."""
    options = [[None, *(d for d in week.days if _may_try(week, i, d, seeking))] for i in seeking]

    def walk(n: int, taken: frozenset[int]) -> Iterator[list[int | None]]:
        if n == len(seeking):
            yield []
            return
        for day in options[n]:
            if day is None or day not in taken:
                for rest in walk(n + 1, taken | {day} if day is not None else taken):
                    yield [day, *rest]

    return walk(0, frozenset())


def _may_try(week: Week, item: Item, day: int, seeking: list[Item]) -> bool:
    if day == item.day or (item.state == "again" and day <= item.origin):
        return False
    return fits(week.ledger, item, day) and _occupant_yields(week, item, day, seeking)


def _occupant_yields(week: Week, item: Item, day: int, seeking: list[Item]) -> bool:
    """A free day, or for a key session one easy run that can give way."""
    there = [i for i in week.items if i.day == day and i not in seeking and not _not_run(i)]
    if not there:
        return True
    if item.session.role == "easy" or len(there) > 1:
        return False
    return there[0].state == "open" and there[0].session.role == "easy" and not there[0].session.pinned


def _swap(week: Week, item: Item, day: int, seeking: list[Item]) -> tuple[Item | None, int | None]:
    """The easy run displaced by a move, and the day it changes to (None: it gives way)."""
    there = [i for i in week.items if i.day == day and i not in seeking and not _not_run(i)]
    if not there:
        return None, None
    other = item.origin if item.state == "again" else item.day
    if other in week.days and item.state != "again" and fits(week.ledger, there[0], other):
        return there[0], other
    return there[0], None


def _cost(week: Week, seeking: list[Item], days: list[int | None]) -> Cost | None:
    """(seconds of key sessions lost, of easy runs lost, days shifted, runs moved or cut, tie), or None."""
    lost_key = lost_easy = moved = shifted = 0
    hard_moved: list[int] = []
    swaps = [
        _swap(week, i, d, seeking) if d is not None else (None, None)
        for i, d in zip(seeking, days, strict=True)
    ]
    displaced = [s for s, _ in swaps if s is not None]
    stays = [i for i, d in zip(seeking, days, strict=True) if d is None]
    taken_over = {to for _, to in swaps if to is not None}
    kept = {i.day for i in stays if i.state == "open" and _stay_limit(week.ledger, i)}
    if (taken_over | kept) & {d for d in days if d is not None}:
        return None
    for item, day, (other, to) in zip(seeking, days, swaps, strict=True):
        lost = 0
        if day is None:
            lost = _lost(week.ledger, item)
            moved += 1
            if item.state != "again" and lost <= SLIGHT * item.seconds():
                lost = 0
        else:
            moved += 1
            shifted += abs(day - item.day)
            if item.hard:
                hard_moved.append(day)
        if item.session.role == "easy":
            lost_easy += lost
        else:
            lost_key += lost
        if other is not None:
            moved += 1
            lost_easy += 0 if to is not None else other.seconds()
            shifted += 0 if to is None else abs(to - other.day)
    if not _legal(week, seeking, days, stays, displaced, taken_over, hard_moved):
        return None
    return lost_key, lost_easy, shifted, moved, tuple(d if d is not None else 0 for d in days)


def _lost(ledger: Ledger, item: Item) -> int:
    """Seconds lost when a run stays: all of it on a day that is gone, else what the clock cuts off."""
    if item.state == "again" or item.barred == "race_long":
        return item.seconds()
    free = free_seconds(ledger, item.day)
    left = _stay_limit(ledger, item)
    return item.seconds() if not left or free is None else max(0, item.seconds() - free)


def _stay_limit(ledger: Ledger, item: Item) -> int:
    """Native amount that fits the day's minutes in whole steps; 0 when too little is left to stand."""
    free = free_seconds(ledger, item.day)
    if free is None:
        return item.planned
    if free == 0 or item.day < ledger.today:
        return 0
    step = ledger.step_of(item)
    amount = min(item.planned, item.native_in(free) // step * step)
    return amount if amount * item.unit >= ledger.rail(ledger.inputs.rails.shortest_mm) else 0


def _legal(
    week: Week,
    seeking: list[Item],
    days: list[int | None],
    stays: list[Item],
    displaced: list[Item],
    taken_over: set[int],
    hard_moved: list[int],
) -> bool:
    others = week.standing(seeking + displaced)
    stay_runs = [
        i for i in stays if _stay_limit(week.ledger, i) and i.state == "open" and i.barred != "race_long"
    ]
    fixed_hard = [i.day for i in others + stay_runs if i.hard]
    for n, day in enumerate(hard_moved):
        if any(_clash(week, day, e) for e in fixed_hard + hard_moved[:n] + [i.day for i in week.beside]):
            return False
    if any(_near_race(week, i, d) for i, d in zip(seeking, days, strict=True) if d is not None):
        return False
    if not hard_moved and all(d is None for d in days):
        return True
    if len(set(fixed_hard + hard_moved)) > week.max_hard:
        return False
    run_days = {i.day for i in others + stay_runs} | {d for d in days if d is not None} | taken_over
    return 7 - len(run_days) >= week.min_rest


def _clash(week: Week, day: int, other: int) -> bool:
    return abs(day - other) < week.ledger.inputs.rails.gap_days


def _near_race(week: Week, item: Item, day: int) -> bool:
    if item.session.role not in ("quality", "long"):
        return False
    before = BEFORE_RACE if item.session.role == "quality" else 2
    races = [i for i in week.items + week.beside if i.session.role == "race" and not _not_run(i)]
    return any(0 <= r.day - day <= before for r in races)


def _settle(week: Week, seeking: list[Item], days: list[int | None]) -> None:
    ledger = week.ledger
    for item, day in zip(seeking, days, strict=True):
        if day is None:
            item.numbers["refused"] = refusals(week, item, seeking)
            _stay(ledger, item)
            continue
        other, to = _swap(week, item, day, seeking)
        why = "moved_missed" if item.state == "again" else "moved"
        item.numbers |= {"from": item.day, "to": day, "moved_by": why}
        if other is not None and to is not None:
            other.numbers |= {"from": other.day, "to": to, "for": item.session, "moved_by": "swapped"}
            other.day, other.slot, other.moved, other.rule = to, 0, True, "swapped"
        elif other is not None:
            other.dropped, other.rule, other.numbers = "gave_way", "gave_way", {"for": item.session}
        item.day, item.slot, item.moved, item.rule = day, 0, True, why


def _stay(ledger: Ledger, item: Item) -> None:
    if item.state == "again":
        stays_missed(ledger, item)
        return
    if item.barred == "race_long":
        return
    left = _stay_limit(ledger, item)
    if left:
        item.limit, item.rule = left, "minutes"
    else:
        item.dropped, item.rule, item.absent = "no_day", "no_day", True


def refusals(week: Week, item: Item, seeking: list[Item]) -> tuple[Refusal, ...]:
    """For each day still to come of the week, the check it failed for this run."""
    found = []
    for day in range(week.start, week.start + 7):
        if day == item.day:
            continue
        words = _refused(week, item, day, seeking)
        if words:
            found.append(Refusal(date.fromordinal(day), f"{weekday(day)}: {words}"))
    return tuple(found)


def _refused(week: Week, item: Item, day: int, seeking: list[Item]) -> str:
    if day < week.ledger.today or (item.state == "again" and day <= item.origin):
        return "already past"
    free = free_seconds(week.ledger, day)
    if free == 0:
        return "not free"
    if free is not None and item.seconds() > free:
        return f"{free // 60} min free, {-(-item.seconds() // 60)} min needed"
    if not _occupant_yields(week, item, day, seeking):
        return "already has a run"
    if item.hard:
        for other in [*week.standing(seeking), *week.beside]:
            if other.hard and _clash(week, day, other.day):
                return _distance_words(day, other)
    if _near_race(week, item, day):
        return "too near the race"
    if any(other is not item and other.day == day for other in seeking):
        return "already has a run"
    return "too many hard days or no day of rest left" if item.hard else "no day of rest left"


def _distance_words(day: int, other: Item) -> str:
    name = {"long": "long run", "quality": "quality session", "race": "race"}[other.session.role]
    gap = abs(day - other.day)
    if gap == 0:
        return f"the day of {weekday(other.day)}'s {name}"
    much = "one day" if gap == 1 else f"{gap} days"
    return f"{much} {'before' if day < other.day else 'after'} {weekday(other.day)}'s {name}"
