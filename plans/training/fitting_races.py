"""Races in a schedule: the goal at its end, and those on the way, which take a key session's place."""

from __future__ import annotations

from datetime import date

from plans.training import shorthand
from plans.training.fitting_calendar import Calendar
from plans.training.fitting_days import QUALITY_BEFORE_RACE
from plans.training.fitting_runs import Run, Week
from plans.training.fitting_sizes import Measurer, as_written
from plans.training.fitting_types import FitAthlete, FitRace
from plans.training.steps import Extent, Race, Session
from plans.training.template import TemplateSession


def _race_tree(mm: int) -> Session:
    return Session((Race(Extent(mm, mm, "m" if mm % 1_000_000 else "km")),))


def run_the_distance(calendar: Calendar, race: FitRace, measurer: Measurer) -> None:
    """The goal race is the athlete's, whatever distance the template names."""
    for run in calendar.weeks[-1].runs:
        if run.role == "race" and run.full.mm != race.mm:
            run.full = measurer.full(_race_tree(race.mm))
            calendar.weeks[-1].race_mm = race.mm


def add_tune_ups(
    calendar: Calendar, athlete: FitAthlete, goal: FitRace | None, start: date, measurer: Measurer
) -> None:
    """A race on the way takes the place of the nearest key session of its week."""
    taken: list[FitRace] = []
    for race in sorted(athlete.tune_ups, key=lambda race: (race.day, race.mm)):
        week = next((w for w in calendar.weeks if 0 <= (race.day - w.first_day).days < 7), None)
        if week is None or race.day < start or (goal is not None and race.day >= goal.day):
            calendar.bent.append(f"The race on {race.day:%-d %B} lies outside the plan and was left out.")
            continue
        near = [*taken, *([goal] if goal else ())]
        if any(abs((other.day - race.day).days) <= QUALITY_BEFORE_RACE for other in near):
            calendar.bent.append(f"The race on {race.day:%-d %B} is too near another and was left out.")
            continue
        _take_place(calendar, week, race, measurer)
        taken.append(race)


def _take_place(calendar: Calendar, week: Week, race: FitRace, measurer: Measurer) -> None:
    def far(run: Run) -> tuple[int, int]:
        return (abs(((run.wished or race.day) - race.day).days), run.role != "long")

    hard = [run for run in week.runs if run.role in ("long", "quality")]
    gone = min(hard, key=far, default=None)
    name = race.name or "race"
    words = f"The {name} on {race.day:%-d %B}"
    if gone is not None:
        week.runs.remove(gone)
        words += f" takes the place of that week's {'long run' if gone.is_long else 'quality session'}"
    calendar.bent.append(f"{words}; the week around it is eased.")
    tree = _race_tree(race.mm)
    purpose = "A race on the way: run it hard, it is this week's key session."
    session = TemplateSession("", race.day.weekday(), "race", shorthand.write(tree), purpose, "key")
    run = Run(session, 0, "race", race.day, measurer.full(tree), as_written, None, race.day, is_tune_up=True)
    week.runs.append(run)
    week.race_mm += race.mm
