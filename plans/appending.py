"""Append a plan to a running schedule: a second goal race, or a recovery block after the first.

One running schedule an athlete. What is appended begins the day after the schedule's last, with new identities and
new weeks; nothing before it changes. It is a refit that adds: shown before, told, kept and undone like one.

The parts of a schedule stand in `SchedulePart`. `Schedule.template_version` is that of the part under way, and
`Schedule.race_entry` the next goal still ahead: re-balancing knows one race, the next, and all weeks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from plans.assigning import Aim, describe, rails_for
from plans.issuing import live
from plans.models import Log, Schedule, SchedulePart, ScheduleWeek, SessionIssue, TemplateVersion
from plans.reading import RUNS, card_of
from plans.refitting import Refit, Slot, content_of, part_under_way, tune_ups_of
from plans.training.fitting import fit
from plans.training.fitting_types import CannotFit, FitRace, Fitted

WEEKS_RUN, LONGEST_COUNTS = 8, 30  # weeks looked back on; days that a long run counts for
BETWEEN = "Between two plans: run easily as you like, or not at all."


def append(schedule: Schedule, version: TemplateVersion, aim: Aim, today: date) -> Refit:
    """What appending would add; nothing is stored. Raises CannotFit with a sentence and the place to mend it."""
    athlete = schedule.athlete
    card = card_of(schedule)
    issues = live(schedule)
    start = max(today, max((i.day for i in issues), default=today)) + timedelta(1)
    free = athlete.availabilities.filter(valid_from__lte=start).last() or athlete.availabilities.first()
    if card is None:
        raise CannotFit("athlete", "There is no pace card: the schedule was issued without one.")
    if free is None:
        raise CannotFit("availability", "No free days are known.")
    race = FitRace(aim.race_day, aim.race_mm, aim.race_name) if aim.race_day else None
    if race is not None and race.day < start:
        raise CannotFit(
            "race", f"The schedule has sessions until {start - timedelta(1):%-d %B %Y}: choose a later race."
        )
    week_mm, long_mm = running_by_then(schedule, issues, start, today)
    person = describe(
        athlete,
        card.card,
        free.minutes(),
        today,
        tune_ups=tune_ups_of(athlete, start, aim.race_day),
        since=start,
    )
    person = replace(person, week_mm=week_mm, long_mm=long_mm, week_starts=schedule.week_starts)
    if race is None:
        person = replace(person, tune_ups=())
    fitted = fit(version.plan, person, race, rails_for(athlete, version), today, start=start)
    why = f"{version.template.name} from {start.day} {start:%B}"
    if race is not None:
        why += f", for {race.name or 'the race'} on {race.day.day} {race.day:%B}"
    words = "New: appended behind your plan."
    slots = tuple(
        Slot(
            None,
            UUID(s.template_key) if s.template_key else None,
            None,
            content_of(s),
            s.purpose if s.template_key is None else words,
        )
        for s in fitted.sessions
    )
    return Refit(schedule, version, aim, start, fitted, slots, _weeks(schedule, fitted), why, appended=True)


def _weeks(schedule: Schedule, fitted: Fitted) -> dict[date, tuple[str, str] | None]:
    """New weeks; one that the schedule has already stays its own, and none is missing between."""
    stand = set(
        ScheduleWeek.objects.filter(schedule=schedule, to_version=None).values_list("first_day", flat=True)
    )
    new = {w.first_day: (w.kind, w.purpose[:400]) for w in fitted.weeks if w.first_day not in stand}
    made: dict[date, tuple[str, str] | None] = dict(new)
    first = max(stand, default=fitted.weeks[0].first_day) + timedelta(7)
    while first < fitted.weeks[0].first_day:
        made[first] = ("recovery", BETWEEN)
        first += timedelta(7)
    return made


def running_by_then(
    schedule: Schedule, issues: list[SessionIssue], start: date, today: date
) -> tuple[int, int]:
    """A usual week and the longest run on the day the appended plan begins, mm, races left out.

    Logged until today, planned from then on. A usual week is the mean of the last four weeks, or of the last
    eight where that is more: a taper does not make a runner of 60 km a week one of 30.
    """
    first = start - timedelta(7 * WEEKS_RUN)
    logs = Log.objects.standing().filter(athlete=schedule.athlete_id, day__gte=first, day__lt=today)
    ran = [
        (log.day, log.distance_mm or 0)
        for log in logs.exclude(outcome="missed").select_related("session")
        if log.session_id not in {i.session_id for i in issues if i.role == "race"}
    ]
    until = today if ran else first  # who logs nothing is taken to run the plan
    runs = ran + [
        (i.day, i.planned_mm) for i in issues if i.role in RUNS and i.role != "race" and i.day >= until
    ]
    if not runs:
        return schedule.athlete.declared_weekly_mm, schedule.athlete.declared_longest_mm

    def mean(weeks: int) -> int:
        held = min(weeks, max(1, -(-(start - min(day for day, _ in runs)).days // 7)))
        return sum(mm for day, mm in runs if start - timedelta(7 * weeks) <= day < start) // held

    longest = max((mm for day, mm in runs if start - timedelta(LONGEST_COUNTS) <= day < start), default=0)
    return max(mean(4), mean(WEEKS_RUN)), longest


# The parts, once a proposal is accepted or undone.


def add_part(schedule: Schedule, first_day: date, values: Mapping[str, Any]) -> None:
    """The appended part; the first time, what the schedule was until now becomes its first."""
    if not schedule.parts.exists():
        SchedulePart.objects.create(
            schedule=schedule,
            first_day=schedule.first_day,
            template_version=schedule.template_version,
            race_entry=schedule.race_entry,
        )
    SchedulePart.objects.create(schedule=schedule, first_day=first_day, **values)
    advance(schedule, schedule.athlete.today())


def change_part(schedule: Schedule, values: Mapping[str, Any]) -> None:
    """The part under way has another race or template version."""
    part = part_under_way(schedule, schedule.athlete.today())
    if part is not None:
        SchedulePart.objects.filter(pk=part.pk).update(**values)


def take_part_away(schedule: Schedule, first_day: date) -> None:
    """The appended part is undone; a single part that is left is the schedule itself."""
    schedule.parts.filter(first_day=first_day).delete()
    advance(schedule, schedule.athlete.today())
    if schedule.parts.count() == 1:
        schedule.parts.all().delete()


def advance(schedule: Schedule, today: date) -> None:
    """Write down the part under way and the next goal still ahead (once all have been run, the last one)."""
    part = part_under_way(schedule, today)
    if part is None:
        return
    entries = [p.race_entry for p in schedule.parts.select_related("race_entry__race") if p.race_entry]
    ahead = [entry for entry in entries if entry.race.day >= today]
    goal = ahead[0] if ahead else entries[-1] if entries else None
    schedule.template_version_id, schedule.race_entry = part.template_version_id, goal
    Schedule.objects.filter(pk=schedule.pk).update(template_version=part.template_version_id, race_entry=goal)


def advance_all() -> None:
    """Every running schedule with parts, day by day where its athlete is."""
    for schedule in (
        Schedule.objects.filter(state="running", parts__isnull=False).distinct().select_related("athlete")
    ):
        advance(schedule, schedule.athlete.today())
