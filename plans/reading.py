"""Read schedules for pages and paper: weeks of sessions with what was run. A constant number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from athletes.models import PaceCard
from plans.models import Log, Schedule, ScheduleVersion, ScheduleWeek, SessionIssue, version_before
from plans.training.describing import title
from plans.training.shorthand import ShorthandError, parse
from plans.training.steps import Session as Steps

RUNS = ("easy", "long", "quality", "race")


@lru_cache(maxsize=20_000)
def understood(text: str) -> Steps | None:
    """The step tree of a shorthand line; None for free text that a coach kept as such."""
    try:
        return parse(text)
    except ShorthandError:
        return None


def title_of(text: str, units: str) -> str:
    steps = understood(text)
    return title(steps, "mi" if units == "mi" else "km") if steps else text


@dataclass(frozen=True)
class Item:
    """One session as a page shows it."""

    session_id: UUID
    day: date
    slot: int
    role: str
    key: bool
    title: str
    steps: str
    purpose: str
    planned_mm: int
    planned_s: int
    changed: bool
    log: Log | None
    where: str = ""  # time and place of the group session it is run in (`plans.gathering.with_places`)

    @property
    def is_run(self) -> bool:
        return self.role in RUNS

    @property
    def state(self) -> str:
        """planned, done, changed or missed: the athlete's words."""
        if self.log is not None:
            return "missed" if self.log.outcome == "missed" else "done"
        return "changed" if self.changed else "planned"

    @property
    def ran_on(self) -> date:
        """The day it was run: a swap of days is the log's, the schedule stays the coach's."""
        return self.log.day if self.log else self.day

    @property
    def run_mm(self) -> int:
        """What counts as run; a log without a distance says: as planned."""
        if self.log is None or self.log.outcome == "missed" or not self.is_run:
            return 0
        if self.log.distance_mm is not None:
            return self.log.distance_mm
        return self.planned_mm if self.log.outcome == "done" else 0


@dataclass(frozen=True)
class Week:
    """Seven days from `first_day`; `number` counts from 1 within the schedule."""

    first_day: date
    number: int
    of: int
    kind: str
    purpose: str
    items: tuple[Item, ...]
    extra: tuple[Log, ...] = ()
    # Group sessions on days without a run of their own.
    places: tuple[tuple[date, str], ...] = ()

    @property
    def days(self) -> list[tuple[date, list[Item]]]:
        days = [self.first_day + timedelta(n) for n in range(7)]
        return [(day, [item for item in self.items if item.day == day]) for day in days]

    @property
    def planned_mm(self) -> int:
        return sum(item.planned_mm for item in self.items if item.is_run)

    @property
    def run_mm(self) -> int:
        return sum(item.run_mm for item in self.items) + sum(log.distance_mm or 0 for log in self.extra)

    @property
    def longest_planned_mm(self) -> int:
        return max((item.planned_mm for item in self.items if item.is_run), default=0)

    @property
    def longest_run_mm(self) -> int:
        runs = [item.run_mm for item in self.items] + [log.distance_mm or 0 for log in self.extra]
        return max(runs, default=0)


def week_of(day: date, week_starts: int) -> date:
    """The first day of the training week that has `day`; weeks begin on the schedule's own weekday (0 Monday)."""
    return day - timedelta((day.weekday() - week_starts) % 7)


def own_week(first_day: date, week_starts: int) -> date:
    """The first day of the week that has most of the seven days from `first_day`: not everybody's week begins alike."""
    return week_of(first_day + timedelta(3), week_starts)


def weeks_of(schedule: Schedule, first: date | None = None, last: date | None = None) -> list[Week]:
    return weeks_of_many([schedule], first, last)[schedule.pk]


