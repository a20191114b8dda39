"""Assign a template: fit it to one athlete, show it, issue it as the schedule's first version."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from athletes.models import Athlete, Availability, Coach, PaceCard, Practice, User
from athletes.running import paces
from athletes.running.units import Units
from athletes.screening import Health, standing
from plans.models import (
    GuardRails,
    Log,
    Race,
    RaceEntry,
    Schedule,
    ScheduleVersion,
    ScheduleWeek,
    Session,
    SessionIssue,
    TemplateVersion,
)
from plans.training.fitting import fit
from plans.training.fitting_by_hand import ByHand, HandEdit, Place, apply_by_hand
from plans.training.fitting_sizes import Measurer
from plans.training.fitting_types import FitAthlete, FitFree, FitRace, Fitted, FitTimeOff
from plans.training.guardrails import Rails


@dataclass(frozen=True)
class Aim:
    """What the schedule leads to. Without a race it begins on `start`."""

    race_name: str = ""
    race_day: date | None = None
    race_mm: int = 0
    goal_ms: int | None = None
    start: date | None = None


def rails_for(athlete: Athlete, version: TemplateVersion | None) -> Rails:
    """The nearest of athlete, template and practice wins, limit by limit."""
    stored = {
        (row.athlete_id and "athlete") or (row.template_id and "template") or "practice": row.limits
        for row in GuardRails.objects.filter(athlete=athlete)
        | GuardRails.objects.filter(practice__isnull=False)
        | GuardRails.objects.filter(template__isnull=False, template=version.template_id if version else None)
    }
    return Rails.nearest(stored.get("athlete"), stored.get("template"), stored.get("practice"))


def runs_now(athlete: Athlete, today: date) -> tuple[int, int]:
    """A usual week of the last four and the longest run of the last 30 days, mm: logged, or as declared.

    Declared amounts count until four weeks of logs say better.
    """
    logs = Log.objects.standing().filter(athlete=athlete, distance_mm__isnull=False).exclude(outcome="missed")
    rows = logs.filter(day__gte=today - timedelta(30), day__lt=today).values_list("day", "distance_mm")
    recent = [(day, mm or 0) for day, mm in rows]
    if not logs.filter(day__lt=today - timedelta(27)).exists():
        return athlete.declared_weekly_mm, athlete.declared_longest_mm
    four = sum(mm for day, mm in recent if day >= today - timedelta(28))
    return four // 4, max((mm for _, mm in recent), default=0)


def describe(
    athlete: Athlete,
    card: paces.PaceCard,
    minutes: tuple[int, ...],
    today: date,
    health: Health | None = None,
    tune_ups: tuple[FitRace, ...] = (),
    since: date | None = None,
) -> FitAthlete:
    """The athlete in the words of fitting. `health`: answers just given, else those that stand.

    `minutes` are free from `since` (today) on, until other free days that are known begin.
    """
    health = health or standing(athlete, timezone.now())
    week_mm, long_mm = runs_now(athlete, today)
    mon, tue, wed, thu, fri, sat, sun = minutes
    units: Units = "mi" if athlete.units == "mi" else "km"
    return FitAthlete(
        week_mm=week_mm,
        long_mm=long_mm,
        minutes=(mon, tue, wed, thu, fri, sat, sun),
        card=card,
        units=units,
        time_off=tuple(FitTimeOff(t.first_day, t.last_day, t.minutes) for t in athlete.time_off.all()),
        age=age_on(athlete.born, today) if athlete.born else None,
        tune_ups=tune_ups,
        pregnant=health.pregnant,
        no_plan_reason=athlete.no_plan_reason or health.no_plan_reason,
        signed_by=health.signed_by,
        week_starts=week_starts_of(athlete),
        later=tuple(FitFree(row.valid_from, week_of(row)) for row in later_free(athlete, since or today)),
    )


def later_free(athlete: Athlete, day: date) -> list[Availability]:
    """Free days that hold only from a day after this one on."""
    return list(athlete.availabilities.filter(valid_from__gt=day).order_by("valid_from"))


def week_of(free: Availability) -> tuple[int, int, int, int, int, int, int]:
    mon, tue, wed, thu, fri, sat, sun = free.minutes()
    return mon, tue, wed, thu, fri, sat, sun


def week_starts_of(athlete: Athlete) -> int:
    """The weekday on which this athlete's next schedule begins its weeks: their own, or the practice's."""
    return Practice.get().week_starts if athlete.week_starts is None else athlete.week_starts


def age_on(born: date, day: date) -> int:
    return day.year - born.year - ((day.month, day.day) < (born.month, born.day))


def preview(
    athlete: Athlete,
    version: TemplateVersion,
    aim: Aim,
    card: paces.PaceCard,
    minutes: tuple[int, ...],
    today: date,
    *,
    health: Health | None = None,
    tune_ups: tuple[FitRace, ...] = (),
    joining: bool = False,
) -> Fitted:
    """The fitted schedule, nothing stored. Raises CannotFit with a sentence and the place to mend it."""
    race = FitRace(aim.race_day, aim.race_mm, aim.race_name) if aim.race_day else None
    return fit(
        version.plan,
        describe(athlete, card, minutes, today, health, tune_ups),
        race,
        rails_for(athlete, version),
        today,
        start=aim.start,
        joining=joining,
    )


def change_by_hand(
    fitted: Fitted,
    edits: Mapping[Place, HandEdit],
    athlete: Athlete,
    version: TemplateVersion,
    aim: Aim,
    card: paces.PaceCard,
    minutes: tuple[int, ...],
    today: date,
) -> ByHand:
    """The fitted schedule as the coach changes it before it is issued; the guard rails look again."""
    rails = rails_for(athlete, version)
    person = describe(athlete, card, minutes, today)
    measurer = Measurer(card, person.units, rails.shortest_mm)
    start = max(today, aim.start or today)
    return apply_by_hand(fitted, edits, version.plan, person, rails, start, measurer)


@transaction.atomic
def issue_first(
    athlete: Athlete,
    version: TemplateVersion,
    aim: Aim,
    fitted: Fitted,
    card: PaceCard,
    *,
    by: User,
    hand: ByHand | None = None,
    coach: Coach | None = None,
) -> Schedule:
    """Issue the fitted schedule as version 1. A schedule that runs ends; its rows stay.

    `hand`: what was changed by hand is issued as pins of `coach`; what was left out too, so that fitting anew
    does not bring it back.
    """
    hand = hand or ByHand(fitted)
    Schedule.objects.filter(athlete=athlete, state="running").update(state="ended")
    schedule = Schedule.objects.create(
        athlete=athlete,
        template_version=version,
        race_entry=entry_for(athlete, aim),
        week_starts=week_starts_of(athlete),
        first_day=fitted.first_day,
    )
    ScheduleVersion.objects.create(
        schedule=schedule,
        number=1,
        issued_at=timezone.now(),
        by=by,
        by_name=str(by),
        cause=f"Fitted from {version.template.name}"[:300],
        pace_card=card,
        rails=rails_for(athlete, version).stored(),
    )
    ScheduleWeek.objects.bulk_create(
        ScheduleWeek(schedule=schedule, first_day=week.first_day, kind=week.kind, purpose=week.purpose[:400])
        for week in fitted.weeks
    )
    rows = [*((s, False) for s in fitted.sessions), *((s, True) for s in hand.removed)]
    sessions = [
        Session(
            schedule=schedule, template_key=UUID(s.template_key) if s.template_key else None, repeat=s.repeat
        )
        for s, _ in rows
    ]
    Session.objects.bulk_create(sessions)
    SessionIssue.objects.bulk_create(
        SessionIssue(
            session=session,
            schedule=schedule,
            from_version=1,
            day=s.day,
            slot=s.slot,
            role=s.role,
            supporting=s.supporting,
            steps=s.text,
            purpose=s.purpose[:400],
            planned_mm=0 if removed else s.mm,
            planned_s=0 if removed else s.s,
            pinned_by=coach if removed or hand.is_pinned(s) else None,
            removed=removed,
        )
        for session, (s, removed) in zip(sessions, rows, strict=True)
    )
    return schedule


def enter_tune_ups(athlete: Athlete, races: tuple[FitRace, ...]) -> None:
    """Races on the way, as entries of the athlete."""
    for one in races:
        race, _ = Race.objects.get_or_create(name=one.name, day=one.day, distance_mm=one.mm)
        RaceEntry.objects.get_or_create(athlete=athlete, race=race, defaults={"purpose": "tune-up"})


def entry_for(athlete: Athlete, aim: Aim) -> RaceEntry | None:
    if aim.race_day is None:
        return None
    race, _ = Race.objects.get_or_create(name=aim.race_name, day=aim.race_day, distance_mm=aim.race_mm)
    entry, _ = RaceEntry.objects.update_or_create(
        athlete=athlete, race=race, defaults={"goal_ms": aim.goal_ms}
    )
    return entry
