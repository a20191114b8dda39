"""A race goes by its own plan, not by the pace card: two paces for one race are one too many."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date

from athletes.running.units import Distance, Duration, Pace, Units, show_duration, show_pace
from plans.models import RaceEntry
from plans.training.describing import StepLine


def entries_between(athletes: Iterable[int], first: date, last: date) -> dict[int, dict[date, RaceEntry]]:
    """The races of some days, by athlete (key) and day, each with what the coach chose for it. One query."""
    rows = RaceEntry.objects.filter(athlete__in=list(athletes), race__day__range=(first, last))
    found: dict[int, dict[date, RaceEntry]] = defaultdict(dict)
    for entry in rows.select_related("race", "plan"):
        found[entry.athlete_id][entry.race.day] = entry
    return found


def target_of(entry: RaceEntry, units: Units) -> tuple[str, str] | None:
    """The time the coach chose and its even pace, as people read them; None where none was chosen."""
    plan = getattr(entry, "plan", None)
    if plan is None or not plan.target_ms:
        return None
    target = Duration(plan.target_ms)
    return show_duration(target), show_pace(Pace(Distance(entry.race.distance_mm), target), units)


def with_target(steps: Sequence[StepLine], entry: RaceEntry, units: Units) -> tuple[StepLine, ...]:
    """The lines of a race as its plan has them; without a chosen target none names a pace."""
    target = target_of(entry, units)
    time, pace = (
        (f"target {target[0]}", target[1]) if target else ("target and splits on race day's page", "")
    )
    return tuple(
        replace(line, pace=pace, split="", words=f"{line.words}, {time}".lstrip(", ")) for line in steps
    )
