"""A fitted schedule changed by hand before it is issued: written otherwise, on another day, or left out.

A hand edit says how many days a session moves, not the date it moves to: fitted anew to another race date, the edit
goes with its session. The guard rails then look at what the coach made of it; a broken one is named, never mended.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from plans.training import shorthand
from plans.training.fitting_check import broken_rails
from plans.training.fitting_sizes import Measurer
from plans.training.fitting_types import FitAthlete, Fitted, FittedSession, FittedWeek
from plans.training.guardrails import Rails
from plans.training.intensity import role_of
from plans.training.template import Template

Place = tuple[str, int]  # template key and repeat: what finds a session again at the next fitting


@dataclass(frozen=True)
class HandEdit:
    """`text` instead of what was fitted (None: as fitted; empty: left out), `shift` days later than fitted."""

    text: str | None = None
    shift: int = 0

    @property
    def removes(self) -> bool:
        return self.text == ""


@dataclass(frozen=True)
class ByHand:
    """The schedule with its edits, and which sessions they are: `pinned` stand otherwise, `removed` are out."""

    fitted: Fitted
    pinned: frozenset[Place] = frozenset()
    removed: tuple[FittedSession, ...] = ()

    def is_pinned(self, session: FittedSession) -> bool:
        return session.template_key is not None and (session.template_key, session.repeat) in self.pinned


def place_of(session: FittedSession) -> Place | None:
    """None for what is not changed by hand: races are moved by their date."""
    if session.template_key is None or session.role == "race":
        return None
    return session.template_key, session.repeat


def apply_by_hand(
    fitted: Fitted,
    edits: Mapping[Place, HandEdit],
    template: Template,
    athlete: FitAthlete,
    rails: Rails,
    start: date,
    measurer: Measurer,
) -> ByHand:
    """The schedule with these edits, its sums and guard rails anew.

    An edit whose session is no longer in the schedule, or that would leave its days, is told in `bent` and dropped.
    Raises ShorthandError for a text that can't be read.
    """
    first, last = open_days(fitted, start)
    stand: list[FittedSession] = []
    edited: list[tuple[Place, FittedSession]] = []
    removed: list[FittedSession] = []
    told: list[str] = []
    left = dict(edits)
    for session in fitted.sessions:
        place = place_of(session)
        edit = left.pop(place, None) if place else None
        if edit is None or place is None:
            stand.append(session)
        elif edit.removes:
            removed.append(session)
            told.append(f"By hand: the session on {_day(session.day)} is left out.")
        elif not first <= session.day + timedelta(edit.shift) <= last:
            stand.append(session)
            told.append(
                f"By hand: the session on {_day(session.day)} can't leave the schedule's days; it stays."
            )
        else:
            changed = _changed(session, edit, measurer)
            edited.append((place, changed))
            told.append(_told(session, changed))
    if left:
        words = "1 session that was" if len(left) == 1 else f"{len(left)} sessions that were"
        told.append(f"{words} changed by hand no longer stand in the schedule; those changes are gone.")
    taken = {(s.day, s.slot) for s in stand}
    for _, session in edited:
        stand.append(_in_free_slot(session, taken))
    sessions = tuple(sorted(stand, key=lambda s: (s.day, s.slot)))
    whole = _with_sums(fitted, sessions)
    weeks = _monday_weeks(whole.weeks, sessions, athlete.week_starts)
    broken = broken_rails(template, athlete, weeks, sessions, rails, max(start, weeks[0].first_day))
    whole = replace(whole, bent=(*fitted.bent, *told), broken=broken)
    return ByHand(whole, frozenset(place for place, _ in edited), tuple(removed))


def open_days(fitted: Fitted, start: date) -> tuple[date, date]:
    """First and last day that a session may move to by hand: up to the day before the goal race."""
    race = next((s.day for s in reversed(fitted.sessions) if s.role == "race" and s.template_key), None)
    last = race - timedelta(1) if race else fitted.weeks[-1].first_day + timedelta(6)
    return max(start, fitted.weeks[0].first_day), last


def _changed(session: FittedSession, edit: HandEdit, measurer: Measurer) -> FittedSession:
    moved = replace(session, day=session.day + timedelta(edit.shift))
    if edit.text is None or edit.text == session.text:
        return moved
    tree = shorthand.parse(edit.text)
    mm, s, hard_mm = measurer.amounts(tree)
    return replace(moved, role=role_of(tree), text=edit.text, mm=mm, s=s, hard_mm=hard_mm)


def _told(before: FittedSession, after: FittedSession) -> str:
    said = []
    if after.day != before.day:
        said.append(f"moves to {_day(after.day)}")
    if after.text != before.text:
        said.append(f"is “{after.text}” instead of “{before.text}”")
    return f"By hand: the session on {_day(before.day)} {' and '.join(said) or 'stays as it is'}."


def _in_free_slot(session: FittedSession, taken: set[tuple[date, int]]) -> FittedSession:
    slot = 0
    while (session.day, slot) in taken:
        slot += 1
    taken.add((session.day, slot))
    return replace(session, slot=slot)


def _with_sums(fitted: Fitted, sessions: Sequence[FittedSession]) -> Fitted:
    weeks = tuple(
        replace(
            week,
            mm=sum(s.mm for s in sessions if 0 <= (s.day - week.first_day).days < 7 and s.role != "race"),
        )
        for week in fitted.weeks
    )
    return replace(fitted, weeks=weeks, sessions=tuple(sessions))


def _monday_weeks(
    weeks: Sequence[FittedWeek], sessions: Sequence[FittedSession], starts: int
) -> Sequence[FittedWeek]:
    """The weeks from Monday on, as fitting checks them, whichever day the practice begins its weeks with."""
    if not starts:
        return weeks
    ahead = timedelta(starts if starts <= 3 else starts - 7)
    moved = [replace(week, first_day=week.first_day - ahead) for week in weeks]
    held = [any(0 <= (s.day - week.first_day).days < 7 for s in sessions) for week in moved]
    return moved[held.index(True) : len(held) - held[::-1].index(True)] if any(held) else moved


def _day(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B}"
