"""Race day for one entry: read what is known, ask the core, keep what was chosen, and what became of it."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from athletes.models import Athlete, Practice, User
from athletes.running.course import Course, CourseError, read_course
from athletes.running.heat import HeatError
from athletes.running.performance import Result as Run
from athletes.running.performance import ResultError
from athletes.running.predictions import Predictions, predictions
from athletes.running.tracks import Track, read_track
from athletes.running.units import (
    MARATHON,
    Distance,
    Duration,
    UnitError,
    Units,
    parse_distance,
    parse_duration,
)
from plans.evidence import evidence_of
from plans.models import Race, RaceCourse, RaceEntry, RacePlan, RaceReport, Schedule
from plans.reading import Week, week_of, weeks_of
from plans.recarding import Outcome
from plans.results import Duplicate, add_result
from plans.training import raceday as core
from plans.training.raceday import Mark, RaceDayError, check_marks, compare, make_plan
from plans.training.raceday_advice import Fuel, Weather, fuel, weather
from plans.training.raceday_target import Choice, choices

ONE_KM, FIVE_KM = 1_000_000, 5_000_000
UNTIMED_M = 100  # a watch may find its first place some steps after the start
MOST_LINES = 60
CHIP_PERCENT = 3


@dataclass(frozen=True)
class RaceDay:
    """All that a page of one entry shows. `plan` is None while there is neither a result nor a goal."""

    entry: RaceEntry
    units: Units
    outlook: Predictions | None
    choices: tuple[Choice, ...]
    row: RacePlan | None
    plan: core.RacePlan | None
    weather: Weather | None
    fuel: Fuel | None
    course: Course | None
    compared: tuple[core.Compared, ...]
    problem: str

    @property
    def athlete(self) -> Athlete:
        return self.entry.athlete

    @property
    def race(self) -> Race:
        return self.entry.race

    @property
    def days_to_go(self) -> int:
        return (self.race.day - self.athlete.today()).days

    @property
    def chosen(self) -> Choice | None:
        """The choice whose time is the target; None for a time of the coach's own."""
        return next((c for c in self.choices if self.plan and c.time == self.plan.target), None)

    @property
    def cool(self) -> Duration | None:
        """The time that the heat is counted on: the target, or what it would be without the heat it allows for."""
        return _cool(self.choices, self.plan.target) if self.plan else None

    @property
    def report(self) -> RaceReport | None:
        return getattr(self.entry, "report", None)


def race_day(entry: RaceEntry) -> RaceDay:
    """Read and compute. `entry` comes with athlete and race."""
    distance, units = Distance(entry.race.distance_mm), units_of(entry.athlete)
    row: RacePlan | None = getattr(entry, "plan", None)
    outlook, problem = _outlook(entry, distance, units)
    stored: RaceCourse | None = getattr(entry.race, "course", None)
    course = Course.from_values(stored.values).fitted(distance, units) if stored else None
    goal = Duration(entry.goal_ms) if entry.goal_ms else None
    sky = _weather(Duration(3_600_000), row)
    found = choices(outlook, distance, goal, sky.wbgt if sky else None)
    target = Duration(row.target_ms) if row and row.target_ms else found[0].time if found else None
    plan = None
    if target:
        try:
            plan = make_plan(target, distance, course=course, shape=_shape(row), units=units)
        except RaceDayError as error:
            problem = str(error)
    report: RaceReport | None = getattr(entry, "report", None)
    compared = compare(plan, marks_of(report)) if plan and report else ()
    return RaceDay(
        entry=entry,
        units=units,
        outlook=outlook,
        choices=found,
        row=row,
        plan=plan,
        weather=_weather(_cool(found, target), row) if target else sky,
        fuel=fuel(target, distance) if target else None,
        course=course,
        compared=compared,
        problem=problem,
    )


def units_of(athlete: Athlete) -> Units:
    return "mi" if athlete.units == "mi" else "km"


def _cool(found: Sequence[Choice], target: Duration) -> Duration:
    """A target that allows for heat already is not slowed twice."""
    hot = len(found) > 1 and found[0].key == "heat" and found[0].time == target
    return found[1].time if hot else target


def _shape(row: RacePlan | None) -> core.ShapeKey:
    return core.shape_of(row.shape).key if row else "even"


def _outlook(entry: RaceEntry, distance: Distance, units: Units) -> tuple[Predictions | None, str]:
    """From what was known before the race: its own result may not foretell it."""
    run = entry.race.day <= entry.athlete.today()
    before = entry.race.day if run else None
    evidence = evidence_of([entry.athlete], before)[entry.athlete_id]
    if not evidence.runs:
        return None, "No result of the past year counts, so nothing can be predicted."
    try:
        found = predictions(evidence.runs, distance, evidence.weekly, units=units)
    except ResultError as error:
        return None, str(error)
    return (found, "") if found.chosen else (None, found.reason)


def _weather(target: Duration, row: RacePlan | None) -> Weather | None:
    try:
        return weather(target, wbgt=row.wbgt, air=row.air, humidity=row.humidity) if row else None
    except HeatError:
        return None


def entries_of(athlete: Athlete) -> list[RaceEntry]:
    """The athlete's races, those ahead first, the next one leading; then what is past, the newest first."""
    rows = list(with_all(RaceEntry.objects.filter(athlete=athlete)).order_by("race__day"))
    today = athlete.today()
    return [e for e in rows if e.race.day >= today] + [e for e in reversed(rows) if e.race.day < today]


def with_all(entries: Any) -> Any:
    return entries.select_related("athlete", "race__course", "plan", "report")


