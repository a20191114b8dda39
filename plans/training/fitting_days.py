"""Which days each run may take, and putting the runs of a calendar on the best of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from plans.training.easing import eased
from plans.training.fitting_calendar import Beside, Calendar
from plans.training.fitting_placing import NOWHERE, Item, place_weeks
from plans.training.fitting_runs import Run
from plans.training.fitting_sizes import Measurer
from plans.training.fitting_types import FitAthlete, FitRace, Merit
from plans.training.guardrails import Rails
from plans.training.template import Role

QUALITY_BEFORE_RACE = 3  # days without quality before any race (common practice, no source)
SLIGHT_PERCENT = 8  # a run that loses no more than this to the clock stays on the day it wishes for
LONG_ROUND_RACE = 2  # no long run within so many days of a race (common practice, no source)


@dataclass(frozen=True)
class Off:
    """Known time off without running, long enough to count as a break."""

    first_day: date
    last_day: date

    @property
    def days(self) -> int:
        return (self.last_day - self.first_day).days + 1


@dataclass(frozen=True)
class Days:
    """The athlete's calendar: free minutes by date, races and breaks."""

    athlete: FitAthlete
    rails: Rails
    start: date
    goal: FitRace | None
    races: tuple[FitRace, ...]
    breaks: tuple[Off, ...]

    def minutes(self, day: date) -> int:
        """Free minutes; a race takes its day whole."""
        if day < self.start or (self.goal is not None and day > self.goal.day):
            return 0
        free = self.athlete.free_on(day)
        for off in self.athlete.time_off:
            if off.first_day <= day <= off.last_day:
                free = min(free, off.minutes)
        return free

    def may_run(self, role: str, day: date) -> bool:
        """Whether a race or a break leaves this day to a run of this role."""
        for race in self.races:
            away = (day - race.day).days
            if away == 0:
                return False
            if role == "long" and abs(away) <= LONG_ROUND_RACE:
                return False
            if role == "quality" and -QUALITY_BEFORE_RACE <= away <= race.mm // self.rails.race_day_mm:
                return False
        return role != "quality" or not self.is_calm(day)

    def is_calm(self, day: date) -> bool:
        """Whether a break is so fresh that nothing is run hard."""
        return any(0 < (day - off.last_day).days <= self.rails.calm_days(off.days) for off in self.breaks)


def days_of(calendar: Calendar, athlete: FitAthlete, rails: Rails, start: date, goal: FitRace | None) -> Days:
    """Races are those of the calendar, the template's own too; breaks the days off long enough to be one."""
    runs = [run for week in calendar.weeks for run in week.runs if run.role == "race"]
    races = tuple(FitRace(run.day, run.full.mm) for run in runs)
    return Days(athlete, rails, start, goal, races, tuple(_breaks(athlete)))


def _breaks(athlete: FitAthlete) -> Iterable[Off]:
    """Time off without a minute to run; stretches that touch are one. Under 5 days it is no break."""
    found: list[Off] = []
    for off in sorted(athlete.time_off, key=lambda off: (off.first_day, off.last_day)):
        if off.minutes > 0:
            continue
        if found and off.first_day <= found[-1].last_day + timedelta(days=1):
            last = max(found[-1].last_day, off.last_day)
            found[-1] = Off(found[-1].first_day, last)
        else:
            found.append(Off(off.first_day, off.last_day))
    return [off for off in found if off.days >= 5]


def ease_after_breaks(calendar: Calendar, days: Days, measurer: Measurer) -> None:
    """Quality that wishes for a day too soon after a break is run easy; it is not put off to a later day.

    Hard steps inside a long run are run easy as well.
    """
    for week in calendar.weeks if days.breaks else ():
        for run in week.runs:
            if run.is_quality and days.is_calm(run.day):
                run.eased, run.why = True, "break"
            elif run.is_long and run.full.hard_mm and days.is_calm(run.day):
                easy = eased(run.full.make())
                run.full, run.smaller = measurer.full(easy), measurer.smaller(easy)


