"""From weeks as they are read to the bars of the charts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from django.utils.safestring import SafeString

from athletes.running.effort import EFFORT_WORDS
from athletes.running.paces import PaceCard
from athletes.running.units import Units
from coaching import charts
from coaching.charts import DayBar, Stretch, WeekBar
from plans.drawing import Chart
from plans.reading import Week
from plans.training.profile import profile
from plans.training.steps import Session


def week_strip(week: Week, today: date | None, units: Units, full_mm: int | None = None) -> SafeString:
    extra = {log.day: log.distance_mm or 0 for log in week.extra}
    days = []
    for day, items in week.days:
        runs = [item for item in items if item.is_run]
        days.append(
            DayBar(
                label=f"{day:%A}",
                planned_mm=sum(item.planned_mm for item in runs),
                run_mm=sum(item.run_mm for item in runs) + extra.get(day, 0),
                key=any(item.key for item in runs),
                missed=any(item.state == "missed" for item in items),
                other=any(item.role in ("strength", "cross") for item in items) and not runs,
                done=any(item.state == "done" for item in items),
                today=day == today,
            )
        )
    return charts.week_strip(days, units=units, full_mm=full_mm)


def last_weeks(weeks: Sequence[Week], units: Units) -> SafeString:
    return charts.last_weeks([_bar(week, None) for week in weeks], units=units)


def season(weeks: Sequence[Week], today: date, units: Units, width: float = 640) -> Chart:
    now = next((n for n, week in enumerate(weeks) if 0 <= (today - week.first_day).days < 7), None)
    return charts.season_volume([_bar(week, today) for week in weeks], units=units, now=now, width=width)


def _bar(week: Week, today: date | None) -> WeekBar:
    ahead = today is not None and week.first_day > today
    return WeekBar(
        label=f"Week {week.number}",
        planned_mm=week.planned_mm,
        run_mm=None if ahead else week.run_mm,
        long_planned_mm=week.longest_planned_mm,
        long_run_mm=None if ahead else week.longest_run_mm,
    )


def effort(steps: Session, card: PaceCard) -> Chart | None:
    """A session's effort over time, in the order it is run. None where no time can be told."""
    stretches: list[Stretch] = []
    for piece in profile(steps, card):
        words = EFFORT_WORDS[piece.effort].partition(":")[0]
        if stretches and stretches[-1].words == words and not piece.hard:
            stretches[-1] = replace(stretches[-1], seconds=stretches[-1].seconds + piece.seconds)
        else:
            stretches.append(Stretch(piece.seconds, piece.effort, words))
    return charts.effort_over_time(stretches) if stretches else None


def longest_runs(weeks: Sequence[Week], today: date, units: Units, width: float = 358) -> Chart:
    """The longest run of each week so far, planned and run."""
    past = [week for week in weeks if week.first_day <= today]
    bars = [WeekBar(f"Week {w.number}", w.longest_planned_mm, w.longest_run_mm) for w in past]
    return charts.longest_runs(bars, units=units, width=width)
