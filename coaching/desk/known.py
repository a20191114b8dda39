"""What the tables say of an athlete already, where a plan is to be fitted."""

from __future__ import annotations

from typing import Any

from athletes.models import DAY_FIELDS, Athlete
from athletes.running.units import Distance, Duration
from plans.racing import first_day
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
