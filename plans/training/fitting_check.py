"""The guard rails, checked on a schedule or a template by a look that knows nothing of how it came about.

A plan that breaks a rail by itself is told, not mended: the coach may have meant it. Growth that the coach wrote
is therefore named here although fitting keeps to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise

from athletes.running.units import Distance, Units, show_distance
from plans.training.fitting_caps import LongRuns, Volumes, longest_declared
from plans.training.fitting_cutting import SHARE_SLACK
from plans.training.fitting_types import FitAthlete, FittedSession, FittedWeek
from plans.training.guardrails import Rails
from plans.training.template import HARD, RUNS, Template


@dataclass(frozen=True)
class RunSeen:
    """A run as the check sees it."""

    day: date
    role: str
    mm: int
    s: int
    hard_mm: int


@dataclass(frozen=True)
class WeekSeen:
    """A week as the check sees it, with the name that sentences give it."""

    first_day: date
    kind: str
    name: str
    runs: tuple[RunSeen, ...]
    part_before: int = 0

    @property
    def training(self) -> list[RunSeen]:
        return [run for run in self.runs if run.role != "race"]

    @property
    def mm(self) -> int:
        return sum(run.mm for run in self.training)

    @property
    def all_mm(self) -> int:
        return sum(run.mm for run in self.runs)


@dataclass(frozen=True)
class Broken:
    """A guard rail that isn't kept: its name, the week's place, and the sentence."""

    rail: str
    week: int
    sentence: str


def check_weeks(
    weeks: Sequence[WeekSeen],
    rails: Rails,
    units: Units,
    declared_mm: int,
    declared_long_mm: int,
    tell_from: int = 0,
) -> tuple[Broken, ...]:
    """Every guard rail that the weeks don't keep, in order of weeks; those before `tell_from` only count."""
    if not weeks:
        return ()
    found: list[Broken] = []
    volumes = Volumes(rails, declared_mm)
    runs = LongRuns(rails, weeks[0].first_day, longest_declared(declared_mm, declared_long_mm))
    hard_days = sorted({run.day for week in weeks for run in week.runs if run.role in HARD})
    for place, week in enumerate(weeks):
        told = () if place < tell_from else (
            *_rise(week, volumes, units), *_single_runs(week, runs, rails, units),
            *_shares(week, rails, units), *_hard_days(week, hard_days, rails),
            *_taper(week, weeks[place - 1] if place else None, units),
        )  # fmt: skip
        found += (Broken(rail, place, f"{week.name}: {words}") for rail, words in told)
        volumes.add(week.kind, week.all_mm + week.part_before)
        runs.fitted += [(run.day, run.mm) for run in week.runs]
    return tuple(found)


WEEKS_A_LONG_RUN_COUNTS = 5  # common practice, no source: what was run so lately still prepares for the race


def broken_rails(
    template: Template,
    athlete: FitAthlete,
    weeks: Sequence[FittedWeek],
    sessions: Sequence[FittedSession],
    rails: Rails,
    start: date,
) -> tuple[str, ...]:
    """What a fitted schedule can't keep, in sentences; last, whether it still prepares for its race."""
    seen = []
    for place, week in enumerate(weeks):
        last = week.first_day + timedelta(days=6)
        gone = max(0, (start - week.first_day).days) if place == 0 else 0
        runs = tuple(
            RunSeen(s.day, s.role, s.mm, s.s, s.hard_mm)
            for s in sessions
            if week.first_day <= s.day <= last and s.role in RUNS
        )
        before = athlete.week_mm * gone // 7
        seen.append(WeekSeen(week.first_day, week.kind, f"Week of {week.first_day:%-d %B}", runs, before))
    found = check_weeks(seen, rails, athlete.units, athlete.week_mm, athlete.long_mm)
    longest = max((s.mm for s in sessions if s.role in ("long", "easy")), default=0)
    if len(weeks) <= WEEKS_A_LONG_RUN_COUNTS:
        longest = max(longest, athlete.long_mm)
    told = [broken.sentence for broken in found]
    if longest < template.least_long_mm * (1 - rails.tolerance):
        told.append(
            f"The longest run is {_far(longest, athlete.units)}; this plan asks for at least"
            f" {_far(template.least_long_mm, athlete.units)} before its race. Think of a later race, another goal"
            " or another race."
        )
    return tuple(told)


