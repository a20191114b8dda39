"""The walk through the weeks: how large every run may be, each week from what the weeks before it really hold.

One pass in order is exact: every cap is a function of earlier amounts that never falls when one of them rises.
"""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

from plans.training.fitting_calendar import Calendar
from plans.training.fitting_caps import LongRuns, Volumes, longest_declared, part
from plans.training.fitting_cutting import fit_week
from plans.training.fitting_days import Days
from plans.training.fitting_runs import Week

EASED_RACE_WEEK = Fraction(85, 100)  # of the planned week, race included; common practice, no source
LEAST_BESIDE_RACE = Fraction(40, 100)


def walk(calendar: Calendar, days: Days) -> None:
    """Sizes for every run of every week, each week from what the weeks before it really hold."""
    rails, athlete = days.rails, days.athlete
    volumes = Volumes(rails, athlete.week_mm)
    runs = LongRuns(rails, days.start, longest_declared(athlete.week_mm, athlete.long_mm))
    for place, week in enumerate(calendar.weeks):
        _tops(week, runs, days)
        fit_week(week, _week_cap(calendar, place, volumes, runs, days), rails)
        gone = max(0, (days.start - week.first_day).days) if place == 0 else 0
        before = athlete.week_mm * gone // 7
        volumes.add(week.kind, week.mm + week.race_mm + before)
        for run in week.runs:
            if not run.gone:
                runs.fitted.append((run.day, run.size.mm))


def _tops(week: Week, runs: LongRuns, days: Days) -> None:
    """The largest size each run may have: minutes of its day, longest run by the clock, the past 30 days."""
    safe = runs.safe(week.first_day)
    after_break = _break_limit(week, runs, days) if days.breaks else None
    for run in week.runs:
        if run.gone or run.role == "race":
            continue
        cap = planned = run.options[0].mm if run.eased else run.full.mm
        if planned > safe:
            cap = runs.cap(run.day, week.first_day, week.shape).mm
            if cap >= part(1 - days.rails.tolerance, planned):
                cap = planned
        if after_break is not None:
            cap = min(cap, after_break)
        limit = days.rails.longest_s if run.limit_s is None else min(run.limit_s, days.rails.longest_s)
        found = run.within(cap, limit)
        if found is None and run.is_quality:
            run.eased, run.why = True, "cap"
            found = run.within(cap, limit)
        run.top = run.chosen = run.smallest if found is None else found


def _breaks_here(week: Week, days: Days) -> list[tuple[Fraction, date]]:
    """Breaks whose way back lies in this week: the part week they end in, and the first full one."""
    found = []
    for off in days.breaks:
        back = off.last_day + timedelta(days=1)
        if week.first_day - timedelta(days=7) < back <= week.first_day + timedelta(days=6):
            found.append((days.rails.break_share(off.days), off.first_day))
    return found


def _break_limit(week: Week, runs: LongRuns, days: Days) -> int:
    """After a break, the first runs are a share of the longest before it, at least the rail's floor."""
    limits: list[int] = [10**12]
    for share, first in _breaks_here(week, days):
        longest = max((mm for day, mm in runs.fitted if first - timedelta(days=30) <= day < first), default=0)
        limits.append(
            max(part(share, longest), min(days.rails.long_floor_mm, longest), days.rails.shortest_mm)
        )
    return min(limits)


def _week_cap(calendar: Calendar, place: int, volumes: Volumes, runs: LongRuns, days: Days) -> int:
    """The week's cap for training, races left out."""
    week = calendar.weeks[place]
    planned = week.planned_mm
    cap = volumes.cap(week.kind, week.shape).mm
    if part(1 - days.rails.tolerance, planned) <= cap:
        cap = planned
    for share, first in _breaks_here(week, days):
        before = [
            volumes.fitted[n - place - 1 if n < place else -1]
            for n in range(place)
            if calendar.weeks[n].first_day + timedelta(days=7) <= first
        ][-4:] or [days.athlete.week_mm]
        cap = min(cap, part(share, max(before[-1], sum(before) // len(before))))
    if any(run.is_tune_up for run in week.runs):
        eased = part(EASED_RACE_WEEK, planned) - week.race_mm
        cap = min(cap, max(eased, part(LEAST_BESIDE_RACE, planned)))
    if place and week.kind in ("taper", "race"):
        previous = calendar.weeks[place - 1].mm
        if cap >= previous > cap // 2:
            cap = previous - 1
    return cap
