"""Issue a schedule's next version. The only place that writes what is issued about a session.

Law: a schedule is never edited in place; a version writes only what changed; it is issued by one conditional
update on the current version, so that nothing is overwritten that the issuer has not seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import date
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from athletes.models import PaceCard, User
from plans.models import Schedule, ScheduleVersion, ScheduleWeek, Session, SessionIssue


class Stale(Exception):
    """Somebody issued another version meanwhile, or the change no longer fits it."""


@dataclass(frozen=True)
class Content:
    """What is issued about one session. Amounts in whole millimetres and seconds."""

    day: date
    slot: int
    role: str
    supporting: bool
    steps: str
    purpose: str
    planned_mm: int
    planned_s: int
    pinned_by_id: int | None = None
    removed: bool = False
    bent: Mapping[str, Any] = field(default_factory=dict)

    @classmethod
    def of(cls, issue: SessionIssue) -> Content:
        return cls(**{name: getattr(issue, name) for name in cls.__dataclass_fields__})

    def as_json(self) -> dict[str, Any]:
        return {**asdict(self), "day": self.day.isoformat()}

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> Content:
        return cls(**{**values, "day": date.fromisoformat(values["day"])})


def live(schedule: Schedule) -> list[SessionIssue]:
    """What stands now, removed sessions left out, by day and slot."""
    return list(SessionIssue.objects.filter(schedule=schedule, to_version__isnull=True, removed=False))


def issue(
    schedule: Schedule,
    base_version: int,
    changes: Mapping[UUID, Content],
    *,
    by: User | None,
    cause: str,
    card: PaceCard | None = None,
    added: Mapping[UUID, Content] | None = None,
    weeks: Mapping[date, tuple[str, str] | None] | None = None,
    rails: Mapping[str, int] | None = None,
    words: str = "",
) -> int:
    """Issue the next version: `changes` to sessions it has, `added` ones with new identities. The new number.

    `weeks`: kind and purpose of weeks by their first day, None for one that is no longer part of it.
    `words`: what the coach says to the athlete about it.
    Raises Stale when `base_version` is not the current one, or two sessions would stand in one place.
    """
    try:
        with transaction.atomic():
            number = _issue(schedule, base_version, changes, by, cause, card, added or {}, rails, words)
            _issue_weeks(schedule, number, weeks or {})
            return number
    except IntegrityError as error:
        raise Stale("Another session already stands on one of these days.") from error


def _issue(
    schedule: Schedule,
    base_version: int,
    changes: Mapping[UUID, Content],
    by: User | None,
    cause: str,
    card: PaceCard | None,
    added: Mapping[UUID, Content],
    rails: Mapping[str, int] | None,
    words: str,
) -> int:
    number = base_version + 1
    moved = Schedule.objects.filter(pk=schedule.pk, current_version=base_version, state="running").update(
        current_version=number
    )
    if moved != 1:
        raise Stale("The schedule was changed meanwhile.")
    before = ScheduleVersion.objects.get(schedule=schedule, number=base_version)
    ScheduleVersion.objects.create(
        schedule=schedule,
        number=number,
        issued_at=timezone.now(),
        by=by,
        by_name=str(by) if by else "",
        cause=cause[:300],
        words=words[:300],
        pace_card=card or before.pace_card,
        rails=before.rails if rails is None else dict(rails),
    )
    Session.objects.bulk_create(Session(id=pk, schedule=schedule) for pk in added)
    old = {
        row.session_id: row for row in SessionIssue.objects.filter(session__in=list(changes), to_version=None)
    }
    # Closed first, all of them: two sessions that change places never stand in one slot.
    SessionIssue.objects.filter(pk__in=[row.pk for row in old.values()]).update(to_version=number)
    SessionIssue.objects.bulk_create(
        SessionIssue(
            session_id=pk,
            schedule=schedule,
            from_version=number,
            sequence=old[pk].sequence + 1 if pk in old else 0,
            **{**asdict(content), "steps": content.steps[:400]},
        )
        for pk, content in {**changes, **added}.items()
    )
    schedule.current_version = number
    return number


def _issue_weeks(schedule: Schedule, number: int, weeks: Mapping[date, tuple[str, str] | None]) -> None:
    if not weeks:
        return
    live_weeks = ScheduleWeek.objects.filter(schedule=schedule, to_version=None)
    live_weeks.filter(first_day__in=list(weeks)).update(to_version=number)
    ScheduleWeek.objects.bulk_create(
        ScheduleWeek(
            schedule=schedule, first_day=day, kind=written[0], purpose=written[1][:400], from_version=number
        )
        for day, written in weeks.items()
        if written is not None
    )


@transaction.atomic
def issue_cards(cards: Mapping[int, PaceCard], *, by: User | None) -> None:
    """Issue new paces and the same sessions, as the next version of each running schedule (by its key).

    A constant number of queries however many there are. The rows are locked first, so whoever issues at the same
    moment finds another version and gets Stale.
    """
    running = Schedule.objects.select_for_update().filter(pk__in=cards, state="running").order_by("pk")
    schedules = list(running)
    before = ScheduleVersion.objects.filter(schedule__in=schedules, number=F("schedule__current_version"))
    rails = {version.schedule_id: version.rails for version in before}
    now = timezone.now()
    ScheduleVersion.objects.bulk_create(
        ScheduleVersion(
            schedule=schedule,
            number=schedule.current_version + 1,
            issued_at=now,
            by=by,
            by_name=str(by) if by else "",
            cause=f"New paces, from {cards[schedule.pk].origin}"[:300],
            pace_card=cards[schedule.pk],
            rails=rails[schedule.pk],
        )
        for schedule in schedules
    )
    Schedule.objects.filter(pk__in=[s.pk for s in schedules]).update(current_version=F("current_version") + 1)


def undo(
    schedule: Schedule,
    number: int,
    today: date,
    *,
    by: User,
    weeks: Mapping[date, tuple[str, str] | None] | None = None,
) -> int:
    """Issue again what version `number` replaced, for sessions that lie ahead now; a missed one that it had moved
    goes back to the day it was missed on, one that it had put in is taken out. Sessions changed since then are left
    alone.
    """
    written = SessionIssue.objects.filter(schedule=schedule, from_version=number, to_version=None)
    former = {
        row.session_id: row
        for row in SessionIssue.objects.filter(
            schedule=schedule, to_version=number, session__in=written.values("session")
        )
    }
    back = {
        row.session_id: Content.of(former[row.session_id]) if row.session_id in former else _taken_out(row)
        for row in written
        if row.day >= today and (row.session_id in former or not row.removed)
    }
    if not back:
        raise Stale("Nothing of it lies ahead any more, or it was changed again since.")
    return issue(
        schedule, schedule.current_version, back, by=by, cause=f"Undone: version {number}", weeks=weeks
    )


def _taken_out(row: SessionIssue) -> Content:
    return replace(Content.of(row), removed=True, planned_mm=0, planned_s=0)
