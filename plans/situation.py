"""Everything a re-balancing is decided by, read from the tables into the planner's own words.

Law: read for many athletes at once, in a constant number of queries; one athlete is a batch of one.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from fractions import Fraction
from typing import Any, cast
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import F

from athletes.models import Availability, HealthNote, TimeOff
from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.issuing import Content
from plans.measures import card_of_text, card_text, easy_s_per_km, numbers_of, written_in
from plans.models import (
    Log,
    Schedule,
    ScheduleVersion,
    ScheduleWeek,
    SessionIssue,
    TemplateVersion,
    version_before,
)
from plans.reading import RUNS, title_of
from plans.silence import known_before
from plans.training import schedule as core
from plans.training.guardrails import Rails

LOGS_BEFORE = timedelta(90)  # before the first week: what was held, and the longest run
OUTCOMES: dict[str, core.Outcome] = {"done": "done", "cut": "part", "missed": "missed", "other": "done"}
WHYS: dict[str, core.Why] = {
    "pain": "hurt",
    "time": "time",
    "travel": "travel",
    "tired": "tired",
    "ill": "ill",
}


@dataclass(frozen=True)
class Situation:
    """The planner's inputs, and what is needed to turn its answer into content again."""

    inputs: core.Inputs
    signed: Mapping[str, SessionIssue]  # as the coach wrote and signed it, by session key
    live: Mapping[str, SessionIssue]  # as it stands now
    card: PaceCard | None
    # What an alternative writes in place of what was signed.
    rewritten: Mapping[str, Content] = field(default_factory=dict)

    def written(self, key: str) -> Content:
        return self.rewritten.get(key) or Content.of(self.signed[key])

    def standing(self, key: str) -> Content:
        return Content.of(self.live[key])

    @property
    def digest(self) -> str:
        """Of what is news to a coach: what must change before a refused proposal is raised again.

        Not the calendar (a day that goes by changes it only by turning silence into a miss), and not a run that
        was done as planned: else what was refused on Sunday would be back after Monday's run.
        """
        i = self.inputs
        plan = {s.key: s for s in i.plan}
        logged = {log.key for log in i.logs}
        silent = sorted(
            s.key
            for s in i.plan
            if s.key not in logged and i.unknown_from and s.day < i.unknown_from and s.role in RUNS
        )
        news = sorted(repr(log) for log in i.logs if not as_planned(log, plan.get(log.key or "")))
        parts = (
            i.plan,
            news,
            sorted(i.minutes.items()),
            i.away,
            i.holds,
            i.rails,
            i.race_day,
            i.signed_silence,
            silent,
        )
        return hashlib.sha256(repr(parts).encode()).hexdigest()


def as_planned(log: core.Log, session: core.Session | None) -> bool:
    """Done within the planned range, up to a tenth above it: tells nothing new."""
    if session is None or log.outcome != "done":
        return False
    low_mm, low_s = session.low_mm or session.mm, session.low_s or session.s
    if session.written_in == "time" and log.s is not None:
        return low_s <= log.s <= session.s * 11 // 10
    return log.mm is None or low_mm <= log.mm <= session.mm * 11 // 10


def situation_of(schedule: Schedule, now: datetime) -> Situation:
    """The situation of one athlete, at `now`. Raises KeyError when the schedule has no version yet."""
    return situations_of([schedule], now)[schedule.pk]


def situations_of(schedules: Sequence[Schedule], now: datetime) -> dict[int, Situation]:
    """The situation of each schedule by its key, in nine queries for however many.

    The schedules come with `athlete` and `race_entry__race` selected.
    """
    rows = _Rows(schedules)
    return {schedule.pk: _situation(schedule, rows, now) for schedule in schedules}


