"""Alternatives and "what if": the same planner on edited data, never automatic, shown side by side.

Law: an alternative is an edit of `Inputs` and nothing else; what it leads to is computed by `rebalance`.
An edit returns None where it does not apply.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

from plans.training.reasons import distance_words, time_words
from plans.training.replanning import rebalance
from plans.training.schedule import RUNS, Away, Inputs, Result, Session, Standing, Week

PEAK_FROM_RACE = 21
"""A missed peak long run is put into next week only if the race is at least three weeks after it."""

MOST_WEEKS_LATER = 12
KEPT_TO_THE_END = ("peak", "taper", "race")
DONE_ENOUGH = Fraction(85, 100)


@dataclass(frozen=True)
class Outlook:
    """What a coach compares: longest run and largest week still to come, changed sessions, verdicts."""

    longest_mm: int
    largest_week: int
    changed: int
    taken_out: int
    verdicts: tuple[str, ...]


@dataclass(frozen=True)
class Alternative:
    """One choice: its name, one sentence, the edited inputs and what the planner makes of them."""

    name: str
    sentence: str
    inputs: Inputs
    result: Result

    @property
    def outlook(self) -> Outlook:
        return outlook(self.inputs, self.result)


def outlook(inputs: Inputs, result: Result) -> Outlook:
    """The few numbers by which results are laid side by side. A race is not a long run."""
    races = {s.key for s in inputs.plan if s.role == "race"}
    return Outlook(
        max((p.mm for p in result.sessions if not p.dropped and p.key not in races), default=0),
        max((week.allowed for week in result.weeks), default=0),
        sum(1 for p in result.sessions if p.reason is not None),
        sum(1 for p in result.sessions if p.dropped),
        tuple(v.name for v in result.verdicts),
    )


def alternatives(inputs: Inputs) -> tuple[Alternative, ...]:
    """The choices that apply now, each computed. Changing the goal needs the other goal's own numbers:
    see `goal_changed`."""
    found = []
    peak = peak_long_next_week(inputs)
    if peak is not None:
        found.append(_alternative("peak_long", "The missed peak long run is put into next week.", peak))
    waived = recovery_waived(inputs)
    if waived is not None:
        found.append(
            _alternative("waive_recovery", "The next recovery week is run like the week before it.", waived)
        )
    return (*found, *_later_race(inputs))


def _alternative(name: str, sentence: str, edited: Inputs) -> Alternative:
    return Alternative(name, sentence, edited, rebalance(edited))


def _later_race(inputs: Inputs) -> Iterator[Alternative]:
    """The fewest weeks by which a later race takes the verdict away, when there is one."""
    now = {v.name for v in rebalance(inputs).verdicts}
    grave = now & {"not_recoverable", "goal_at_risk"}
    if not grave or inputs.race_day is None:
        return
    for weeks in range(1, MOST_WEEKS_LATER + 1):
        moved = race_moved(inputs, weeks)
        choice = _alternative("later_race", f"A race {weeks} week{'s' if weeks > 1 else ''} later.", moved)
        if not grave & {v.name for v in choice.result.verdicts}:
            yield choice
            return


def _key_long(inputs: Inputs) -> Session | None:
    """The plan's longest training run."""
    longs = [s for s in inputs.plan if s.role == "long"]
    return max(longs, key=lambda s: (s.mm, s.day), default=None)


def peak_long_next_week(inputs: Inputs) -> Inputs | None:
    """Next week's long run becomes the peak long run that was missed, if the race is far enough away."""
    peak = _key_long(inputs)
    if (
        peak is None
        or peak.day >= inputs.today
        or (inputs.today - peak.day).days > 7
        or _was_run(inputs, peak)
    ):
        return None
    week = next(w for w in inputs.weeks if w.first_day <= peak.day <= w.last_day)
    following = [w for w in inputs.weeks if w.first_day == week.last_day + timedelta(days=1)]
    longs = [
        s
        for s in inputs.plan
        if following and following[0].first_day <= s.day <= following[0].last_day and s.role == "long"
    ]
    if not longs or longs[0].day < inputs.today or longs[0].pinned:
        return None
    if inputs.race_day is not None and (inputs.race_day - longs[0].day).days < PEAK_FROM_RACE:
        return None
    weeks = tuple(replace(w, kind="peak") if w is following[0] else w for w in inputs.weeks)
    return replace(_exchanged(inputs, peak, longs[0]), weeks=weeks)


def _exchanged(inputs: Inputs, one: Session, other: Session) -> Inputs:
    """Two sessions change places in the plan; what stood on a day gone by is judged as it stood."""

    def in_place_of(what: Session, place: Session) -> Session:
        return replace(what, key=place.key, day=place.day, slot=place.slot)

    swapped = {one.key: in_place_of(other, one), other.key: in_place_of(one, other)}
    stood = inputs.standing.get(one.key) or Standing(one.day, one.mm, one.s, one.slot)
    plan = tuple(swapped.get(s.key, s) for s in inputs.plan)
    return replace(inputs, plan=plan, standing={**inputs.standing, one.key: stood})


def _was_run(inputs: Inputs, session: Session) -> bool:
    """Run nearly in full, or not known yet."""
    logs = [log for log in inputs.logs if log.key == session.key]
    if not logs:
        return inputs.unknown_from is None or session.day >= inputs.unknown_from
    return any(
        log.outcome != "missed" and (log.mm is None or log.mm >= DONE_ENOUGH * session.mm) for log in logs
    )


