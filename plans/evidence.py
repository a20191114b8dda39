"""What an athlete's paces stand on: results that count, the usual week, the goal, a break the coach allowed for.

Law: read for many athletes at once in a constant number of queries; one athlete is a batch of one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists, F, OuterRef
from django.utils import timezone

from athletes.carding import COUNTS_FOR, as_run
from athletes.models import Athlete, PaceCard, Result
from athletes.running import paces
from athletes.running.detraining import card_after_break
from athletes.running.performance import Result as Run
from athletes.running.performance import ResultError
from athletes.running.predictions import best_result
from athletes.running.units import Distance, Duration, Units
from plans.models import CardProposal, Schedule, ScheduleVersion


@dataclass(frozen=True)
class Evidence:
    """`results` are those that count, newest first; `standing` is the card in force; `days_off` of an allowed break."""

    athlete: Athlete
    today: date
    results: tuple[Result, ...]
    goal: tuple[Distance, Duration] | None
    days_off: int | None
    schedule: Schedule | None
    standing: PaceCard | None
    last_number: int

    @property
    def units(self) -> Units:
        return "mi" if self.athlete.units == "mi" else "km"

    @property
    def weekly(self) -> Distance | None:
        mm = self.athlete.declared_weekly_mm
        return Distance(mm) if mm else None

    @property
    def runs(self) -> list[Run]:
        return [as_run(one) for one in self.results]

    @property
    def base(self) -> Result | None:
        """The result that sets the card: the best of those that count."""
        best = best_result(self.runs)
        return next((one for one in self.results if as_run(one) == best), None)

    def compute(self, days_off: int | None = None) -> paces.PaceCard:
        """The card of this evidence; `days_off` instead of the break allowed for, 0 for none.

        Raises CardError or ResultError with a sentence for the page.
        """
        off = self.days_off if days_off is None else days_off
        if off:
            return card_after_break(
                self.runs, off, weekly_distance=self.weekly, goal=self.goal, units=self.units
            )
        return paces.make_card(self.runs, weekly_distance=self.weekly, goal=self.goal, units=self.units)


def evidence_of(athletes: Sequence[Athlete], before: date | None = None) -> dict[int, Evidence]:
    """The evidence of each athlete by key, in five queries. With `before`, the results known before that day."""
    now = timezone.now()
    days = {one.pk: before - timedelta(1) if before else one.today(now) for one in athletes}
    if not days:
        return {}
    results: dict[int, list[Result]] = defaultdict(list)
    counting = Result.objects.filter(set_aside_reason="", day__gte=min(days.values()) - COUNTS_FOR)
    for result in counting.filter(athlete__in=days):
        today = days[result.athlete_id]
        if today - COUNTS_FOR <= result.day <= today and is_possible(result):
            results[result.athlete_id].append(result)
    schedules = {
        s.athlete_id: s
        for s in Schedule.objects.filter(athlete__in=days, state="running").select_related("race_entry__race")
    }
    newer = PaceCard.objects.filter(athlete=OuterRef("athlete"), number__gt=OuterRef("number"))
    newest = {card.athlete_id: card for card in PaceCard.objects.filter(~Exists(newer), athlete__in=days)}
    issued = {
        version.schedule.athlete_id: version.pace_card
        for version in ScheduleVersion.objects.filter(
            schedule__state="running", schedule__athlete__in=days, number=F("schedule__current_version")
        ).select_related("schedule", "pace_card")
    }
    breaks = {
        one.athlete_id: one
        for one in CardProposal.objects.filter(
            athlete__in=days, state="accepted", days_off__isnull=False
        ).order_by("decided_at")
    }
    found = {}
    for one in athletes:
        counts, days_off = _allowing_for(breaks.get(one.pk), results[one.pk], one)
        card = newest.get(one.pk)
        found[one.pk] = Evidence(
            athlete=one,
            today=days[one.pk],
            results=tuple(counts),
            goal=_goal(schedules.get(one.pk)),
            days_off=days_off,
            schedule=schedules.get(one.pk),
            standing=issued.get(one.pk, card),
            last_number=card.number if card else 0,
        )
    return found


def is_possible(result: Result) -> bool:
    """Whether the core takes it: what came from elsewhere may be an ultra, or a slip of the pen."""
    try:
        as_run(result)
    except ResultError:
        return False
    return True


def _allowing_for(
    allowed: CardProposal | None, results: list[Result], athlete: Athlete
) -> tuple[list[Result], int | None]:
    """The results that count, and the days off to allow for: a result since the break makes older ones history."""
    if allowed is None or not allowed.days_off:
        return results, None
    since = athlete.today(allowed.made_at)
    after = [one for one in results if one.day >= since]
    return (after, None) if after else (results, allowed.days_off)


def _goal(schedule: Schedule | None) -> tuple[Distance, Duration] | None:
    """The goal as the card takes it; none where nobody could make a pace of it (an ultra, a slip of the pen)."""
    entry = schedule.race_entry if schedule else None
    if entry is None or not entry.goal_ms:
        return None
    goal = Distance(entry.race.distance_mm), Duration(entry.goal_ms)
    try:
        Run(*goal)
    except ResultError:
        return None
    return goal


def why_it_does_not_count(result: Result, evidence: Evidence) -> str:
    """A few words for the list of results; empty when it counts."""
    if result.set_aside_reason:
        return f"set aside: {result.set_aside_reason}"
    if result.day < evidence.today - COUNTS_FOR:
        return "older than a year"
    if result.day > evidence.today:
        return "its day is still to come"
    if not is_possible(result) or best_result([as_run(result)]) is None:
        return "outside 1 to 50 km or 3.5 minutes to 7 hours"
    if result.pk not in {one.pk for one in evidence.results}:
        return "from before the break"
    return ""
