"""Everything one re-balancing is decided by, read from the tables into the planner's own words."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from fractions import Fraction
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.models import Athlete, Availability, TimeOff
from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.issuing import Content
from plans.models import Log, Schedule, ScheduleVersion, ScheduleWeek, SessionIssue, version_before
from plans.reading import RUNS, title_of, understood
from plans.training import schedule as core
from plans.training.guardrails import Rails
from plans.training.levels import at_level
from plans.training.measuring import measure
from plans.training.sizing import written_in as unit_of

NOON = time(12)
# A sentence gives old and new amounts itself; a title would say the old one twice.
PLAIN_NAMES = {"easy": "Easy run", "long": "Long run"}
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
    written: Mapping[str, Content]  # as the coach wrote and signed it, by session key
    standing: Mapping[str, Content]  # as it stands now
    card: PaceCard | None

    @property
    def digest(self) -> str:
        """Of everything but the calendar: what must change before a refused proposal is raised again.

        A day that goes by changes it only by turning silence into a miss.
        """
        i = self.inputs
        logged = {log.key for log in i.logs}
        silent = sorted(
            s.key
            for s in i.plan
            if s.key not in logged and i.unknown_from and s.day < i.unknown_from and s.role in RUNS
        )
        parts = (
            i.plan,
            sorted(map(repr, i.logs)),
            sorted(i.minutes.items()),
            i.away,
            i.holds,
            i.rails,
            silent,
        )
        return hashlib.sha256(repr(parts).encode()).hexdigest()


def situation_of(schedule: Schedule, now: datetime) -> Situation:
    """The situation of one athlete, at `now`."""
    athlete = schedule.athlete
    zone = ZoneInfo(athlete.time_zone)
    local = now.astimezone(zone)
    today = local.date()
    versions = list(ScheduleVersion.objects.filter(schedule=schedule).select_related("pace_card"))
    card = next(v.pace_card for v in reversed(versions) if v.number == schedule.current_version)
    by_session: dict[UUID, list[SessionIssue]] = defaultdict(list)
    for issue in SessionIssue.objects.filter(schedule=schedule).order_by("from_version"):
        by_session[issue.session_id].append(issue)
    weeks = list(ScheduleWeek.objects.filter(schedule=schedule, to_version=None).order_by("first_day"))
    units: Units = "mi" if athlete.units == "mi" else "km"
    paces = card.card if card else None
    times = [(v.number, v.issued_at) for v in versions]
    written, standing, plan, stood = {}, {}, [], {}
    for pk, issues in by_session.items():
        key, live = str(pk), issues[-1]
        signed = signed_issue(issues, schedule.plan_version)
        written[key], standing[key] = Content.of(signed), Content.of(live)
        plan.append(planned(key, signed, paces, units, added=signed.from_version > schedule.plan_version))
        advised = advised_issue(issues, times, zone, today)
        if advised is not None and advised.pk != signed.pk:
            stood[key] = standing_of(advised)
    race = schedule.race_entry.race if schedule.race_entry else None
    template = schedule.template_version.plan if schedule.template_version else None
    inputs = core.Inputs(
        weeks=tuple(core.Week(week.first_day, week.kind) for week in weeks),
        plan=tuple(sorted(plan, key=lambda s: (s.day, s.slot, s.key))),
        today=today,
        unknown_from=today if local.time() >= NOON else today - timedelta(1),
        units=units,
        standing=stood,
        logs=tuple(logs_of(athlete, weeks[0].first_day if weeks else today)),
        minutes=minutes_of(athlete, weeks[0].first_day, weeks[-1].first_day + timedelta(6)) if weeks else {},
        away=tuple(
            core.Away(t.first_day, t.last_day, travel=t.kind == "travel")
            for t in athlete.time_off.all()
            if t.minutes == 0
        ),
        holds=tuple(
            core.Hold(n.opened, n.kind == "rest", hurt=n.cause == "pain", closed=n.closed)
            for n in athlete.health_notes.order_by("opened", "pk")
        ),
        weekly_mm=athlete.declared_weekly_mm or None,
        longest_mm=athlete.declared_longest_mm or None,
        rails=Rails.nearest(versions[-1].rails),
        race_day=race.day if race else None,
        race_mm=race.distance_mm if race else 0,
        minimum_long_mm=template.least_long_mm if template else 0,
    )
    return Situation(inputs, written, standing, paces)


def signed_issue(issues: list[SessionIssue], plan_version: int) -> SessionIssue:
    """What the coach wrote and signed: the newest pin, else what the plan's version said, else its first issue."""
    pins = [issue for issue in issues if issue.pinned_by_id]
    if pins and issues[-1].pinned_by_id:
        return pins[-1]
    return next(
        (
            i
            for i in issues
            if i.from_version <= plan_version and (i.to_version is None or i.to_version > plan_version)
        ),
        issues[0],
    )