def recovery_waived(inputs: Inputs) -> Inputs | None:
    """The next recovery week takes the amounts of the week before it; the guard rails still hold."""
    for before, week in zip(inputs.weeks, inputs.weeks[1:], strict=False):
        if week.kind == "recovery" and week.first_day >= inputs.today:
            return _like(inputs, week, before)
    return None


def _like(inputs: Inputs, week: Week, before: Week) -> Inputs:
    models = [s for s in inputs.plan if before.first_day <= s.day <= before.last_day and s.role in RUNS]

    def enlarged(s: Session) -> Session:
        same = [m for m in models if m.role == s.role]
        same.sort(key=lambda m: (abs((s.day - m.day).days - 7), m.key))
        if not same or s.pinned or same[0].mm <= s.mm or s.role == "race":
            return s
        return replace(same[0], key=s.key, day=s.day, slot=s.slot, title=s.title)

    plan = tuple(enlarged(s) if week.first_day <= s.day <= week.last_day else s for s in inputs.plan)
    weeks = tuple(replace(w, kind="build") if w is week else w for w in inputs.weeks)
    return replace(inputs, plan=plan, weeks=weeks)


def week_lost(inputs: Inputs, first_day: date) -> Inputs:
    """What if a week still to come is lost altogether: none of its days is free, pins included."""
    days = [first_day + timedelta(days=n) for n in range(7)]
    plan = tuple(replace(s, pinned=False) if s.day in days else s for s in inputs.plan)
    away = (*inputs.away, Away(days[0], days[-1]))
    return replace(inputs, plan=plan, away=away, minutes={**inputs.minutes, **dict.fromkeys(days, 0)})


def race_moved(inputs: Inputs, weeks: int) -> Inputs:
    """What if the race is so many weeks later (or, negative, earlier).

    Earlier: the nearest weeks to come that are not peak, taper or race fall away, then the peak's and
    the taper's own. Later: the weeks ahead of the peak are run twice, or the last ones before the
    taper when none is ahead; the copies' keys end in "~1".
    Raises ValueError when more weeks would fall away than are left.
    """
    ahead = [n for n, w in enumerate(inputs.weeks) if w.first_day > inputs.today]
    order = _earlier(inputs, ahead, -weeks) if weeks < 0 else _later(inputs, ahead, weeks)
    first = inputs.weeks[0].first_day
    plan: list[Session] = []
    kinds: list[Week] = []
    for place, source in enumerate(order):
        shift = timedelta(days=7 * (place - source))
        kinds.append(Week(first + timedelta(days=7 * place), inputs.weeks[source].kind))
        times = order[:place].count(source)
        for s in _sessions(inputs, source):
            key = f"{s.key}~{times}" if times else s.key
            plan.append(replace(s, key=key, day=s.day + shift))
    moved = {key: st for key, st in inputs.standing.items() if _stays(inputs, key, order)}
    race = inputs.race_day + timedelta(days=7 * weeks) if inputs.race_day else None
    return replace(inputs, weeks=tuple(kinds), plan=tuple(plan), standing=moved, race_day=race)


def _sessions(inputs: Inputs, week: int) -> list[Session]:
    span = inputs.weeks[week]
    return [s for s in inputs.plan if span.first_day <= s.day <= span.last_day]


def _stays(inputs: Inputs, key: str, order: list[int]) -> bool:
    """Only a session whose week keeps its place keeps what was issued about it."""
    for place, source in enumerate(order):
        if any(s.key == key for s in _sessions(inputs, source)):
            return place == source
    return False


def _earlier(inputs: Inputs, ahead: list[int], fewer: int) -> list[int]:
    loose = [n for n in ahead if inputs.weeks[n].kind not in KEPT_TO_THE_END]
    last = [n for n in ahead if inputs.weeks[n].kind in ("peak", "taper")]
    if fewer > len(loose) + len(last):
        raise ValueError(f"The race cannot be {fewer} weeks earlier: only {len(ahead)} weeks are left.")
    gone = set((loose + last)[:fewer])
    return [n for n in range(len(inputs.weeks)) if n not in gone]


def _later(inputs: Inputs, ahead: list[int], more: int) -> list[int]:
    now = ahead[0] if ahead else len(inputs.weeks)
    loose = [n for n in ahead if inputs.weeks[n].kind not in KEPT_TO_THE_END]
    gone = [n for n in range(now) if inputs.weeks[n].kind not in ("taper", "race")]
    again = loose[:more] or gone[-more:] or [now - 1]
    repeated = [again[i % len(again)] for i in range(more)]
    return [*range(now), *repeated, *range(now, len(inputs.weeks))]


def goal_changed(inputs: Inputs, race_mm: int, minimum_long_mm: int, longest_mm: int) -> Inputs:
    """Another goal: its distance, the least long run it asks for, and the longest it needs."""

    def shorter(s: Session) -> Session:
        if s.role != "long" or s.mm <= longest_mm:
            return s
        mm = longest_mm
        hard = s.hard_mm * mm // s.mm
        return replace(s, mm=mm, s=s.s * mm // s.mm, hard_mm=hard, low_mm=None, low_s=None)

    plan = tuple(
        replace(s, mm=race_mm) if s.role == "race" and s.day == inputs.race_day else shorter(s)
        for s in inputs.plan
    )
    return replace(inputs, plan=plan, race_mm=race_mm, minimum_long_mm=minimum_long_mm)


def amount_of(result: Result, amount: int, units: str) -> str:
    """An amount of a result's weeks in words."""
    return time_words(amount) if result.measured_in == "s" else distance_words(amount, units)
