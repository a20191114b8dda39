"""What the tables say of an athlete already, where a plan is to be fitted."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from athletes.models import DAY_FIELDS, Athlete, Practice
from athletes.running.units import MARATHON, Distance, Duration
from plans.reading import week_of
from plans.training.template import Template as Plan


def known(athlete: Athlete) -> dict[str, Any]:
    """What the tables say of the athlete already."""
    rows = athlete.availabilities.order_by("valid_from")
    free = rows.filter(valid_from__lte=athlete.today()).last() or rows.first()
    minutes = free.minutes() if free else (0,) * 7
    weekly, longest = athlete.declared_weekly_mm, athlete.declared_longest_mm
    return {
        **dict(zip(DAY_FIELDS, minutes, strict=True)),
        "weekly": Distance(weekly) if weekly else None,
        "longest": Distance(longest) if longest else None,
        "start": first_day(athlete),
    }


def first_day(athlete: Athlete) -> date:
    """Today; after a marathon not before the next training week, so that two weeks of recovery are two."""
    today = athlete.today()
    fresh = athlete.race_entries.filter(
        race__day__range=(today - timedelta(6), today), race__distance_mm__gte=MARATHON.mm
    )
    run = fresh.select_related("race").order_by("race__day").last()
    after = week_of(run.race.day, Practice.get().week_starts) + timedelta(7) if run else today
    return max(today, after)


def known_race(athlete: Athlete, plan: Plan) -> dict[str, Any]:
    """The goal race the athlete has entered over this distance, if it lies ahead."""
    ahead = athlete.race_entries.filter(
        purpose="goal", race__day__gt=athlete.today(), race__distance_mm=plan.race_mm or 0
    )
    entry = ahead.select_related("race").order_by("race__day").first()
    if entry is None:
        return {}
    goal = Duration(entry.goal_ms) if entry.goal_ms else None
    return {"race_name": entry.race.name, "race_day": entry.race.day, "goal_time": goal}
