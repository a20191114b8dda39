"""A race day in words, for desk, phone and paper alike."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from athletes.running.units import Distance, Duration, Units, show_distance, show_duration, show_pace
from plans.handout_contents import round_to_whole
from plans.looking_back import look_back
from plans.race_picture import clock, race_picture
from plans.racing import RaceDay, race_week
from plans.training.looking_back import Finding, Training, findings
from plans.training.raceday import Compared, RacePlan

PACKING = (
    "Number, pins or belt; the shoes and clothes of the last long runs; something warm for before.",
    "Breakfast and what you take on the way: as practised in training, nothing new.",
    "Know the way to the start, the bag drop, and where you meet afterwards.",
)


@dataclass(frozen=True)
class SplitRow:
    """One split in words; `mark` stands out on the strip: each fifth, and the line."""

    to: str
    time: str
    pace: str
    clock: str
    hills: str
    mark: bool


@dataclass(frozen=True)
class ComparedRow:
    part: str
    time: str
    pace: str
    clock: str
    how: str


def split_rows(plan: RacePlan) -> list[SplitRow]:
    rows = []
    for number, split in enumerate(plan.splits, start=1):
        last = split.end == plan.distance
        hills = [
            f"{sign}{round(mm / 1000)}"
            for sign, mm in (("+", split.up_mm), ("−", split.down_mm))
            if mm >= 500
        ]
        rows.append(
            SplitRow(
                to="Finish" if last else str(number),
                time=show_duration(split.duration),
                pace=show_pace(split.pace, plan.units),
                clock=show_duration(split.total),
                hills=" ".join(hills),
                mark=last or number % 5 == 0,
            )
        )
    return rows


def _place(mm: int, plan: RacePlan) -> str:
    if mm == plan.distance.mm:
        return "Finish"
    if mm == plan.distance.mm // 2:
        return "Half-way"
    return show_distance(Distance(mm), plan.units)


def compared_rows(rows: tuple[Compared, ...], units: Units) -> list[ComparedRow]:
    return [
        ComparedRow(
            part=f"{show_distance(Distance(one.run.start_mm), units).rpartition(' ')[0]} to "
            f"{show_distance(Distance(one.run.end_mm), units)}",
            time=show_duration(Duration(one.run.ms)),
            pace=show_pace(one.run.pace, units),
            clock=show_duration(Duration(one.clock_ms)),
            how=clock(one.late_ms),
        )
        for one in rows
    ]


@dataclass(frozen=True)
class LookedBack:
    """What held and what did not, and the training before it in the athlete's units."""

    time: str
    findings: tuple[Finding, ...]
    training: str


def looked(day: RaceDay) -> LookedBack | None:
    """None until there is a result."""
    case = look_back([day.entry])[0].case
    if case is None:
        return None
    raced = case.raced
    if (
        raced.target is None and day.plan is not None
    ):  # nobody chose another: the proposed one stood on the phone
        raced = replace(raced, target=day.plan.target)
    return LookedBack(
        show_duration(raced.time),
        findings(case.training, raced),
        training_words(case.training, day.units) if case.training else "",
    )


def training_words(one: Training, units: Units) -> str:
    """`In 18 weeks planned 812 km at first and 790 km in the end; run 741 km, the longest run 32 km.`"""
    first, stood, run, longest = (
        show_distance(Distance(round_to_whole(mm, units)), units)
        for mm in (one.first_mm, one.stood_mm, one.run_mm, one.longest_mm)
    )
    planned = stood if first == stood else f"{first} at first and {stood} in the end"
    return f"In {one.weeks} week{'s' * (one.weeks != 1)} planned {planned}; run {run}, the longest run {longest}."


def race_context(day: RaceDay, width: float = 640) -> dict[str, Any]:
    """What the templates of one entry print."""
    plan, units = day.plan, day.units
    context: dict[str, Any] = {
        "day": day,
        "units": units,
        "packing": PACKING,
        "week": race_week(day.entry),
        "compared": compared_rows(day.compared, units),
        "looked": looked(day) if day.days_to_go <= 0 else None,
    }
    if plan is not None:
        marks = plan.marks()
        context |= {
            "splits": split_rows(plan),
            "picture": race_picture(plan, width=width),
            "pace": show_pace(plan.pace, units),
            "opening": show_distance(plan.opening, units),
            "marks": [(_place(m.mm, plan), show_duration(Duration(m.ms))) for m in marks],
            "halves": [show_duration(half) for half in plan.halves],
        }
    return context
