"""Group sessions made, changed and called off, and who comes to them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, time, timedelta
from uuid import uuid4

from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from athletes.models import Athlete, Group, User
from plans.gathering import Meeting
from plans.models import Attendance, GroupSession, Session
from plans.recording import Clash, Entry, as_planned_id, record

MOST_WEEKS = 52


class AlreadyThere(Exception):
    """The group meets there at that time already."""


def make(
    group: Group, day: date, *, at: time | None, place: str, steps: str = "", note: str = "", weeks: int = 1
) -> GroupSession:
    """The same day and hour for so many weeks; the first of them. Raises AlreadyThere, and then nothing is made."""
    series, now = uuid4(), timezone.now()
    rows = [
        GroupSession(
            group=group,
            series=series,
            day=day + timedelta(7 * n),
            at=at,
            place=place,
            steps=steps,
            note=note,
            changed_at=now,
        )
        for n in range(min(max(weeks, 1), MOST_WEEKS))
    ]
    for row in rows:
        if GroupSession.objects.filter(group=group, day=row.day, at=at, place=place).exists():
            raise AlreadyThere(_there(row))
    try:
        with transaction.atomic():
            for row in rows:
                row.save()
    except IntegrityError as error:  # the same form sent twice at one moment
        raise AlreadyThere(_there(rows[0])) from error
    return rows[0]


def _there(row: GroupSession) -> str:
    return f"{row.group.name} meets there on {row.day.day} {row.day:%B} already."


def change(
    one: GroupSession,
    *,
    later: bool,
    day: date,
    at: time | None,
    place: str,
    steps: str,
    note: str,
    called_off: bool,
) -> int:
    """Change this one, and with `later` those of its series that follow: how many. A moved day moves them as far."""
    shift, count, now = day - one.day, 0, timezone.now()
    try:
        with transaction.atomic():
            rows = list(
                _these(one, later).select_for_update().order_by("-day" if shift > timedelta(0) else "day")
            )
            for row in rows:
                before = (row.day, row.at, row.place, row.steps, row.note, row.called_off)
                row.day, row.at, row.place, row.steps, row.note = row.day + shift, at, place, steps, note
                row.called_off = called_off
                if before != (row.day, row.at, row.place, row.steps, row.note, row.called_off):
                    row.changes, row.changed_at = row.changes + 1, now
                    row.save()
                    count += 1
    except IntegrityError as error:
        raise AlreadyThere(_there(one)) from error
    return count


def take_away(one: GroupSession, *, later: bool) -> int:
    """Delete it, and with `later` those of its series that follow; who came goes with them."""
    with transaction.atomic():
        count = _these(one, later).count()
        _these(one, later).delete()
    return count


def _these(one: GroupSession, later: bool) -> QuerySet[GroupSession]:
    if not later:
        return GroupSession.objects.filter(pk=one.pk)
    return GroupSession.objects.filter(series=one.series, day__gte=one.day)


# Who comes


def say_expected(one: GroupSession, meetings: Mapping[int, Meeting], ticked: Collection[int]) -> None:
    """Keep where the coach's tick differs from what the plan says; `meetings` by athlete, only of who was shown."""
    rows = []
    for athlete, meeting in meetings.items():
        wanted = athlete in ticked
        rows.append((athlete, None if wanted == meeting.by_plan else wanted, meeting.came))
    _keep(one, rows)


def say_came(one: GroupSession, meetings: Mapping[int, Meeting], ticked: Collection[int]) -> None:
    """Keep who came of those who were shown."""
    rows = []
    for athlete, meeting in meetings.items():
        expected = None if meeting.expected == meeting.by_plan else meeting.expected
        rows.append((athlete, expected, athlete in ticked))
    _keep(one, rows)


def _keep(one: GroupSession, rows: Sequence[tuple[int, bool | None, bool | None]]) -> None:
    """In two statements, whatever stood there: (athlete, expected, came) each; a row that says nothing goes."""
    silent = [athlete for athlete, expected, came in rows if expected is None and came is None]
    said = [
        Attendance(group_session=one, athlete_id=athlete, expected=expected, came=came)
        for athlete, expected, came in rows
        if not (expected is None and came is None)
    ]
    with transaction.atomic():
        Attendance.objects.filter(group_session=one, athlete__in=silent).delete()
        Attendance.objects.bulk_create(
            said,
            update_conflicts=True,
            unique_fields=["group_session", "athlete"],
            update_fields=["expected", "came"],
        )


def log_as_planned(meetings: Mapping[int, Meeting], athletes: Collection[Athlete], *, by: User) -> int:
    """Log "done as planned" for these athletes' session of the day, where nobody said anything of it. How many.

    What an athlete has logged stays; said twice it counts once.
    """
    count = 0
    for athlete in athletes:
        item = meetings[athlete.pk].item
        if item is None or item.log is not None or item.day > athlete.today():
            continue
        session = Session.objects.get(pk=item.session_id)
        entry = Entry(as_planned_id(session.pk, session.logs.count()), item.day, "done")
        try:
            record(athlete, session, entry, by=by)
        except Clash:  # the athlete was quicker
            continue
        count += 1
    return count
