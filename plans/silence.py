"""Who has said nothing about their last run days: nothing is proposed for them, they are asked instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Max
from django.utils import timezone

from athletes.models import Athlete
from plans.models import Log, SessionIssue
from plans.reading import RUNS
from plans.training.gates import SILENT_RUN_DAYS

LOOK_BACK = timedelta(28)
NOON = time(12)


@dataclass(frozen=True)
class Silent:
    athlete: Athlete
    run_days: int
    since: date


def known_before(local: datetime) -> date:
    """Days before this one are known: unlogged they are missed, from noon of the next day on."""
    return local.date() if local.time() >= NOON else local.date() - timedelta(1)


def silent_among(athletes: Sequence[Athlete]) -> list[Silent]:
    """Athletes with so many run days in a row, up to the last whose noon has passed, that nothing was said about.

    Two queries. A day counts as silent exactly when re-balancing takes its run for missed.
    """
    last = dict(
        Log.objects.filter(athlete__in=athletes).values_list("athlete").annotate(Max("day")).order_by()
    )
    by_pk = {athlete.pk: athlete for athlete in athletes}
    now = timezone.now()
    known = {athlete.pk: known_before(now.astimezone(ZoneInfo(athlete.time_zone))) for athlete in athletes}
    first = min(known.values(), default=date.max) - LOOK_BACK if athletes else date.max
    due = SessionIssue.objects.filter(
        schedule__athlete__in=athletes,
        schedule__state="running",
        to_version=None,
        removed=False,
        role__in=RUNS,
        day__gte=first,
    )
    days: dict[int, set[date]] = {}
    for athlete, day in due.values_list("schedule__athlete_id", "day"):
        if last.get(athlete, date.min) < day < known[athlete]:
            days.setdefault(athlete, set()).add(day)
    found = [Silent(by_pk[pk], len(ds), min(ds)) for pk, ds in days.items() if len(ds) >= SILENT_RUN_DAYS]
    return sorted(found, key=lambda s: (s.since, s.athlete.name))
