"""The pictures of the site, made on the server: figures in, SVG out. They measure nothing themselves.

One language of marks everywhere: an outline is planned, filled is run, a cross is missed, a dot is rest, a
heavier outline is a key session, a mark under the line is today. A strip is named by its title; a larger
picture comes with a table of its figures (`plans.drawing.Chart`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils.safestring import SafeString

from athletes.running.predictions import show_estimate
from athletes.running.units import Distance, Duration, Units, show_distance, show_duration
from coaching.effort_chart import Stretch, effort_over_time
from plans.drawing import (
    Chart,
    cross,
    dot,
    label,
    legend,
    line,
    path,
    picture,
    rect,
    table,
    told,
    way_to_race,
)

__all__ = [
    "DayBar",
    "Prediction",
    "Stretch",
    "WeekBar",
    "effort_over_time",
    "last_weeks",
    "longest_runs",
    "prediction_spread",
    "season_volume",
    "way_to_race",
    "week_strip",
]

MM = {"km": 1_000_000, "mi": 1_609_344}


@dataclass(frozen=True)
class DayBar:
    """One day of a week. mm planned and run; `other` is a session without distance (strength, cross)."""

    label: str
    planned_mm: int = 0
    run_mm: int = 0
    key: bool = False
    missed: bool = False
    other: bool = False
    done: bool = False
    today: bool = False


@dataclass(frozen=True)
class WeekBar:
    """One week of a season. run_mm and long_run_mm are None while it lies ahead."""

    label: str
    planned_mm: int
    run_mm: int | None = None
    long_planned_mm: int = 0
    long_run_mm: int | None = None
    purpose: str = ""


@dataclass(frozen=True)
class Prediction:
    """One forecast of a race: by which method, from fast to slow, all in ms."""

    label: str
    fast_ms: int
    mid_ms: int
    slow_ms: int


def _far(mm: int, units: Units) -> str:
    return show_distance(Distance(mm), units)


def _day_words(day: DayBar, units: Units) -> str:
    name = f"{day.label}, today" if day.today else day.label
    if day.other:
        return f"{name}: other session {'missed' if day.missed else 'done' if day.done else 'planned'}"
    if not (day.planned_mm or day.run_mm):
        return f"{name}: rest"
    said = [f"{_far(day.planned_mm, units)} planned" if day.planned_mm else "nothing planned"]
    if day.missed:
        said.append("missed")
    elif day.run_mm:
        said.append(f"{_far(day.run_mm, units)} run")
    return f"{name}: {', '.join(said)}{', key session' if day.key else ''}"


def week_strip(days: Sequence[DayBar], *, units: Units = "km", full_mm: int | None = None) -> SafeString:
    """Seven small bars, 91 by 24.

    full_mm: what a bar of full height means; by default the longest day of this week. Anything beyond is
    drawn at full height: the figure stands beside it.
    """
    slot, wide, tall, floor = 13.0, 9.0, 19.0, 21.0
    full = full_mm or max((max(d.planned_mm, d.run_mm) for d in days), default=0) or 1
    plan: list[str] = []
    key: list[str] = []
    run: list[str] = []
    miss: list[str] = []
    rest: list[str] = []
    today: list[str] = []
    for i, day in enumerate(days):
        x, middle = i * slot + 1, i * slot + 1 + wide / 2
        up, done = (min(tall, tall * mm / full) for mm in (day.planned_mm, day.run_mm))
        if day.other:
            (run if day.done else plan).append(rect(x + 2, floor - 3.5, wide - 4, 3))
        elif not (day.planned_mm or day.run_mm):
            rest.append(dot(middle, floor - 2, 1.4))
        if day.run_mm:
            run.append(rect(x + 2, floor - max(done, 1.5), wide - 4, max(done, 1.5)))
        if day.planned_mm and not day.other:
            height = max(up, 3.0)
            (key if day.key else plan).append(rect(x + 0.5, floor - height + 0.5, wide - 1, height - 1))
        if day.missed:
            miss.append(cross(middle, floor - max(up / 2, 4), 3))
        if day.today:
            today.append(rect(x, floor + 1.2, wide, 1.6))
    kinds = (
        ("c-plan", plan),
        ("c-key", key),
        ("c-run", run),
        ("c-miss", miss),
        ("c-rest", rest),
        ("c-now", today),
    )
    title = "; ".join(_day_words(day, units) for day in days)
    return picture(title, slot * len(days), 24, [path(kind, pieces) for kind, pieces in kinds], "strip")


def last_weeks(weeks: Sequence[WeekBar], *, units: Units = "km") -> SafeString:
    """The last few weeks, oldest first: outline planned, filled run; 14 by 24 a week, on one scale."""
    full = max((max(w.planned_mm, w.run_mm or 0) for w in weeks), default=0) or 1
    plan, run = [], []
    for i, week in enumerate(weeks):
        up, done = 19 * week.planned_mm / full, 19 * (week.run_mm or 0) / full
        if week.planned_mm:
            plan.append(rect(i * 14 + 1.5, 21 - max(up, 2) + 0.5, 10, max(up, 2) - 1))
        if done:
            run.append(rect(i * 14 + 3.5, 21 - done, 6, done))
    said = "; ".join(f"{w.label}: {_far(w.run_mm or 0, units)} of {_far(w.planned_mm, units)}" for w in weeks)
    return picture(said, 14 * len(weeks), 24, [path("c-plan", plan), path("c-run", run)], "strip")


def _ticks(most_mm: int, units: Units) -> list[int]:
    """Round values for the scale, in whole units, three to six of them, the last not under `most_mm`."""
    top = Fraction(most_mm, MM[units])
    step = next(s for s in (1, 2, 5, 10, 20, 25, 50, 100, 200, 500, 1000, 10**6) if s * 4 >= top)
    return list(range(0, int(-(-top // step)) * step + 1, step))


def season_volume(
    weeks: Sequence[WeekBar],
    *,
    units: Units = "km",
    now: int | None = None,
    width: float = 640,
    run: bool = True,
) -> Chart:
    """A season: each week planned (outline) and run (filled), its long run as a round mark at its height.

    run: False for a plan that nobody runs yet: nothing is said of running.
    now: index of this week. width: of the drawing; 640 for the desk, 358 for a phone, so letters keep size.
    """
    left, right, top, floor = 30.0, 4.0, 26.0, 160.0
    ticks = _ticks(
        max((max(w.planned_mm, w.run_mm or 0, w.long_planned_mm) for w in weeks), default=0), units
    )
    full = max(ticks[-1], 1) * MM[units]
    slot = (width - left - right) / max(len(weeks), 1)
    bar = min(slot * 0.72, 26.0)

    def y(mm: int) -> float:
        return floor - (floor - top) * mm / full

    centres = [left + slot * (i + 0.5) for i in range(len(weeks))]
    pairs = list(zip(centres, weeks, strict=True))
    every = -(-24 // int(max(slot, 1)))
    parts = [
        path("c-axis", (line(left, y(t * MM[units]), width - right, y(t * MM[units])) for t in ticks)),
        path(
            "c-run",
            (rect(x - bar / 2 + 2, y(w.run_mm), bar - 4, floor - y(w.run_mm)) for x, w in pairs if w.run_mm),
        ),
        path(
            "c-plan",
            (
                rect(x - bar / 2, y(w.planned_mm), bar, floor - y(w.planned_mm))
                for x, w in pairs
                if w.planned_mm
            ),
        ),
        path("c-mark", (dot(x, y(long), min(4, bar / 3)) for x, w in pairs if (long := _long(w)))),
        *(label(left - 5, y(t * MM[units]) + 4, str(t), "end") for t in ticks),
        *(
            label(x, floor + 14, str(i + 1), "middle")
            for i, x in enumerate(centres)
            if i % every == 0 or i == now
        ),
        legend(f"{units} a week; round mark: long run"),
        *(
            told(x - slot / 2, top, slot, floor - top, _week_words(week, units), width - right)
            for x, week in pairs
        ),
    ]
    if now is not None and 0 <= now < len(weeks):
        parts.append(path("c-now", [rect(centres[now] - bar / 2, floor + 17, bar, 2.5)]))
    title = f"{len(weeks)} weeks, planned{' and run' if run else ''}, with the long run of each"
    heads: tuple[str, ...] = ("Week", "Planned", "Run", "Long run planned", "Long run")
    rows = _season_rows(weeks, units)
    if not run:
        heads, rows = (heads[0], heads[1], heads[3]), [(row[0], row[1], row[3]) for row in rows]
    return Chart(title, picture(title, width, floor + 22, parts), table(title, heads, rows))


def _week_words(week: WeekBar, units: Units) -> str:
    ran = "" if week.run_mm is None else f"{_far(week.run_mm, units)} of "
    long_ran = "" if week.long_run_mm is None else f"{_far(week.long_run_mm, units)} of "
    long = f", long run {long_ran}{_far(week.long_planned_mm, units)}" if week.long_planned_mm else ""
    return f"{week.label}: {ran}{_far(week.planned_mm, units)}{long}"


def _long(week: WeekBar) -> int:
    return week.long_planned_mm if week.long_run_mm is None else week.long_run_mm


def _season_rows(weeks: Sequence[WeekBar], units: Units) -> list[tuple[str, ...]]:
    def cell(mm: int | None) -> str:
        return "" if mm is None else _far(mm, units)

    return [
        (
            f"{w.label}: {w.purpose}" if w.purpose else w.label,
            *map(cell, (w.planned_mm, w.run_mm, w.long_planned_mm, w.long_run_mm)),
        )
        for w in weeks
    ]


def longest_runs(weeks: Sequence[WeekBar], *, units: Units = "km", width: float = 358) -> Chart:
    """The longest run of each week: outline planned (`planned_mm`), filled run (`run_mm`), the figure over it."""
    top, floor = 20.0, 104.0
    full = max((max(w.planned_mm, w.run_mm or 0) for w in weeks), default=0) or 1
    slot = width / max(len(weeks), 1)
    bar = min(slot * 0.72, 26.0)
    plan, run, names = [], [], []
    most = max((w.run_mm or 0 for w in weeks), default=0)
    for i, week in enumerate(weeks):
        x = slot * (i + 0.5)
        up, done = (84 * mm / full for mm in (week.planned_mm, week.run_mm or 0))
        if week.planned_mm:
            plan.append(rect(x - bar / 2, floor - up, bar, up))
        if done:
            run.append(rect(x - bar / 2 + 2, floor - done, bar - 4, done))
        if slot >= 24 or i % 2 == 0:
            names.append(label(x, floor + 14, str(i + 1), "middle"))
        if done and week.run_mm == most:
            names.append(label(x, min(floor - done, floor - up) - 5, _far(most, units), "middle"))
    title = f"The longest run of each week so far, the longest of all {_far(most, units)}"
    rows = [(w.label, _far(w.planned_mm, units), _far(w.run_mm or 0, units)) for w in weeks]
    parts = [path("c-run", run), path("c-plan", plan), path("c-axis", [line(0, floor, width, floor)]), *names]
    figures = table(title, ("Week", "Planned", "Run"), rows)
    return Chart(title, picture(title, width, top + floor, parts), figures)


def prediction_spread(rows: Sequence[Prediction], *, goal_ms: int | None = None, width: float = 358) -> Chart:
    """Forecasts of one race on one time line: a bar from fast to slow, a mark in the middle, the goal as a line."""
    low = min((r.fast_ms for r in rows), default=0)
    high = max((r.slow_ms for r in rows), default=1)
    low, high = (min(low, goal_ms), max(high, goal_ms)) if goal_ms is not None else (low, high)
    span = max(high - low, 1)
    height = 34.0

    def x(ms: int) -> float:
        return 6 + (width - 12) * (ms - low) / span

    def time(ms: int) -> str:
        """No finer than a forecast is known."""
        return show_estimate(Duration(ms))

    parts: list[str] = []
    for i, row in enumerate(rows):
        y = i * height + 24
        parts += [
            label(0, y - 9, row.label),
            label(width, y - 9, f"{time(row.fast_ms)} to {time(row.slow_ms)}", "end"),
            path("c-axis", [line(0, y, width, y)]),
            path("c-area", [rect(x(row.fast_ms), y - 3, max(x(row.slow_ms) - x(row.fast_ms), 1), 6)]),
            path("c-mark", [dot(x(row.mid_ms), y, 5)]),
        ]
    foot = len(rows) * height + 4
    if goal_ms is not None:
        at = x(goal_ms)
        side = "start" if at < 50 else "end" if at > width - 50 else "middle"
        parts += [
            path("c-goal", (line(at, i * height + 18, at, i * height + 30) for i in range(len(rows)))),
            label(at, foot + 12, f"goal {show_duration(Duration(goal_ms))}", side),
        ]
    title = "; ".join(
        f"{r.label}: {time(r.mid_ms)}, from {time(r.fast_ms)} to {time(r.slow_ms)}" for r in rows
    )
    figures = table(
        "Predictions",
        ("Method", "Fast", "Likely", "Slow"),
        [(r.label, time(r.fast_ms), time(r.mid_ms), time(r.slow_ms)) for r in rows],
    )
    return Chart(title, picture(title, width, foot + 16, parts), figures)
