"""A season in which what happened is said in a line: for tests of re-balancing with a real database."""

from __future__ import annotations

from datetime import date, timedelta

from django.utils import timezone

from plans.models import Log, Schedule, SessionIssue
from tests.factories import AthleteFactory, scheduled

KM = 1_000_000


def lived(
    athlete=None, *, missed_days: int = 9, reason: str = "travel", weeks: int = 8, ago: int = 3
) -> Schedule:
    """Everything run as planned, but the last `missed_days` days missed."""
    schedule = scheduled(athlete or AthleteFactory(), weeks=weeks, began_weeks_ago=ago)
    today = schedule.athlete.today()
    for issue in SessionIssue.objects.filter(schedule=schedule, day__lt=today):
        gone = issue.day >= today - timedelta(missed_days)
        log(issue, "missed" if gone else "done", reason if gone else "")
    return Schedule.objects.select_related("athlete", "race_entry__race").get(pk=schedule.pk)


def log(issue: SessionIssue, outcome: str = "done", reason: str = "", mm: int | None = None) -> Log:
    return Log.objects.create(
        athlete_id=issue.schedule.athlete_id,
        session_id=issue.session_id,
        day=issue.day,
        time_zone="UTC",
        received_at=timezone.now(),
        outcome=outcome,
        reason=reason,
        distance_mm=mm,
    )


def ahead(schedule: Schedule, role: str, weeks: int = 0) -> SessionIssue:
    """The first session of this role from tomorrow on, so many weeks later."""
    after = schedule.athlete.today() + timedelta(1 + 7 * weeks)
    return SessionIssue.objects.filter(
        schedule=schedule, role=role, to_version=None, day__gte=after
    ).order_by("day")[0]


def standing(schedule: Schedule) -> list[tuple[date, str]]:
    """What stands from today on: day and shorthand."""
    live = SessionIssue.objects.filter(
        schedule=schedule, to_version=None, removed=False, day__gte=schedule.athlete.today()
    )
    return [(issue.day, issue.steps) for issue in live.order_by("day", "slot")]