def advised_issue(
    issues: list[SessionIssue], times: list[tuple[int, datetime]], zone: ZoneInfo, today: date
) -> SessionIssue | None:
    """What stood for a session before its day, or stands now when its day has not come; None before it existed."""
    live = issues[-1]
    if live.day > today:
        return live
    dawn = datetime.combine(live.day, time(0), zone)
    number = version_before(times, dawn)
    stood = [
        i for i in issues if i.from_version <= number and (i.to_version is None or i.to_version > number)
    ]
    return stood[0] if stood else None


def planned(
    key: str, issue: SessionIssue, card: PaceCard | None, units: Units, *, added: bool
) -> core.Session:
    """One session in the planner's words: totals, low end, levels of its repetitions, hard running inside."""
    steps = understood(issue.steps)
    values: dict[str, Any] = {}
    if steps is not None and card is not None and issue.role in RUNS:
        whole = measure(steps, card, units)
        values = {
            "low_mm": min(whole.total_mm[0], issue.planned_mm),
            "low_s": min(whole.total_s[0], issue.planned_s),
            "hard_mm": sum(whole.hard_mm) // 2,
        }
        if issue.role == "quality":
            values["levels"] = levels_of(issue, card, units)
    easy = card.ranges["easy"].mid.s_per_km if card else Fraction(0)
    return core.Session(
        key=key,
        day=issue.day,
        slot=issue.slot,
        role=issue.role,
        mm=issue.planned_mm,
        s=issue.planned_s,
        written_in=written_in(issue.steps),
        supporting=issue.supporting,
        pinned=issue.pinned_by_id is not None,
        added=added,
        s_per_km=round(easy),
        title=PLAIN_NAMES.get(issue.role) or title_of(issue.steps, units),
        **values,
    )


def written_in(text: str) -> core.WrittenIn:
    """Whether the coach wrote the session in time or in distance."""
    steps = understood(text)
    return "time" if steps is not None and unit_of(steps) == "s" else "distance"


def levels_of(issue: SessionIssue, card: PaceCard, units: Units) -> tuple[core.Level, ...]:
    steps = understood(issue.steps)
    if steps is None:
        return ()
    levels = []
    for share in (core.FULL, core.EIGHTY, core.SIXTY):
        m = measure(at_level(steps, share), card, units)
        mm, s = (
            (sum(m.total_mm) // 2, sum(m.total_s) // 2) if share < 1 else (issue.planned_mm, issue.planned_s)
        )
        levels.append(core.Level(share, mm, s, sum(m.hard_mm) // 2))
    return tuple(levels)


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


def logs_of(athlete: Athlete, first: date) -> Iterable[core.Log]:
    for log in (
        Log.objects.standing().filter(athlete=athlete, day__gte=first - timedelta(90)).order_by("day", "pk")
    ):
        yield core.Log(
            day=log.day,
            key=str(log.session_id) if log.session_id else None,
            outcome=OUTCOMES[log.outcome],
            mm=log.distance_mm,
            s=log.moving_s,
            reason=WHYS.get(log.reason, ""),
        )


def minutes_of(athlete: Athlete, first: date, last: date) -> dict[date, int]:
    """Free minutes by date: the availability in force, lowered by known time off. No entry, no limit."""
    return free_minutes(
        list(athlete.availabilities.order_by("valid_from")), list(athlete.time_off.all()), first, last
    )


def free_minutes(rows: list[Availability], off: list[TimeOff], first: date, last: date) -> dict[date, int]:
    minutes: dict[date, int] = {}
    for n in range((last - first).days + 1):
        day = first + timedelta(n)
        in_force = [row for row in rows if row.valid_from <= day]
        if in_force or rows:
            minutes[day] = (in_force[-1] if in_force else rows[0]).minutes()[day.weekday()]
        for away in off:
            if away.first_day <= day <= away.last_day:
                minutes[day] = min(minutes.get(day, away.minutes), away.minutes)
    return minutes
