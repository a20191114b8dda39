"""A running season changed by hand: changes gather in a draft of the coach's and are issued together.

Law: a draft touches nothing that is issued. Each step keeps what stood when it was made, so what was issued
meanwhile is noticed; sending is one issue by `plans.issuing`, of what the coach has seen, told to the athlete once.
A day gone by and a session that was logged are not changed here: they are logged.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from athletes.models import Athlete, Coach
from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.issuing import Content, Stale, issue
from plans.models import Schedule, SeasonDraft, SessionIssue
from plans.recording import queue_rebalance
from plans.situation import Situation, situation_of
from plans.telling import Difference, summary

MOST_STEPS = 300


class StaleDraft(Exception):
    """The draft was changed in another window since this page was made."""


class NotPossible(ValueError):
    """A change that can't be made, in a sentence for the coach."""


@dataclass(frozen=True)
class Step:
    """One thing a coach did, in words, with what stood before (None: a new session) and what stands after."""

    what: str
    put: Mapping[UUID, tuple[Content | None, Content]]

    def as_json(self) -> dict[str, Any]:
        rows = {str(k): [was.as_json() if was else None, now.as_json()] for k, (was, now) in self.put.items()}
        return {"what": self.what, "put": rows}

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> Step:
        put = {
            UUID(key): (Content.from_json(was) if was else None, Content.from_json(now))
            for key, (was, now) in values["put"].items()
        }
        return cls(values["what"], put)


@dataclass(frozen=True)
class Edited:
    """One session of the draft. `blocked`: why it can't be sent any more; `meanwhile`: what was issued since."""

    key: UUID
    was: Content | None
    now: Content
    live: Content | None
    blocked: str = ""

    @property
    def meanwhile(self) -> bool:
        return self.was != self.live

    @property
    def difference(self) -> Difference:
        return Difference(self.live, self.now)


@dataclass
class Season:
    """A schedule with one coach's draft on it, and everything its guard rails are looked at with."""

    schedule: Schedule
    coach: Coach
    found: Situation
    revision: int = 0
    steps: tuple[Step, ...] = ()
    words: str = ""
    others: tuple[str, ...] = ()

    @property
    def today(self) -> date:
        return self.found.inputs.today

    @property
    def units(self) -> Units:
        return self.found.inputs.units

    @property
    def card(self) -> PaceCard | None:
        return self.found.card

    @cached_property
    def first_and_last(self) -> tuple[date, date]:
        """The days that a session may stand on."""
        weeks = self.found.inputs.weeks
        return (
            (max(self.today, weeks[0].first_day), weeks[-1].last_day) if weeks else (self.today, self.today)
        )

    @cached_property
    def logged(self) -> frozenset[str]:
        """Keys of sessions that were run, or said to be missed."""
        return frozenset(log.key for log in self.found.inputs.logs if log.key)

    @cached_property
    def live(self) -> dict[UUID, Content]:
        return {UUID(key): Content.of(row) for key, row in self.found.live.items()}

    @cached_property
    def edits(self) -> dict[UUID, Edited]:
        """What the steps come to, session by session. Two in one place: the later one stands beside."""
        was: dict[UUID, Content | None] = {}
        now: dict[UUID, Content] = {}
        for step in self.steps:
            for key, (before, after) in step.put.items():
                was.setdefault(key, before)
                now[key] = after
        made = {}
        for key, content in now.items():
            live = self.live.get(key)
            if content != live and not (live is None and content.removed):
                made[key] = Edited(key, was[key], content, live, self._blocked(key, live, content))
        taken = {
            (c.day, c.slot)
            for key, c in self.live.items()
            if not c.removed and (key not in made or made[key].blocked)
        }
        for key, edit in made.items():
            if not edit.blocked and not edit.now.removed:
                placed = in_free_slot(edit.now, taken)
                taken.add((placed.day, placed.slot))
                made[key] = replace(edit, now=placed)
        return made

    def _blocked(self, key: UUID, live: Content | None, now: Content) -> str:
        if str(key) in self.logged:
            return "it was logged meanwhile"
        if min(now.day, live.day if live else now.day) < self.today:
            return "its day has gone by"
        return "" if now.day <= self.first_and_last[1] else "its day is no longer part of the season"

    @property
    def to_send(self) -> dict[UUID, Edited]:
        return {key: edit for key, edit in self.edits.items() if not edit.blocked}

    @cached_property
    def standing(self) -> dict[UUID, Content]:
        """Every session as it stands with the draft on it, those taken out included."""
        return self.live | {key: edit.now for key, edit in self.to_send.items()}

    def on(self, day: date) -> dict[UUID, Content]:
        return {key: c for key, c in self.standing.items() if c.day == day and not c.removed}

    def summary(self, longest: int = 400) -> str:
        differences = [edit.difference for edit in self.to_send.values()]
        return summary(differences, self.units, self.schedule.week_starts, longest=longest)

    def with_step(self, step: Step) -> Season:
        """The same season with one step more, nothing stored: what a look is taken at."""
        return replace(self, steps=(*self.steps, step))