class _Rows:
    """What the tables say about these schedules, by schedule or by athlete."""

    def __init__(self, schedules: Sequence[Schedule]) -> None:
        athletes = [schedule.athlete_id for schedule in schedules]
        self.versions: dict[int, list[ScheduleVersion]] = defaultdict(list)
        for version in ScheduleVersion.objects.filter(schedule__in=schedules).select_related("pace_card"):
            self.versions[version.schedule_id].append(version)
        found_issues = SessionIssue.objects.filter(schedule__in=schedules).annotate(
            template_key=F("session__template_key")
        )
        self.issues: dict[int, dict[UUID, list[SessionIssue]]] = defaultdict(lambda: defaultdict(list))
        for issue in found_issues.order_by("from_version"):
            self.issues[issue.schedule_id][issue.session_id].append(issue)
        self.weeks: dict[int, list[ScheduleWeek]] = defaultdict(list)
        for week in ScheduleWeek.objects.filter(schedule__in=schedules, to_version=None).order_by(
            "first_day"
        ):
            self.weeks[week.schedule_id].append(week)
        first = min((weeks[0].first_day for weeks in self.weeks.values()), default=date.max)
        self.logs: dict[int, list[Log]] = defaultdict(list)
        if first != date.max:
            found = Log.objects.standing().filter(athlete__in=athletes, day__gte=first - LOGS_BEFORE)
            for log in found.order_by("day", "pk"):
                self.logs[log.athlete_id].append(log)
        self.free: dict[int, list[Availability]] = defaultdict(list)
        for row in Availability.objects.filter(athlete__in=athletes).order_by("valid_from"):
            self.free[row.athlete_id].append(row)
        self.off: dict[int, list[TimeOff]] = defaultdict(list)
        for away in TimeOff.objects.filter(athlete__in=athletes).order_by("first_day", "pk"):
            self.off[away.athlete_id].append(away)
        self.holds: dict[int, list[HealthNote]] = defaultdict(list)
        for note in HealthNote.objects.filter(athlete__in=athletes).order_by("opened", "pk"):
            self.holds[note.athlete_id].append(note)
        versions = {s.template_version_id for s in schedules if s.template_version_id is not None}
        self.least_long: dict[int, int] = {
            version.pk: version.plan.least_long_mm
            for version in TemplateVersion.objects.filter(pk__in=versions)
        }


def _situation(schedule: Schedule, rows: _Rows, now: datetime) -> Situation:
    athlete = schedule.athlete
    zone = ZoneInfo(athlete.time_zone)
    local = now.astimezone(zone)
    today = local.date()
    units: Units = "mi" if athlete.units == "mi" else "km"
    versions, weeks = rows.versions[schedule.pk], rows.weeks[schedule.pk]
    current = next(v for v in versions if v.number == schedule.current_version)
    card = card_text(current.pace_card.values) if current.pace_card else None
    times = [(v.number, v.issued_at) for v in versions]
    run = {log.session_id for log in rows.logs[athlete.pk] if log.day == today and log.outcome != "missed"}
    ever_logged = {log.session_id for log in rows.logs[athlete.pk]}
    signed, live, plan, stood = {}, {}, [], {}
    for pk, issues in rows.issues[schedule.pk].items():
        key = str(pk)
        signed[key], live[key] = signed_issue(issues, schedule.plan_version), issues[-1]
        if pk not in ever_logged and not in_the_plan(issues, signed[key], schedule.plan_version):
            continue
        # What an appended plan brings is planned like everything else; a race put in by hand is not.
        added = issues[0].from_version > schedule.plan_version and issues[0].template_key is None  # type: ignore[attr-defined]
        plan.append(planned(key, signed[key], card, units, added=added))
        if len(issues) > 1:
            advised = advised_issue(issues, times, zone, today, pk in run)
            if advised is not signed[key]:
                stood[key] = standing_of(advised)
    first = weeks[0].first_day if weeks else today
    last = weeks[-1].first_day + timedelta(6) if weeks else today
    free, off = rows.free[athlete.pk], rows.off[athlete.pk]
    race = schedule.race_entry.race if schedule.race_entry else None
    inputs = core.Inputs(
        weeks=tuple(core.Week(week.first_day, cast(core.Kind, week.kind)) for week in weeks),
        plan=tuple(sorted(plan, key=lambda s: (s.day, s.slot, s.key))),
        today=today,
        unknown_from=known_before(local),
        units=units,
        standing=stood,
        logs=tuple(logged(log) for log in rows.logs[athlete.pk] if log.day >= first - LOGS_BEFORE),
        minutes=free_minutes(free, off, first, last),
        away=tuple(
            core.Away(t.first_day, t.last_day, travel=t.kind == "travel") for t in off if not t.minutes
        ),
        holds=tuple(
            core.Hold(n.opened, n.kind == "rest", hurt=n.cause == "pain", closed=n.closed)
            for n in rows.holds[athlete.pk]
        ),
        weekly_mm=athlete.declared_weekly_mm or None,
        longest_mm=athlete.declared_longest_mm or None,
        rails=Rails.nearest(current.rails),
        race_day=race.day if race else None,
        race_mm=race.distance_mm if race else 0,
        minimum_long_mm=rows.least_long.get(schedule.template_version_id or 0, 0),
    )
    return Situation(inputs, signed, live, card_of_text(card) if card else None)


