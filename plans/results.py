"""Keep what an athlete's paces stand on: results added, set aside, taken back. Each change proposes a new card."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from django.db import transaction
from django.db.models import Q

from athletes.models import Athlete, Result, User
from athletes.running.detraining import LEAST
from athletes.running.performance import Result as Run
from athletes.running.performance import distance_name
from athletes.running.units import Distance, Duration, show_duration
from plans.evidence import Evidence
from plans.models import Log
from plans.reading import RUNS
from plans.recarding import Outcome, propose

FREE_DAYS = LEAST[0][0]  # so many days without a run cost nothing, says the core
LOOKS_BACK = timedelta(
    weeks=6
)  # a break that ended longer ago has been trained away (common practice, no source)


class Duplicate(Exception):
    """The same result is kept already."""


def add_result(athlete: Athlete, run: Run, name: str, *, by: User) -> tuple[Result, Outcome]:
    """Keep a result and propose the card it gives. Raises Duplicate for the same day, distance and time."""
    if run.day is None:
        raise ValueError("A result needs its day.")
    what = {"day": run.day, "distance_mm": run.distance.mm, "time_ms": run.duration.ms}
    with transaction.atomic():
        # Two presses of one button wait for each other here.
        Athlete.objects.select_for_update().get(pk=athlete.pk)
        if Result.objects.filter(athlete=athlete, **what).exists():
            raise Duplicate
        made = Result.objects.create(athlete=athlete, name=name, **what)
        return made, propose(athlete, f"New result, added by {by}: {told(made, athlete)}")


def set_aside(result: Result, reason: str, *, by: User) -> Outcome:
    """It no longer counts, for `reason`; it stays in the history."""
    with transaction.atomic():
        Result.objects.filter(pk=result.pk).update(set_aside_reason=reason[:120])
        what = told(result, result.athlete)
        return propose(result.athlete, f"Set aside by {by} ({reason[:60]}): {what}")


def take_back(result: Result, *, by: User) -> Outcome:
    """It counts again."""
    with transaction.atomic():
        Result.objects.filter(pk=result.pk).update(set_aside_reason="")
        return propose(result.athlete, f"Counts again, says {by}: {told(result, result.athlete)}")


def change(athlete: Athlete, keep: Callable[[], None], *, by: User) -> Outcome:
    """Keep what else the paces stand on (usual week, goal), and propose the card it gives."""
    with transaction.atomic():
        keep()
        return propose(athlete, f"Usual week or goal changed by {by}")


def told(result: Result, athlete: Athlete) -> str:
    """`10K in 48:00 on 4 November 2026`."""
    name = distance_name(Distance(result.distance_mm), "mi" if athlete.units == "mi" else "km")
    time = show_duration(Duration(result.time_ms))
    return f"{name} in {time} on {result.day.day} {result.day:%B %Y}"


@dataclass(frozen=True)
class Pause:
    """Days without a logged run: since `last_run`, until `back_on` or, without it, until now."""

    last_run: date
    back_on: date | None
    days_off: int


def pause_of(athlete: Athlete, evidence: Evidence) -> Pause | None:
    """The longest time without a logged run that a result has not answered yet; None when it costs nothing.

    Silence is not rest: a coach says whether it was a break.
    """
    today = evidence.today
    since = max([today - LOOKS_BACK, *(one.day for one in evidence.results)])
    of_run = Q(session__isnull=True) | Q(
        session__issues__to_version__isnull=True, session__issues__role__in=RUNS
    )
    logged = Log.objects.standing().filter(of_run, athlete=athlete, day__lte=today).exclude(outcome="missed")
    before = logged.filter(day__lt=since).order_by("-day").values_list("day", flat=True).first()
    days = sorted(
        {*logged.filter(day__gte=since).values_list("day", flat=True), *([before] if before else [])}
    )
    if not days:
        return None
    pauses = [Pause(one, next_one, (next_one - one).days - 1) for one, next_one in pairwise(days)]
    pauses.append(Pause(days[-1], None, (today - days[-1]).days - 1))
    longest = max(pauses, key=lambda pause: pause.days_off)
    return longest if longest.days_off > FREE_DAYS else None