Words = Iterable[tuple[str, str]]


def _rise(week: WeekSeen, volumes: Volumes, units: Units) -> Words:
    cap = volumes.strict()
    if week.mm > cap.mm * (1 + volumes.rails.tolerance):
        yield (
            "weekly_rise",
            f"{_far(week.mm, units)} after {_far(cap.base, units)}{_percent(week.mm, cap.base, 'more')}"
            f" ({_far(cap.mm, units)} would keep the guard rail)",
        )


def _single_runs(week: WeekSeen, runs: LongRuns, rails: Rails, units: Units) -> Words:
    # Each by its own thirty days: of two as long, only the later may have lost what it was built on.
    safe = runs.safe(week.first_day)
    seen = ((run, runs.strict(run.day, week.first_day)) for run in week.training if run.mm > safe)
    furthest = max(seen, key=lambda pair: (pair[0].mm - pair[1].mm, pair[0].mm), default=None)
    if furthest is None:
        return
    longest, cap = furthest
    if longest.mm > cap.mm * (1 + rails.tolerance):
        yield (
            "long_rise",
            f"{_name(longest)} {_far(longest.mm, units)} after {_far(cap.base, units)} at most in the 30 days before"
            f"{_percent(longest.mm, cap.base, 'longer')}",
        )
    for run in week.training:
        if run.s > rails.longest_s + 60:
            guard = _clock(rails.longest_s)
            yield ("longest_s", f"{_name(run)} takes {_clock(run.s)}; the guard rail is {guard}")


def _name(run: RunSeen) -> str:
    return "long run" if run.role == "long" else "longest run"


def _shares(week: WeekSeen, rails: Rails, units: Units) -> Words:
    total = week.mm
    long = max((run.mm for run in week.training if run.role == "long"), default=0)
    hard = sum(run.hard_mm for run in week.training)
    days = len({run.day for run in week.training})
    if week.kind == "race" or not total:
        return
    most = rails.long_share(days)
    if long > (most + SHARE_SLACK) * total:
        yield (
            "long_share",
            f"the long run is {100 * long // total} % of {days} runs ({_far(total, units)}); the guard rail is"
            f" {int(most * 100)} %",
        )
    if hard > (rails.quality_share + SHARE_SLACK) * total:
        yield (
            "quality_share",
            f"{100 * hard // total} % of the week is hard running; the guard rail is"
            f" {int(rails.quality_share * 100)} %",
        )


def _hard_days(week: WeekSeen, every: Sequence[date], rails: Rails) -> Words:
    last = week.first_day + timedelta(days=6)
    here = [day for day in every if week.first_day <= day <= last]
    if len(here) > rails.max_hard:
        yield ("max_hard", f"{len(here)} hard days; the guard rail is {rails.max_hard}")
    for day, following in pairwise(every):
        if day in here and (following - day).days < rails.gap_days:
            yield ("gap_days", f"hard days on {day:%A} and {following:%A} are too close")


def _taper(week: WeekSeen, before: WeekSeen | None, units: Units) -> Words:
    if before is None or week.kind not in ("taper", "race") or not before.mm:
        return
    if week.mm >= before.mm and before.kind != "race":
        yield (
            "taper",
            f"{_far(week.mm, units)} isn't less than the week before ({_far(before.mm, units)}); a taper falls",
        )


def _far(mm: int, units: Units) -> str:
    """To the tenth: what a plan comes to is not known to the metre."""
    tenth = 100_000 if units == "km" else 160_934.4
    return show_distance(Distance(round(round(mm / tenth) * tenth)), units)


def _percent(mm: int, base: int, word: str) -> str:
    return f" is {round(100 * Fraction(mm) / base) - 100} % {word}" if base else ""


def _clock(seconds: int) -> str:
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60:02d}"
