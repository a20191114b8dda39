"""The picture of a race: the course's heights below, the pace of each split above, on one line of distance."""

from __future__ import annotations

from collections.abc import Callable

from athletes.running.units import Duration, show_distance, show_duration, show_pace
from plans.drawing import Chart, label, line, number, path, picture, table
from plans.training.raceday import RacePlan


def race_picture(plan: RacePlan, *, width: float = 640) -> Chart:
    """width: 640 for the desk and paper, 358 for a phone."""
    top, waist, floor, left = 18.0, 66.0, 132.0, 36.0
    whole, span = plan.distance.mm, width - left - 4

    def x(mm: float) -> float:
        return left + span * mm / whole

    parts = [*_paces(plan, x, top, waist), *_heights(plan, x, waist + 14, floor), *_scale(plan, x, floor)]
    heads = ("To", "Split", "Pace", "Clock", "Up", "Down")
    rows = [
        (
            show_distance(s.end, plan.units),
            show_duration(s.duration),
            show_pace(s.pace, plan.units),
            show_duration(s.total),
            f"{round(s.up_mm / 1000)} m",
            f"{round(s.down_mm / 1000)} m",
        )
        for s in plan.splits
    ]
    up, down = (round(mm / 1000) for mm in plan.course.climb_mm)
    hills = f"{up} m up, {down} m down" if plan.course.known else "counted as flat"
    title = f"Course, {hills}, and the pace of each split for {show_duration(plan.target)}"
    return Chart(title, picture(title, width, floor + 18, parts), table(title, heads, rows))


def _paces(plan: RacePlan, x: Callable[[float], float], top: float, floor: float) -> list[str]:
    """Steps, fast is up; the dashed line is goal pace."""
    whole_splits = [s for s in plan.splits if s.length.mm * 4 >= plan.splits[0].length.mm]
    seconds = [float(s.pace.s_per_km) for s in whole_splits]
    goal = float(plan.pace.s_per_km)
    far = max(10.0, *(abs(one - goal) for one in seconds))

    def y(one: float) -> float:
        return (top + floor) / 2 + (floor - top) / 2 * (one - goal) / far

    steps, before = "", None
    for split, one in zip(whole_splits, seconds, strict=True):
        start = x(split.end.mm - split.length.mm)
        steps += f"{'M' if before is None else 'L'}{number(start)} {number(y(one))}L{number(x(split.end.mm))} {number(y(one))}"
        before = one
    return [
        path("c-axis", [line(x(0), y(goal), x(plan.distance.mm), y(goal))]),
        path("c-line", [steps]),
        label(
            0,
            10,
            f"pace of each {'mile' if plan.units == 'mi' else 'km'}, around {show_pace(plan.pace, plan.units)}; higher is faster",
        ),
    ]


def _heights(plan: RacePlan, x: Callable[[float], float], top: float, floor: float) -> list[str]:
    heights = [p.height_mm for p in plan.course.points]
    low, high = min(heights), max(heights)
    if not plan.course.known:
        return [path("c-axis", [line(x(0), floor, x(plan.distance.mm), floor)])]
    tall = max(high - low, 20_000)
    step = max(1, len(plan.course.points) // 300)
    points = [*plan.course.points[::step], plan.course.points[-1]]
    edge = "L".join(
        f"{number(x(p.mm))} {number(floor - (floor - top) * (p.height_mm - low) / tall)}" for p in points
    )
    return [
        path(
            "c-area",
            [f"M{number(x(0))} {number(floor)}L{edge}L{number(x(plan.distance.mm))} {number(floor)}z"],
        ),
        label(30, top + 8, f"{round(high / 1000)} m", "end"),
        label(30, floor, f"{round(low / 1000)} m", "end"),
    ]


def _scale(plan: RacePlan, x: Callable[[float], float], floor: float) -> list[str]:
    size = 1_609_344 if plan.units == "mi" else 1_000_000
    whole = plan.distance.mm // size
    every = 5 if whole > 12 else 2 if whole > 5 else 1
    return [
        label(0, floor + 14, plan.units),
        *(label(x(n * size), floor + 14, str(n), "middle") for n in range(0, whole + 1, every)),
    ]


def clock(ms: int) -> str:
    """A difference in words: `20 s behind`, `1:05 ahead`, `on the plan`."""
    seconds = round(abs(ms) / 1000)
    if seconds == 0:
        return "on the plan"
    amount = f"{seconds} s" if seconds < 60 else show_duration(Duration(seconds * 1000))
    return f"{amount} {'behind' if ms > 0 else 'ahead'}"
