"""Read what a race was trained for and what came of it, for many entries in a constant number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from django.db.models import Q

from athletes.carding import COUNTS_FOR, as_run
from athletes.models import Result
from athletes.running.performance import Result as Run
from athletes.running.performance import ResultError
from athletes.running.predictions import predictions
from athletes.running.units import Distance, Duration
from plans.evidence import is_possible
from plans.models import Log, RaceEntry, Schedule, SessionIssue
from plans.racing import marks_of, units_of
from plans.reading import RUNS, Item, item_of
from plans.recording import likely_outcome
from plans.training.looking_back import Case, Raced, Training
from plans.training.raceday import second_half_change

SEASON = timedelta(weeks=18)  # so far back a plan reaches


@dataclass(frozen=True)
class Looked:
    """One entry and its case; without a result there is none."""

    entry: RaceEntry
    case: Case | None


def look_back(entries: Sequence[RaceEntry]) -> list[Looked]:
    """Entries come with athlete, race, plan and report; those without a result keep their place without a case."""
    results = _results(entries)
    trained = _training(entries)
    found = []
    for entry in entries:
        raced = _raced(entry, results[entry.athlete_id])
        found.append(Looked(entry, Case(raced, trained.get(entry.pk)) if raced else None))
    return found


def _results(entries: Sequence[RaceEntry]) -> dict[int, list[Result]]:
    found: dict[int, list[Result]] = defaultdict(list)
    athletes = {entry.athlete_id for entry in entries}
    for result in Result.objects.filter(athlete__in=athletes, set_aside_reason=""):
        found[result.athlete_id].append(result)
    return found


def _raced(entry: RaceEntry, results: Sequence[Result]) -> Raced | None:
    """The result, from the splits or by its day and distance, beside what was known before that day."""
    distance, day = Distance(entry.race.distance_mm), entry.race.day
    report, plan = getattr(entry, "report", None), getattr(entry, "plan", None)
    half: Fraction | None = None
    if report is not None:
        marks = marks_of(report)
        time = Duration(marks[-1].ms)
        half = second_half_change(marks, distance)
    else:
        same = [one for one in results if one.day == day and one.distance_mm == distance.mm]
        if not same:
            return None
        time = Duration(same[0].time_ms)
    known = [one for one in results if day - COUNTS_FOR <= one.day < day and is_possible(one)]
    target = Duration(plan.target_ms) if plan and plan.target_ms else None
    return Raced(time, _foretold(entry, [as_run(one) for one in known], distance), target, half)


def _foretold(
    entry: RaceEntry, runs: Sequence[Run], distance: Distance
) -> tuple[Duration, Duration, Duration] | None:
    weekly = Distance(entry.athlete.declared_weekly_mm) if entry.athlete.declared_weekly_mm else None
    try:
        chosen = predictions(runs, distance, weekly, units=units_of(entry.athlete)).chosen if runs else None
    except ResultError:
        return None
    return (chosen.low, chosen.time, chosen.high) if chosen else None


def _training(entries: Sequence[RaceEntry]) -> dict[int, Training]:
    """The weeks before each race, by entry, of the schedule that was under way then."""
    schedules = _schedules(entries)
    first = min((entry.race.day for entry in entries), default=date.max) - SEASON if entries else date.max
    issues: dict[int, list[SessionIssue]] = defaultdict(list)
    rows = SessionIssue.objects.filter(
        Q(to_version=None) | Q(from_version=1), schedule__in=schedules.values(), removed=False, role__in=RUNS
    )
    for issue in rows.filter(day__gte=first):
        issues[issue.schedule_id].append(issue)
    logs: dict[int, list[Log]] = defaultdict(list)
    for log in Log.objects.standing().filter(athlete__in={e.athlete_id for e in entries}, day__gte=first):
        logs[log.athlete_id].append(log)
    return {
        entry.pk: _of_one(entry, issues[schedules[entry.pk].pk], logs[entry.athlete_id])
        for entry in entries
        if entry.pk in schedules and issues[schedules[entry.pk].pk]
    }


def _schedules(entries: Sequence[RaceEntry]) -> Mapping[int, Schedule]:
    """The schedule of each entry: the one that led to it, else the newest that had begun by then."""
    begun: dict[int, list[Schedule]] = defaultdict(list)
    for one in Schedule.objects.filter(athlete__in={e.athlete_id for e in entries}).order_by(
        "first_day", "pk"
    ):
        begun[one.athlete_id].append(one)
    found = {}
    for entry in entries:
        mine = [one for one in begun[entry.athlete_id] if one.first_day <= entry.race.day]
        leading = [one for one in mine if one.race_entry_id == entry.pk]
        if mine:
            found[entry.pk] = (leading or mine)[-1]
    return found


def _of_one(entry: RaceEntry, issues: Sequence[SessionIssue], logs: Sequence[Log]) -> Training:
    """Up to the day before the race; the race itself is no training."""
    day, first = entry.race.day, entry.race.day - SEASON
    within = [one for one in issues if first <= one.day < day and one.role != "race"]
    by_session = {log.session_id: log for log in logs if log.session_id}
    units = entry.athlete.units
    stood = [item_of(one, by_session.get(one.session_id), units) for one in within if one.to_version is None]
    sessions = {item.session_id for item in stood}
    extra = [log for log in logs if log.session_id not in sessions and first <= log.day < day]
    begins = min((item.day for item in stood), default=day)
    return Training(
        weeks=-(-(day - begins).days // 7),
        first_mm=sum(one.planned_mm for one in within if one.from_version == 1),
        stood_mm=sum(item.planned_mm for item in stood),
        run_mm=sum(item.run_mm for item in stood) + sum(log.distance_mm or 0 for log in extra),
        long=_kept(stood, "long"),
        quality=_kept(stood, "quality"),
        longest_mm=max([item.run_mm for item in stood] + [log.distance_mm or 0 for log in extra], default=0),
    )


def _kept(items: Sequence[Item], role: str) -> tuple[int, int]:
    """(run, planned); one that was clearly cut short was not run as what it was for."""
    of_role = [item for item in items if item.role == role]
    run = [i for i in of_role if i.log and i.log.outcome in ("done", "other")]
    return sum(likely_outcome(i.run_mm, i.planned_mm) == "done" for i in run), len(of_role)