def in_free_slot(content: Content, taken: Iterable[tuple[date, int]]) -> Content:
    used = {slot for day, slot in taken if day == content.day}
    if content.slot not in used:
        return content
    return replace(content, slot=next(n for n in range(99) if n not in used))


def open_season(schedule: Schedule, coach: Coach, now: datetime | None = None) -> Season:
    """The season as this coach sees it. `schedule` comes with `athlete` and `race_entry__race` selected."""
    found = situation_of(schedule, now or timezone.now())
    rows = list(SeasonDraft.objects.filter(schedule=schedule).select_related("coach__user"))
    mine = next((row for row in rows if row.coach_id == coach.pk), None)
    others = tuple(str(row.coach) for row in rows if row.coach_id != coach.pk and row.steps)
    if mine is None:
        return Season(schedule, coach, found, others=others)
    steps = tuple(Step.from_json(values) for values in mine.steps)
    return Season(schedule, coach, found, mine.revision, steps, mine.words, others)


def keep(season: Season, step: Step, words: str | None = None) -> Season:
    """The step stored as the draft's newest. Raises StaleDraft when another window was quicker.

    `words`: what stands typed for the athlete by now; None leaves it.
    """
    if len(season.steps) >= MOST_STEPS:
        raise NotPossible("That is a great many changes at once. Send these first.")
    return _store(season, (*season.steps, step), words)


def undo(season: Season, words: str | None = None) -> Season:
    """The draft without its newest step. Raises StaleDraft; NotPossible when there is none."""
    if not season.steps:
        raise NotPossible("There is nothing to undo here: nothing waits to be sent.")
    return _store(season, season.steps[:-1], words)


def drop(season: Season) -> Season:
    """Everything that waits to be sent is thrown away."""
    return _store(season, (), "")


def _store(season: Season, steps: tuple[Step, ...], words: str | None = None) -> Season:
    said = season.words if words is None else words
    values: dict[str, Any] = {
        "steps": [step.as_json() for step in steps],
        "words": said,
        "changed_at": timezone.now(),
        "revision": season.revision + 1,
    }
    mine = SeasonDraft.objects.filter(schedule=season.schedule, coach=season.coach)
    if mine.filter(revision=season.revision).update(**values) != 1:
        if season.revision:
            raise StaleDraft
        _, made = SeasonDraft.objects.get_or_create(
            schedule=season.schedule, coach=season.coach, defaults=values
        )
        if not made:
            raise StaleDraft
    return replace(season, steps=steps, revision=season.revision + 1, words=said)


def send(season: Season, version: int, words: str) -> int:
    """Issue the draft as the next version, told to the athlete in one sentence. The new version's number.

    `version`: the one the coach saw. Raises Stale when another was issued since, StaleDraft when the draft is
    another than the one seen, NotPossible when nothing is left to send. Then the draft stays as it is.
    """
    ready = season.to_send
    if not ready:
        raise NotPossible("Nothing is left to send.")
    if season.schedule.current_version != version:
        raise Stale("The schedule was changed meanwhile.")
    changes = {key: edit.now for key, edit in ready.items() if edit.live is not None}
    added = {key: edit.now for key, edit in ready.items() if edit.live is None}
    with transaction.atomic():
        number = issue(
            season.schedule,
            version,
            changes,
            by=season.coach.user,
            cause=f"By hand: {season.summary(280) or 'what a session is for, or a pin'}",
            added=added,
            words=words,
        )
        gone = SeasonDraft.objects.filter(
            schedule=season.schedule, coach=season.coach, revision=season.revision
        )
        if gone.delete()[0] != 1:
            raise StaleDraft
        queue_rebalance(season.schedule.athlete)
    return number


def unsent(coach: Coach, athletes: QuerySet[Athlete]) -> list[tuple[Athlete, int]]:
    """Whose seasons this coach has changed and not sent, with how many changes; in one query."""
    rows = SeasonDraft.objects.filter(coach=coach, schedule__state="running", schedule__athlete__in=athletes)
    named = rows.select_related("schedule__athlete").order_by("schedule__athlete__name")
    return [(row.schedule.athlete, len(row.steps)) for row in named if row.steps]


def issued_since(season: Season) -> set[UUID]:
    """Sessions of the draft about which something else was issued since they were changed here."""
    return {key for key, edit in season.to_send.items() if edit.meanwhile}


def as_issue(content: Content, key: UUID, schedule: Schedule) -> SessionIssue:
    """A content as the row it would become, for whoever reads rows. Never saved."""
    values = {name: getattr(content, name) for name in Content.__dataclass_fields__}
    return SessionIssue(
        session_id=key, schedule=schedule, from_version=schedule.current_version + 1, **values
    )


def within(season: Season, day: date) -> None:
    """NotPossible for a day that no session may stand on."""
    first, last = season.first_and_last
    if not first <= day <= last:
        raise NotPossible(
            f"Choose a day from {first.day} {first:%B} to {last.day} {last:%B}. "
            "What lies behind is logged, not changed."
        )
