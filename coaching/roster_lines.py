"""The roster's lines, computed and kept.

Law: a line holds until its athlete's midnight, until their re-balancing was asked for (every entry, hold and time off
asks), until another version of the schedule or another proposal stands, and until the practice changes a rule (which
deletes the lines). Whoever opens the roster brings up to date what no longer holds; each hour a job does it for all.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Exists, F, Max, OuterRef, Q
from django.utils import timezone

from athletes.models import Athlete, HealthNote, Practice
from athletes.models.people import AthleteQuerySet
from athletes.running.units import Units
from coaching.models import RosterLine, Snooze
from coaching.strips import last_weeks, week_strip
from plans.attention import words_for
from plans.attention_rules import numbers_of
from plans.jobs import carries, enqueue, progress
from plans.models import Job, Log, Proposal, Schedule, SessionIssue
from plans.reading import Week, week_of, weeks_of_many

AT_ONCE = 100
MOST_ON_A_PAGE = 300
KIND = "roster-lines"
NONE = 99


def outdated(athletes: AthleteQuerySet, now: datetime) -> list[int]:
    """The keys of those whose line is missing or no longer holds, in a few narrow queries."""
    asked = Job.objects.filter(kind="rebalance").filter(
        Q(state__in=["waiting", "running"]) | Q(finished_at__gte=now - timedelta(hours=26))
    )
    asked_keys = dict(asked.values_list("athlete_id").annotate(Max("finished_at")).order_by())
    waiting = set(asked.exclude(state__in=["done", "failed"]).values_list("athlete_id", flat=True))
    lines = athletes.filter(
        Q(roster_line__isnull=True) | Q(roster_line__until__lte=now) | Q(pk__in=waiting)
    ).values_list("pk", flat=True)
    found = set(lines)
    kept = RosterLine.objects.filter(athlete__in=athletes)
    if asked_keys:
        made = kept.filter(athlete__in=list(asked_keys)).values_list("athlete_id", "made_at")
        found |= {key for key, at in made if asked_keys[key] and asked_keys[key] >= at}
    running = Schedule.objects.filter(state="running", athlete__in=athletes)
    other = running.exclude(
        athlete__roster_line__schedule=F("pk"), athlete__roster_line__version=F("current_version")
    )
    found |= set(other.values_list("athlete_id", flat=True))
    found |= set(
        kept.filter(schedule__isnull=False)
        .exclude(schedule__state="running")
        .values_list("athlete_id", flat=True)
    )
    fresh = Proposal.objects.filter(state="open", schedule__in=running).exclude(
        Exists(RosterLine.objects.filter(proposal=OuterRef("pk")))
    )
    found |= set(fresh.values_list("schedule__athlete_id", flat=True))
    found |= set(
        kept.filter(proposal__isnull=False)
        .exclude(proposal__state="open")
        .values_list("athlete_id", flat=True)
    )
    return sorted(found)


def bring_up_to_date(athletes: AthleteQuerySet, most: int = MOST_ON_A_PAGE) -> int:
    """Compute the lines that no longer hold, at most so many; how many are left for the job."""
    keys = outdated(athletes, timezone.now())
    for start in range(0, min(len(keys), most), AT_ONCE):
        keep(list(Athlete.objects.filter(pk__in=keys[start : min(start + AT_ONCE, most)])))
    return max(0, len(keys) - most)


def forget(athletes: Iterable[int] | None = None) -> None:
    """Have these lines (or all) computed again."""
    lines = RosterLine.objects.all()
    (lines if athletes is None else lines.filter(athlete__in=list(athletes))).delete()


@carries(KIND)
def compute_all(job: Job) -> None:
    keys = outdated(Athlete.objects.filter(left_on__isnull=True), timezone.now())
    for start in range(0, len(keys), AT_ONCE):
        keep(list(Athlete.objects.filter(pk__in=keys[start : start + AT_ONCE])))
        progress(job, min(start + AT_ONCE, len(keys)), len(keys))


def write_hourly_row(now: datetime | None = None) -> None:
    """One row an hour; the key is the hour, so it is written once."""
    key = f"{(now or timezone.now()):%Y-%m-%dT%H}"
    if not Job.objects.filter(kind=KIND, key=key).exists():
        enqueue(KIND, key)


def keep(athletes: Sequence[Athlete]) -> None:
    """Compute these lines and keep them: a constant number of queries."""
    lines = computed(athletes)
    RosterLine.objects.bulk_create(
        lines,
        update_conflicts=True,
        unique_fields=["athlete"],
        update_fields=["made_at", "until", "schedule", "version", "proposal", "urgency", "values"],
    )


def computed(athletes: Sequence[Athlete]) -> list[RosterLine]:
    now = timezone.now()
    today = {athlete.pk: athlete.today(now) for athlete in athletes}
    first, last = min(today.values(), default=now.date()), max(today.values(), default=now.date())
    running = Schedule.objects.filter(athlete__in=athletes, state="running")
    schedules = list(running.select_related("athlete", "race_entry__race"))
    weeks = weeks_of_many(schedules, first - timedelta(34), last)
    ends = dict(
        SessionIssue.objects.filter(schedule__in=schedules, to_version=None, removed=False)
        .values_list("schedule_id")
        .annotate(Max("day"))
        .order_by()
    )
    logs: dict[int, list[Log]] = defaultdict(list)
    for log in Log.objects.standing().filter(athlete__in=athletes, day__gte=first - timedelta(60)):
        logs[log.athlete_id].append(log)
    holds: dict[int, list[HealthNote]] = defaultdict(list)
    for note in HealthNote.objects.filter(athlete__in=athletes, closed__isnull=True):
        holds[note.athlete_id].append(note)
    snoozed: dict[int, dict[str, Snooze]] = defaultdict(dict)
    for one in Snooze.objects.filter(athlete__in=athletes, until__gt=first):
        snoozed[one.athlete_id][one.rule] = one
    proposals = {p.schedule_id: p for p in Proposal.objects.filter(schedule__in=schedules, state="open")}
    said = dict(
        Log.objects.filter(athlete__in=athletes).values_list("athlete_id").annotate(Max("day")).order_by()
    )
    numbers = numbers_of(Practice.get().attention)
    by_athlete = {schedule.athlete_id: schedule for schedule in schedules}
    lines = []
    for athlete in athletes:
        schedule, day = by_athlete.get(athlete.pk), today[athlete.pk]
        proposal = proposals.get(schedule.pk) if schedule else None
        race = schedule.race_entry.race if schedule and schedule.race_entry else None
        units: Units = "mi" if athlete.units == "mi" else "km"
        mine = weeks[schedule.pk] if schedule else []
        found = words_for(
            mine,
            logs[athlete.pk],
            holds[athlete.pk],
            day,
            race.day if race else None,
            units,
            numbers=numbers,
            verdicts=proposal.verdicts if proposal else (),
            last_day=ends.get(schedule.pk) if schedule else None,
        )
        quiet = {rule for rule, one in snoozed[athlete.pk].items() if one.until > day}
        words = [word for word in found if word.rule not in quiet]
        last_log = said.get(athlete.pk)
        lines.append(
            RosterLine(
                athlete=athlete,
                made_at=now,
                until=datetime.combine(day + timedelta(1), time(0), ZoneInfo(athlete.time_zone)),
                schedule=schedule,
                version=schedule.current_version if schedule else None,
                proposal=proposal,
                urgency=min((word.urgency for word in words), default=NONE),
                values={
                    **figures(schedule, mine, day, units),
                    "race": race.name if race else "",
                    "days_to_race": (race.day - day).days if race else None,
                    "words": [asdict(word) for word in words],
                    "quiet": [snoozed[athlete.pk][word.rule].note for word in found if word.rule in quiet],
                    "small": proposal.small if proposal else False,
                    # Left out where there is none: databases sort a missing key alike, a null not.
                    **({"race_day": race.day.isoformat()} if race else {}),
                    **({"last_log": last_log.isoformat()} if last_log else {}),
                },
            )
        )
    return lines


def figures(schedule: Schedule | None, weeks: list[Week], today: Any, units: Units) -> dict[str, Any]:
    """This week and the four before it: pictures and totals."""
    begins = week_of(today, schedule.week_starts) if schedule else today
    this = next((week for week in weeks if week.first_day == begins), None)
    four = [week for week in weeks if week.first_day < begins][-4:]
    lately = [*four, *([this] if this else [])]
    return {
        "strip": str(week_strip(this, today, units)) if this else "",
        "four": str(last_weeks(four, units)) if four else "",
        "run_mm": this.run_mm if this else 0,
        "planned_mm": this.planned_mm if this else 0,
        "longest_mm": max((week.longest_run_mm for week in lately), default=0),
        "longest_planned_mm": max((week.longest_planned_mm for week in lately), default=0),
    }