def signed_issue(issues: list[SessionIssue], plan_version: int) -> SessionIssue:
    """What the coach wrote and signed: the newest pin, else what the plan's version said, else its first issue."""
    if issues[-1].pinned_by_id:
        return issues[-1]
    return next(
        (
            i
            for i in issues
            if i.from_version <= plan_version and (i.to_version is None or i.to_version > plan_version)
        ),
        issues[0],
    )


def in_the_plan(issues: list[SessionIssue], signed: SessionIssue, plan_version: int) -> bool:
    """Whether the coach's plan has this session. A refit leaves out, and an undone one takes back what it added."""
    if len(issues) == 1:
        return not signed.removed  # left out by hand before the schedule was ever issued
    if signed.pinned_by_id:
        return not signed.removed  # what a coach took out is not missed when its day goes by
    live = issues[-1]
    taken_back = (
        live.removed and signed.from_version > plan_version and not (live.bent or {}).get("dropped_by")
    )
    return not signed.removed and not taken_back


def advised_issue(
    issues: list[SessionIssue],
    times: list[tuple[int, datetime]],
    zone: ZoneInfo,
    today: date,
    run_today: bool = False,
) -> SessionIssue:
    """What stood for a session before its day, or stands now when it is still to be run.

    Misses are judged against what stood at dawn, not against what was issued later. A session that came to its
    day only after that dawn (a missed one that moved) is what it is now.
    """
    live = issues[-1]
    if live.day > today or (live.day == today and not run_today):
        return live
    number = version_before(times, datetime.combine(live.day, time(0), zone))
    stood = next(
        (i for i in issues if i.from_version <= number and (i.to_version is None or i.to_version > number)),
        live,
    )
    return stood if stood.day == live.day else live


def planned(key: str, issue: SessionIssue, card: str | None, units: Units, *, added: bool) -> core.Session:
    """One session in the planner's words: totals, low end, levels of its repetitions, hard running inside."""
    values: dict[str, Any] = {}
    quality = issue.role == "quality"
    if card is not None and issue.role in RUNS:
        found = numbers_of(issue.steps, card, units, quality)
        if found is not None:
            values = {
                "low_mm": min(found.low_mm, issue.planned_mm),
                "low_s": min(found.low_s, issue.planned_s),
                "hard_mm": found.hard_mm,
            }
            if quality:
                full = replace(found.levels[0], mm=issue.planned_mm, s=issue.planned_s)
                values["levels"] = (full, *found.levels[1:])
    return core.Session(
        key=key,
        day=issue.day,
        slot=issue.slot,
        role=cast(core.Role, issue.role),
        mm=issue.planned_mm,
        s=issue.planned_s,
        written_in=written_in(issue.steps),
        supporting=issue.supporting,
        pinned=issue.pinned_by_id is not None,
        added=added,
        s_per_km=easy_s_per_km(card) if card is not None else 0,
        # A sentence gives old and new amounts itself; the title of an easy or long run would say one of them twice.
        title="" if issue.role in ("easy", "long") else title_of(issue.steps, units),
        **values,
    )


def standing_of(issue: SessionIssue) -> core.Standing:
    bent = issue.bent
    dropped = bent.get("dropped_by", "")
    if issue.removed and not dropped:
        dropped = "coach"
    return core.Standing(
        day=issue.day,
        mm=issue.planned_mm,
        s=issue.planned_s,
        slot=issue.slot,
        level=Fraction(bent.get("level", "1")),
        turned_easy=bent.get("turned_easy", False),
        eased=bent.get("eased", False),
        dropped_by=dropped,
        counted=bent.get("counted"),
    )


def logged(log: Log) -> core.Log:
    return core.Log(
        day=log.day,
        key=str(log.session_id) if log.session_id else None,
        outcome=OUTCOMES[log.outcome],
        mm=log.distance_mm,
        s=log.moving_s,
        reason=WHYS.get(log.reason, ""),
    )


def free_minutes(
    rows: Sequence[Availability], off: Iterable[TimeOff], first: date, last: date
) -> dict[date, int]:
    """Free minutes by date: the availability in force, lowered by known time off. No entry, no limit.

    `rows` in the order of their first day; before the first of them, it holds too.
    """
    minutes: dict[date, int] = {}
    spans = [*zip(rows, [*rows[1:], None], strict=True)] if rows else []
    for n, (row, after) in enumerate(spans):
        week = row.minutes()
        day = first if n == 0 else max(first, row.valid_from)
        end = min(last, after.valid_from - timedelta(1)) if after else last
        while day <= end:
            minutes[day] = week[day.weekday()]
            day += timedelta(1)
    for away in off:
        day = max(first, away.first_day)
        while day <= min(last, away.last_day):
            minutes[day] = min(minutes.get(day, away.minutes), away.minutes)
            day += timedelta(1)
    return minutes
