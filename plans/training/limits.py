"""Limits of a single run: barred, minutes, the longest of 30 days, hours, its share of the week.

Law: a run is brought under its own limits before the week is looked at, and only ever downwards.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial
from typing import Any

from plans.training.caps import LongRuns, WeekCap
from plans.training.ledger import Item, Ledger
from plans.training.placing import free_seconds
from plans.training.rising import Number

POINTS = Fraction(5, 100)
"""What a share may exceed the share the plan itself writes by."""

EASE_TO = Fraction(3, 5)
"""A long run that an added race turns into an easy one is at most this share of it."""


def to_come(items: Sequence[Item]) -> list[Item]:
    """The runs of a week that are still to come and stand."""
    return [i for i in items if not i.fixed and not i.dropped and i.session.role != "race"]


def limit_runs(ledger: Ledger, index: int, items: Sequence[Item], cap: WeekCap, longs: LongRuns) -> None:
    """Bring each run of a week under its own limits; a pinned one stands, and is counted capped."""
    start = ledger.start(index)
    for item in to_come(items):
        if item.session.pinned and not item.barred:
            run = longs.cap(item.day, item.planned * item.unit, start)
            if run.cap < item.amount * item.unit:
                item.counted = run.cap
                item.numbers |= {"pin_rule": run.rule, "pin_cap": run.cap, **run.numbers}
            continue
        if item.barred:
            run_easy(ledger, item, item.barred)
        _limit(ledger, index, item, cap, longs)


def _limit(ledger: Ledger, index: int, item: Item, cap: WeekCap, longs: LongRuns) -> None:
    rails = ledger.inputs.rails
    if item.limit is not None:
        minutes = (free_seconds(ledger, item.day) or 0) // 60
        lower_to(ledger, item, item.limit, "minutes", {"minutes": minutes})
    run = longs.cap(item.day, item.planned * item.unit, ledger.start(index))
    if run.cap < item.amount * item.unit:
        lower_to(ledger, item, int(run.cap / Fraction(item.unit)), run.rule, run.numbers | {"cap": run.cap})
    hours = max(rails.longest_s, item.session.signed_s or item.session.s)
    if item.amount and item.seconds(item.amount) > hours:
        lower_to(ledger, item, item.native_in(hours), "hours", {"hours": hours})
    if item.session.role == "long" and item.amount:
        share = _long_share(ledger, index, item)
        if share * cap.whole < item.amount * item.unit:
            most = int(share * cap.whole / Fraction(item.unit))
            lower_to(ledger, item, most, "long_share", {"share": share, "week": cap.whole})


def planned_in(ledger: Ledger, index: int) -> list[Item]:
    """The runs the plan itself writes into a week, races left out."""
    start = ledger.start(index)
    return [
        i for i in ledger.items if start <= i.session.day.toordinal() < start + 7 and i.session.role != "race"
    ]


def _long_share(ledger: Ledger, index: int, item: Item) -> Fraction:
    plan = ledger.planned[index]
    wrote = Fraction(item.planned * item.unit) / plan + POINTS if plan else Fraction(1)
    return max(ledger.inputs.rails.long_share(len(planned_in(ledger, index))), wrote)


def lower_to(ledger: Ledger, item: Item, most: int, rule: str, numbers: dict[str, Any]) -> None:
    """Lower a run to a limit of its own: whole steps, or a level; too little is not left standing."""
    item.most = min(item.most, most)
    if item.amount <= most:
        return
    item.rule = rule
    item.numbers |= numbers
    if item.session.role == "quality" and not item.easy:
        for level in range(item.level + 1, len(item.session.levels)):
            if level_amount(item, level) <= most:
                item.level, item.amount = level, level_amount(item, level)
                return
        run_easy(ledger, item, rule)
    step = ledger.step_of(item)
    item.amount = min(item.amount, max(0, most) // step * step)
    if item.amount * item.unit < ledger.rail(ledger.inputs.rails.shortest_mm):
        drop(item, rule)


def level_amount(item: Item, level: int) -> int:
    """Native amount of a quality session at a level."""
    at = item.session.levels[level]
    return at.s if item.session.written_in == "time" else at.mm


def lower_level(item: Item, level: int, rule: str) -> None:
    """Fewer repetitions, if that is still to be had."""
    if item.easy or item.dropped or level <= item.level or level >= len(item.session.levels):
        return
    item.level, item.amount, item.rule = level, level_amount(item, level), rule


def run_easy(ledger: Ledger, item: Item, rule: str) -> None:
    """The same distance or time, run easy; its minutes are checked again at easy pace."""
    step = ledger.step_of(item)
    item.easy, item.rule = True, rule
    if item.session.role == "long":  # only an added race does this
        item.eased = bool(item.session.hard_mm)
        item.amount = min(item.amount, int(item.planned * EASE_TO) // step * step)
        return
    item.level, item.amount = 0, item.planned
    free = free_seconds(ledger, item.day)
    if free is not None and item.seconds(item.amount) > free:
        item.amount = min(item.amount, item.native_in(free) // step * step)
    if item.amount * item.unit < ledger.rail(ledger.inputs.rails.shortest_mm) and item.amount < item.planned:
        drop(item, "easy_minutes")


def turn_easy(ledger: Ledger, item: Item, rule: str) -> None:
    """A quality session run easy; what a level or a limit had already taken off stays off."""
    if item.easy or item.dropped or not item.amount:
        return
    before, step = item.amount, ledger.step_of(item)
    run_easy(ledger, item, rule)
    if item.amount > before:
        item.amount = before // step * step


def drop(item: Item, rule: str) -> None:
    item.amount, item.dropped, item.rule = 0, rule, rule


def limit_hard(ledger: Ledger, index: int, items: Sequence[Item], cap: WeekCap) -> None:
    """The hard part's share of the week: fewer repetitions, the long run eased, then run easy."""
    plan = ledger.planned[index]
    if not plan or cap.whole >= plan:
        return
    wrote = sum(_hard_of(ledger, i, 0) for i in planned_in(ledger, index))
    limit = max(ledger.inputs.rails.quality_share, Fraction(wrote) / plan + POINTS) * cap.whole
    loose = [i for i in to_come(items) if not i.session.pinned]
    quality = [i for i in loose if i.session.role == "quality"]
    quality.sort(key=lambda i: (not i.session.supporting, -i.day, i.session.key))
    steps: list[Callable[[], None]] = []
    for level in (1, 2):
        steps += [partial(lower_level, i, level, "hard_share") for i in quality]
    steps += [partial(_ease, i) for i in loose if i.session.role == "long"]
    steps += [partial(turn_easy, ledger, i, "hard_share") for i in quality]
    for step in steps:
        if _hard_now(ledger, items) <= limit:
            return
        step()


def _hard_of(ledger: Ledger, item: Item, level: int) -> Number:
    s = item.session
    hard = s.levels[level].hard_mm if s.levels else s.hard_mm
    if not ledger.in_time:
        return hard
    return Fraction(hard * s.s, s.mm) if s.mm else 0


def _hard_now(ledger: Ledger, items: Sequence[Item]) -> Number:
    standing = [i for i in items if not i.dropped and i.session.role != "race"]
    standing = [i for i in standing if i.state not in ("missed", "gone") and not i.easy and not i.eased]
    return sum(_hard_of(ledger, i, i.level) for i in standing)


def _ease(item: Item) -> None:
    if item.session.hard_mm and not item.eased and item.amount:
        item.eased = True
        item.numbers.setdefault("eased_by", "hard_share")
