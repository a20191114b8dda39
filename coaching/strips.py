"""From weeks as they are read to the bars of the charts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.safestring import SafeString

from athletes.running.units import Units
from coaching import charts
from coaching.charts import Chart, DayBar, Stretch, WeekBar
from plans.reading import Week
from plans.training.describing import StepLine


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


def effort(lines: Sequence[StepLine]) -> Chart:
    """A session's lines in the order they are run: what is repeated is written out, with what stands between."""
    stretches: list[Stretch] = []
    block: list[StepLine] = []
    for line in [*(line for line in lines if not line.heading), None]:
        if line is not None and (line.times > 1 or line.recovery):
            block.append(line)
            continue
        stretches += _written_out(block)
        block = []
        if line is not None:
            stretches += _stretch(line)
    return charts.effort_over_time(stretches)


def _written_out(block: list[StepLine]) -> list[Stretch]:
    times = max((line.times for line in block), default=0)
    return [one for n in range(times) for line in block if n < line.times for one in _stretch(line)]


def _stretch(line: StepLine) -> list[Stretch]:
    seconds = sum(line.seconds) // 2
    return [Stretch(seconds, line.effort, line.words)] if seconds else []
