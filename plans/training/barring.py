"""Barring: where health, an added race or a fresh break forbid a run or its hard part.

Law: all of it follows from holds, races and breaks; no volume is looked at.
"""

from __future__ import annotations

from collections.abc import Sequence

from plans.training.breaks import Off
from plans.training.ledger import Item, Ledger, stays_missed
from plans.training.limits import lower_level
from plans.training.placing import BEFORE_RACE

LONG_FROM_RACE = 2
"""No long run within two days of an added race."""

NEAREST_WITHIN = 6
"""A race replaces the nearest key session, if one is nearer than a week."""


def apply_holds(ledger: Ledger) -> None:
    """A hold that stops running takes out every run; another bars quality and hard steps. Pins too."""
    for hold in ledger.inputs.holds:
        opened = hold.opened.toordinal()
        closed = hold.closed.toordinal() if hold.closed else None
        if closed is not None and closed <= ledger.today:
            continue
        for item in ledger.items:
            if item.state == "again" and (hold.stops_running or item.session.role == "quality"):
                stays_missed(ledger, item)
            elif item.state == "again":  # missed before it was opened, it may be made up for while it is open
                _bar(item, "hold")
            if item.session.role == "race" or item.day < opened:
                continue
            if closed is not None and item.day >= closed:
                continue
            if item.fixed:
                _bar(item, "hold")  # already run, or not: only its being easy counts, for the days beside it
            elif hold.stops_running:
                item.dropped, item.rule, item.absent = "hold", "hold", True
            else:
                _bar(item, "hold")


def _bar(item: Item, rule: str) -> None:
    """Quality is run easy; a long run keeps its distance and loses its hard steps."""
    if item.session.role == "quality":
        item.barred = item.barred or rule
    elif item.session.hard_mm:
        item.eased = True
        item.numbers.setdefault("eased_by", rule)


def apply_races(ledger: Ledger) -> None:
    """A race put in after issue takes the nearest key session's place and clears the days around it."""
    taken: set[str] = set()
    for race in ledger.items:
        if race.session.role != "race" or not race.session.added or race.state in ("missed", "gone"):
            continue
        _replace_nearest(ledger, race, taken)
        after = race.session.mm // ledger.inputs.rails.race_day_mm
        for item in ledger.items:
            if item.session.pinned or item.dropped:
                continue
            gap = item.day - race.day
            if -BEFORE_RACE <= gap < 0 or 0 < gap <= after:
                _bar(item, "race_near")
                item.numbers["race_gap"] = gap
            if item.session.role == "long" and abs(gap) <= LONG_FROM_RACE and not item.fixed:
                item.barred = "race_long"
                item.numbers["race_gap"] = gap


def _replace_nearest(ledger: Ledger, race: Item, taken: set[str]) -> None:
    day = race.session.day.toordinal()

    def order(item: Item) -> tuple[int, bool, bool, int]:
        planned = item.session.day.toordinal()
        other_week = ledger.week_of(planned) != ledger.week_of(day)
        return abs(planned - day), other_week, item.session.role != "long", planned

    near = [
        i
        for i in ledger.items
        if i.session.role in ("long", "quality")
        and not i.session.pinned
        and i.session.key not in taken
        and abs(i.session.day.toordinal() - day) <= NEAREST_WITHIN
    ]
    if not near:
        return
    chosen = min(near, key=order)
    taken.add(chosen.session.key)
    if chosen.state in ("open", "again") and not chosen.dropped:
        chosen.dropped, chosen.rule, chosen.numbers["race"] = "race_replaces", "race_replaces", race.session
        if chosen.state == "again":
            stays_missed(ledger, chosen)
            chosen.dropped = ""


def apply_calm(ledger: Ledger, breaks: Sequence[Off]) -> None:
    """After a break: days without quality, then one quality session at its lowest level."""
    rails = ledger.inputs.rails
    for off in breaks:
        if off.back is None:
            continue
        first = off.back + rails.calm_days(off.days)
        for item in ledger.items:
            if (
                not item.fixed
                and not item.session.pinned
                and off.back <= item.day < first
                and not item.dropped
            ):
                _bar(item, "calm")
                item.numbers |= {"break_days": off.days, "break_why": off.why, "calm": first - off.back}
        _first_quality(ledger, off, first)


def _first_quality(ledger: Ledger, off: Off, first: int) -> None:
    later = [
        i
        for i in ledger.items
        if i.session.role == "quality"
        and i.day >= first
        and not i.barred
        and not i.dropped
        and i.state != "gone"
    ]
    if not later:
        return
    week = ledger.week_of(min(i.day for i in later))
    for item in ledger.items:  # one quality session means one: no hard kilometres in a long run besides
        loose = item.session.role == "long" and not item.fixed and not item.session.pinned
        if loose and item.day >= first and ledger.week_of(item.day) <= week:
            _bar(item, "calm")
            item.numbers |= {"break_days": off.days, "break_why": off.why}
    there = [i for i in later if ledger.week_of(i.day) == week]
    chosen = min(there, key=lambda i: (i.session.supporting, i.day, i.session.key))
    for item in there:
        if item.fixed or item.session.pinned:
            continue
        item.numbers |= {"break_days": off.days, "break_why": off.why}
        if item is not chosen:
            item.barred = "one_quality"
        elif len(item.session.levels) > 1:
            lower_level(item, len(item.session.levels) - 1, "first_quality")