def weeks_of_many(
    schedules: Sequence[Schedule], first: date | None = None, last: date | None = None
) -> dict[int, list[Week]]:
    """The live weeks of each schedule (by its key), those that touch first..last, in four queries."""
    weeks = ScheduleWeek.objects.filter(schedule__in=schedules, to_version=None).order_by("first_day")
    issues = SessionIssue.objects.filter(schedule__in=schedules, to_version=None, removed=False)
    logs = Log.objects.standing().filter(athlete__in=[s.athlete_id for s in schedules])
    if first:
        issues, logs = (
            issues.filter(day__gte=first - timedelta(6)),
            logs.filter(day__gte=first - timedelta(13)),
        )
    if last:
        issues, logs = issues.filter(day__lte=last + timedelta(6)), logs.filter(day__lte=last + timedelta(13))
    by_session, extra = _logs(logs)
    by_schedule: dict[int, list[SessionIssue]] = defaultdict(list)
    for issue in issues.order_by("day", "slot"):
        by_schedule[issue.schedule_id].append(issue)
    rows: dict[int, list[ScheduleWeek]] = defaultdict(list)
    for week in weeks:
        rows[week.schedule_id].append(week)
    return {
        s.pk: _weeks(s, rows[s.pk], by_schedule[s.pk], by_session, extra[s.athlete_id], first, last)
        for s in schedules
    }


def _logs(logs: QuerySet[Log]) -> tuple[dict[UUID, Log], dict[int, list[Log]]]:
    """Logs by session, and by athlete those that belong to none."""
    by_session: dict[UUID, Log] = {}
    extra: dict[int, list[Log]] = defaultdict(list)
    for log in logs:
        if log.session_id:
            by_session[log.session_id] = log
        elif log.outcome != "missed":
            extra[log.athlete_id].append(log)
    return by_session, extra


def _weeks(
    schedule: Schedule,
    rows: list[ScheduleWeek],
    issues: Iterable[SessionIssue],
    logs: Mapping[UUID, Log],
    extra: list[Log],
    first: date | None,
    last: date | None,
) -> list[Week]:
    units = schedule.athlete.units
    touched = [
        (number, row)
        for number, row in enumerate(rows, start=1)
        if not (first and row.first_day + timedelta(6) < first) and not (last and row.first_day > last)
    ]
    starts = {row.first_day for _, row in touched}
    items: dict[date, list[Item]] = defaultdict(list)
    for issue in issues:
        start = week_of(issue.day, schedule.week_starts)
        if start in starts:
            items[start].append(item_of(issue, logs.get(issue.session_id), units))
    made = []
    for number, row in touched:
        ran = tuple(log for log in extra if row.first_day <= log.day <= row.first_day + timedelta(6))
        made.append(
            Week(row.first_day, number, len(rows), row.kind, row.purpose, tuple(items[row.first_day]), ran)
        )
    return made


def item_of(issue: SessionIssue, log: Log | None, units: str) -> Item:
    return Item(
        session_id=issue.session_id,
        day=issue.day,
        slot=issue.slot,
        role=issue.role,
        key=issue.role in ("long", "race") or (issue.role == "quality" and not issue.supporting),
        title=title_of(issue.steps, units),
        steps=issue.steps,
        purpose=issue.purpose,
        planned_mm=issue.planned_mm,
        planned_s=issue.planned_s,
        changed=issue.from_version > 1,
        log=log,
    )


@dataclass(frozen=True)
class Cards:
    """A schedule's pace cards by day: what is past keeps the card it was issued with."""

    zone: ZoneInfo
    today: date
    versions: tuple[tuple[int, datetime, PaceCard | None], ...]

    @property
    def now(self) -> PaceCard | None:
        """The card that the current version was issued with."""
        return self.versions[-1][2]

    def on(self, day: date) -> PaceCard | None:
        """The card in force when that day began where the athlete is; from today on, the one in force now."""
        if day >= self.today:
            return self.now
        dawn = datetime.combine(day, time(0), self.zone)
        stood = version_before([(number, issued_at) for number, issued_at, _ in self.versions], dawn)
        return next(card for number, _, card in self.versions if number == stood)


def cards_of(schedule: Schedule) -> Cards:
    """In one query, once `schedule.athlete` is there."""
    versions = ScheduleVersion.objects.filter(schedule=schedule)
    rows = versions.select_related("pace_card").order_by("number")
    return Cards(
        ZoneInfo(schedule.athlete.time_zone),
        schedule.athlete.today(),
        tuple((row.number, row.issued_at, row.pace_card) for row in rows),
    )


def card_of(schedule: Schedule) -> PaceCard | None:
    """The pace card that the current version was issued with."""
    version = ScheduleVersion.objects.select_related("pace_card").get(
        schedule=schedule, number=schedule.current_version
    )
    return version.pace_card