def place_runs(calendar: Calendar, days: Days) -> Merit:
    """Gives every run its day, or takes it out; eases quality that no day is far enough from others for."""
    weeks = [[run for run in week.runs if not run.gone] for week in calendar.weeks]
    items = tuple(
        tuple(_item(run, open_days) for run in runs)
        for open_days, runs in zip((OpenDays(w.first_day, days) for w in calendar.weeks), weeks, strict=True)
    )
    spots, merit = place_weeks(items, days.rails.max_hard, days.rails.gap_days)
    for week, runs, found in zip(calendar.weeks, weeks, spots, strict=True):
        for run, spot in zip(runs, found, strict=True):
            if spot.eased:
                run.eased, run.why, run.chosen = True, "spacing", 0
            if spot.day is None:
                run.gone, run.why = True, run.why or "no_day"
            else:
                run.day = week.first_day + timedelta(days=spot.day)
                run.limit_s = None if run.role == "race" else days.minutes(run.day) * 60
    return merit


class OpenDays:
    """The seven days of a week: free minutes, and whether a role may stand there."""

    def __init__(self, first_day: date, days: Days) -> None:
        self.first_day = first_day
        self.days = days
        self.dates = [first_day + timedelta(days=n) for n in range(7)]
        self.minutes = [days.minutes(day) for day in self.dates]
        self._open: dict[Role, list[bool]] = {}

    def shorts(self, role: Role, need: int, least_s: Callable[[], int]) -> tuple[int, ...]:
        """Minutes cut off on each day, NOWHERE where not even the smallest size fits or the role may not stand."""
        is_open = self._open.get(role)
        if is_open is None:
            is_open = self._open[role] = [self.days.may_run(role, day) for day in self.dates]
        found = []
        for free, fine in zip(self.minutes, is_open, strict=True):
            if free == 0 or not fine:
                found.append(NOWHERE)
            elif free >= need:
                found.append(0)
            elif least_s() > free * 60:
                found.append(NOWHERE)
            else:
                found.append(need - free if (need - free) * 100 > SLIGHT_PERCENT * need else 0)
        return tuple(found)


def _item(run: Run, week: OpenDays) -> Item:
    wished = (run.wished - week.first_day).days if run.wished is not None else None
    if run.role == "race":
        return Item("race", True, wished, tuple(0 if d == run.day else NOWHERE for d in week.dates))
    role: Role = "easy" if run.eased else run.role
    need = -(-run.size.s // 60)
    short = week.shorts(role, need, lambda: run.options[-1].s)
    easy: tuple[int, ...] = ()
    if role == "quality" and run.easy:
        sizes = run.easy()
        easy = week.shorts("easy", -(-sizes[0].s // 60), lambda: sizes[-1].s)
    return Item(role, run.session.priority == "key", wished, short, easy, need)


def place_beside(calendar: Calendar, days: Days) -> list[tuple[Beside, date, int]]:
    """Strength, cross-training and second runs, each with a day and a slot, where minutes are left.

    A second run joins the first run of its wished day, never a long run or a race; the others take their wished
    day or the nearest of the week with enough minutes. What finds no day is left out.
    """
    used: dict[date, int] = {}
    slots: dict[date, int] = {}
    roles: dict[date, str] = {}
    for week in calendar.weeks:
        for run in week.runs:
            if not run.gone:
                used[run.day] = used.get(run.day, 0) + run.size.s
                slots[run.day] = slots.get(run.day, 0) + 1
                roles[run.day] = run.role
    placed = []
    for one in calendar.beside:
        day = _day_beside(one, days, used, roles)
        if day is not None:
            if one.session.second:
                roles[day] = "twice"  # two of a shortened race week may wish for the same day
            placed.append((one, day, slots.get(day, 0)))
            used[day] = used.get(day, 0) + one.s
            slots[day] = slots.get(day, 0) + 1
    return placed


def _day_beside(one: Beside, days: Days, used: dict[date, int], roles: dict[date, str]) -> date | None:
    first = one.wished - timedelta(days=one.wished.weekday())
    week = sorted(
        (first + timedelta(days=n) for n in range(7)), key=lambda d: (abs((d - one.wished).days), d)
    )
    for day in [one.wished] if one.session.second else week:
        if one.session.second and roles.get(day) not in ("easy", "quality"):
            continue
        if roles.get(day) == "race" or not days.may_run(one.session.role, day):
            continue
        if 0 < one.s <= days.minutes(day) * 60 - used.get(day, 0) or (one.s == 0 and days.minutes(day)):
            return day
    return None
