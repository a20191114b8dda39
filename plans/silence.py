"""Who has said nothing about their last run days: nothing is proposed for them, they are asked instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Max

from athletes.models import Athlete
from plans.models import Log, SessionIssue
from plans.reading import RUNS
from plans.training.gates import SILENT_RUN_DAYS

LOOK_BACK = timedelta(28)


@dataclass(frozen=True)
class Silent:
    athlete: Athlete
    run_days: int
    since: date


def silent_among(athletes: Sequence[Athlete]) -> list[Silent]:
    """Athletes with so many run days in a row, up to yesterday, that nothing was said about; two queries."""
    last = dict(
        Log.objects.filter(athlete__in=athletes).values_list("athlete").annotate(Max("day")).order_by()
    )
    by_pk = {athlete.pk: athlete for athlete in athletes}
    today = {athlete.pk: athlete.today() for athlete in athletes}
    first = min(today.values(), default=date.max) - LOOK_BACK if athletes else date.max
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
        if last.get(athlete, date.min) < day < today[athlete]:
            days.setdefault(athlete, set()).add(day)
    found = [Silent(by_pk[pk], len(ds), min(ds)) for pk, ds in days.items() if len(ds) >= SILENT_RUN_DAYS]
    return sorted(found, key=lambda s: (s.since, s.athlete.name))