def race_week(entry: RaceEntry) -> Week | None:
    """The week of the race in the running schedule."""
    schedule = (
        Schedule.objects.filter(athlete=entry.athlete, state="running").select_related("athlete").first()
    )
    day = entry.race.day
    weeks = weeks_of(schedule, day, day) if schedule else []
    return next((w for w in weeks if w.first_day <= day <= w.first_day + timedelta(6)), None)


def choose(entry: RaceEntry, *, by: User, **values: Any) -> RacePlan:
    """Keep what the coach chose for this entry."""
    values |= {"by_name": str(by)[:80], "at": timezone.now()}
    row, _ = RacePlan.objects.update_or_create(entry=entry, defaults=values)
    return row


def keep_course(race: Race, content: bytes, name: str, *, by: User, units: Units = "km") -> Course:
    """Read a course file, check it against the race's distance, and keep its profile.

    Raises CourseError or TrackError with a sentence.
    """
    course = read_course(content)
    fitted = course.fitted(Distance(race.distance_mm), units)
    RaceCourse.objects.update_or_create(
        race=race,
        defaults={
            "file_name": name[-120:],
            "sha256": hashlib.sha256(content).hexdigest(),
            "values": course.to_values(),
            "by_name": str(by)[:80],
            "at": timezone.now(),
        },
    )
    return fitted


# Afterwards


def marks_of(report: RaceReport) -> tuple[Mark, ...]:
    return tuple(Mark(mm, ms) for mm, ms in report.marks)


def typed_marks(text: str, distance: Distance, units: Units) -> tuple[Mark, ...]:
    """Lines like `5 km 24:50`, `half 1:45:10`, `finish 3:31:22`, in any order. Raises RaceDayError for anything else."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if len(lines) > MOST_LINES:
        raise RaceDayError(f"That is {len(lines)} lines; at most {MOST_LINES} are read.")
    marks = sorted((_typed(line, distance, units) for line in lines), key=lambda mark: mark.mm)
    check_marks(marks, distance)
    return tuple(marks)


def _typed(line: str, distance: Distance, units: Units) -> Mark:
    where, _, clock = re.sub(r"\s*[:,;=]?\s+", " ", line).rpartition(" ")
    if not where:
        raise RaceDayError(f"“{line[:40]}” needs a place and a time, like 5 km 24:50 or finish 3:31:22.")
    plain = where.lower().strip(" :")
    try:
        if plain in ("finish", "line", "end"):
            mm = distance.mm
        elif plain in ("half", "halfway", "half-way"):
            mm = distance.mm // 2
        else:
            mm = parse_distance(where.strip(" :"), units).mm
        time = parse_duration(clock)
    except UnitError as error:
        raise RaceDayError(f"“{line[:40]}”: {error}") from error
    # 42.2 km as it is usually written is the line.
    return Mark(distance.mm if abs(mm - distance.mm) * 500 < distance.mm else mm, time.ms)


def file_marks(track: Track, distance: Distance) -> tuple[Mark, ...]:
    """Marks each 5 km (each km up to 10 km) and at the line from a recorded run, by the clock, over the race's distance."""
    if abs(track.mm - distance.mm) * 100 > CHIP_PERCENT * distance.mm:
        raise RaceDayError(
            f"This file has {float(track.distance.km):.1f} km, the race {float(distance.km):.1f} km. Cut off warm-up and way "
            f"home, or type the splits."
        )
    untimed = float(track.samples[0].mm) / 1_000_000
    if untimed * 1000 > UNTIMED_M:
        raise RaceDayError(f"The first {untimed:.1f} km of this file have no times. Type the splits.")
    step = ONE_KM if distance.mm <= 2 * FIVE_KM else FIVE_KM
    places = [*range(step, distance.mm, step), distance.mm]
    marks = tuple(Mark(mm, _clock_at(track, mm * track.mm // distance.mm)) for mm in places)
    check_marks(marks, distance)
    return marks


def _clock_at(track: Track, mm: int) -> int:
    before = track.samples[0]
    for sample in track.samples:
        if sample.mm >= mm:
            step = sample.mm - before.mm
            return before.ms + ((sample.ms - before.ms) * (mm - before.mm) // step if step else 0)
        before = sample
    return track.samples[-1].ms


def read_marks(content: bytes, distance: Distance) -> tuple[Mark, ...]:
    return file_marks(read_track(content), distance)


@transaction.atomic
def report(
    entry: RaceEntry, marks: Sequence[Mark], source: str, *, by: User, sha256: str = ""
) -> Outcome | None:
    """Keep the splits, and the result, which proposes the paces it gives. None where that result was kept before."""
    RaceReport.objects.update_or_create(
        entry=entry,
        defaults={
            "marks": [[mark.mm, mark.ms] for mark in marks],
            "source": source,
            "sha256": sha256,
            "by": by,
            "at": timezone.now(),
        },
    )
    try:
        run = Run(Distance(entry.race.distance_mm), Duration(marks[-1].ms), entry.race.day)
        return add_result(entry.athlete, run, entry.race.name, by=by)[1]
    except Duplicate:
        return None
    except ResultError as error:
        return Outcome(None, str(error))


__all__ = ["CourseError", "RaceDay", "race_day"]


def first_day(athlete: Athlete) -> date:
    """When the next plan may begin: today; after a marathon not before the next training week, so that two weeks of
    recovery are two (common practice, no source)."""
    today = athlete.today()
    fresh = athlete.race_entries.filter(
        race__day__range=(today - timedelta(6), today), race__distance_mm__gte=MARATHON.mm
    )
    run = fresh.select_related("race").order_by("race__day").last()
    after = week_of(run.race.day, Practice.get().week_starts) + timedelta(7) if run else today
    return max(today, after)
