"""The plan of a race: one target, spread over the course by effort, in splits that sum exactly to it.

Law of this file: time is dealt out by weight, in whole numbers. The weight of a stretch is its length times what
its gradient costs at equal effort (Minetti 2002, downhill damped: `athletes.running.gradient.time_factor`) times
what the shape asks there. Marks are rounded up to the second along the way, so nothing drifts, no mark asks for
more than its share, and the last mark is the target itself.

Even by effort, and the opening no faster than goal pace: Deaner 2015 finds the usual recreational second half 12 to
16 % slower. No trial shows a negative split to be best for recreational runners, so none is claimed.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Final, Literal

from athletes.running.course import Course, flat_course
from athletes.running.gradient import time_factor
from athletes.running.units import MM_PER_KM, MM_PER_MILE, Distance, Duration, Pace, Units

ShapeKey = Literal["even", "patient", "building"]
OPENING_MM: Final = 5_000_000
OPENING_SHARE: Final = 4  # of a short race the opening is the first quarter (our own)
NEAR_HALF: Final = 8  # of a race an eighth to each side of half-way (our own)
SCALE: Final = 1_000_000
LONGEST_STRETCH_MM: Final = 250_000
SHORTEST_TARGET: Final = Duration.from_min(3)
LONGEST_TARGET: Final = Duration.from_min(12 * 60)


class RaceDayError(ValueError):
    """No plan can be made of this; the message says why and what is possible."""


@dataclass(frozen=True, slots=True)
class Shape:
    """How effort is spread: thousandths of time more (or less) at points given in hundredths of the way."""

    key: ShapeKey
    title: str
    words: str
    points: tuple[tuple[int, int], ...]


# Our own (common practice, no source): small departures only, since large ones are what goes wrong on the day.
SHAPES: Final[tuple[Shape, ...]] = (
    Shape("even", "Even by effort", "The same effort from the start to the line.", ((0, 0), (100, 0))),
    Shape(
        "patient",
        "Patient start",
        "The first tenth 2 % slower, made up little by little over the rest.",
        ((0, 20), (10, 20), (12, 0), (100, 0)),
    ),
    Shape(
        "building",
        "Building",
        "From 1.5 % slower at the start to 1.5 % faster at the end: for who has run this distance before.",
        ((0, 15), (100, -15)),
    ),
)


def shape_of(key: str) -> Shape:
    """Raises RaceDayError for a name that is none."""
    found = next((one for one in SHAPES if one.key == key), None)
    if found is None:
        raise RaceDayError(f"“{key}” is no shape; {', '.join(one.key for one in SHAPES)} are possible.")
    return found


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on the course and the time since the start, in mm and ms."""

    mm: int
    ms: int


@dataclass(frozen=True, slots=True)
class PlannedSplit:
    """One km or mile, the last one perhaps shorter: where it ends, how long it takes, the clock there, its hills."""

    end: Distance
    length: Distance
    duration: Duration
    total: Duration
    up_mm: int
    down_mm: int

    @property
    def pace(self) -> Pace:
        return Pace(self.length, self.duration)


@dataclass(frozen=True)
class RacePlan:
    """The splits of one target on one course. `opening` is how far goal pace is the fastest allowed."""

    target: Duration
    distance: Distance
    shape: Shape
    units: Units
    course: Course
    splits: tuple[PlannedSplit, ...]
    opening: Distance
    held_back: bool
    _fine: tuple[Mark, ...]

    @property
    def pace(self) -> Pace:
        """The pace of the whole: goal pace."""
        return Pace(self.distance, self.target)

    def at(self, mm: int) -> Duration:
        """The clock at a place, to the second, rounded up; the target at the line."""
        found = _between(self._fine, min(mm, self.distance.mm))
        return Duration(-(-found.numerator // (found.denominator * 1000)) * 1000)

    @property
    def halves(self) -> tuple[Duration, Duration]:
        first = self.at(self.distance.mm // 2)
        return first, Duration(self.target.ms - first.ms)

    def marks(self, every_mm: int = OPENING_MM) -> tuple[Mark, ...]:
        """The clock at every so many mm, half-way, and at the line."""
        places = {*range(every_mm, self.distance.mm, every_mm), self.distance.mm // 2, self.distance.mm}
        return tuple(Mark(mm, self.at(mm).ms) for mm in sorted(places))


def _between(marks: Sequence[Mark], mm: int) -> Fraction:
    """The time at a place, in ms, exactly between the marks around it."""
    at = bisect_left(marks, mm, key=lambda mark: mark.mm)
    if marks[at].mm == mm:
        return Fraction(marks[at].ms)
    a, b = marks[at - 1], marks[at]
    return a.ms + Fraction((b.ms - a.ms) * (mm - a.mm), b.mm - a.mm)


def make_plan(
    target: Duration,
    distance: Distance,
    *,
    course: Course | None = None,
    shape: ShapeKey = "even",
    units: Units = "km",
) -> RacePlan:
    """Deal `target` out over the course; without one the course is flat.

    `course` must be as long as `distance` (see `Course.fitted`). Raises RaceDayError for a target that is no whole
    number of seconds, that nobody runs, or for a course of another length.
    """
    if target.ms % 1000:
        raise RaceDayError("A target is given to the second.")
    if not SHORTEST_TARGET <= target <= LONGEST_TARGET:
        raise RaceDayError("A target from 3 minutes to 12 hours is possible.")
    course = course or flat_course(distance)
    if course.distance != distance:
        raise RaceDayError("The course is not as long as the race.")
    chosen = shape_of(shape)
    opening = min(OPENING_MM, distance.mm // OPENING_SHARE)
    size = MM_PER_MILE if units == "mi" else MM_PER_KM
    ends = [*range(size, distance.mm, size), distance.mm]
    stretches = _weighted(course, chosen, {*ends, opening, distance.mm // 2})
    fine, held_back = _dealt(stretches, target, opening, distance.mm)
    plan = RacePlan(target, distance, chosen, units, course, (), Distance(opening), held_back, fine)
    return RacePlan(
        target, distance, chosen, units, course, _splits(plan, ends), Distance(opening), held_back, fine
    )


def _weighted(course: Course, shape: Shape, places: set[int]) -> list[tuple[int, Fraction]]:
    """(end in mm, weight) of each stretch; every place in `places` ends one."""
    whole = course.distance.mm
    fine = range(LONGEST_STRETCH_MM, whole, LONGEST_STRETCH_MM)
    ends = sorted({p for p in places if 0 < p <= whole} | {p.mm for p in course.points[1:]} | set(fine))
    made, before, height = [], 0, course.height_at(0)
    for end in ends:
        now = course.height_at(end)
        length = end - before
        cost = round(time_factor((now - height) / length) * SCALE)
        asked = 1000 + _shaped(shape, before + end, 2 * whole)
        made.append((end, length * cost * asked))
        before, height = end, now
    return made


def _shaped(shape: Shape, part: int, whole: int) -> Fraction:
    """Thousandths of time asked for at part/whole of the way."""
    at = Fraction(100 * part, whole)
    for (a, va), (b, vb) in pairwise(shape.points):
        if at <= b:
            return va + (vb - va) * (at - a) / (b - a)
    return Fraction(shape.points[-1][1])


def _dealt(
    stretches: list[tuple[int, Fraction]], target: Duration, opening: int, whole: int
) -> tuple[tuple[Mark, ...], bool]:
    """Marks in ms along the way. If the opening came out faster than goal pace, it is held to it."""
    total = sum((weight for _, weight in stretches), Fraction(0))
    first = sum((weight for end, weight in stretches if end <= opening), Fraction(0))
    # Goal pace over the opening, rounded up: the same place the marks would round to.
    goal_ms = -(-target.ms * opening // whole)
    held_back = (
        target.ms * first < goal_ms * total and target.ms * first * whole < target.ms * opening * total
    )
    opening_ms = Fraction(goal_ms) if held_back else Fraction(target.ms * first, total)
    marks, done = [Mark(0, 0)], Fraction(0)
    for end, weight in stretches:
        done += weight
        if end <= opening:
            ms = opening_ms * done / first
        else:
            ms = opening_ms + (target.ms - opening_ms) * (done - first) / (total - first)
        marks.append(Mark(end, -(-ms.numerator // ms.denominator)))
    return tuple(marks), held_back


def _splits(plan: RacePlan, ends: Sequence[int]) -> tuple[PlannedSplit, ...]:
    made, before, clock = [], 0, Duration(0)
    for end in ends:
        total = plan.at(end)
        up, down = plan.course.hills(before, end)
        made.append(
            PlannedSplit(
                Distance(end), Distance(end - before), Duration(total.ms - clock.ms), total, up, down
            )
        )
        before, clock = end, total
    return tuple(made)


def half_times(target: Duration, change: Fraction) -> tuple[Duration, Duration]:
    """Both halves of `target` when the second is slower by `change` (0.05 is 5 %), to the second.

    h1 = T / (2 + p).
    """
    first = Duration.from_s(round(target.s / (2 + change)))
    return first, Duration(target.ms - first.ms)


@dataclass(frozen=True, slots=True)
class Run:
    """A part of a race as it was run: between two marks."""

    start_mm: int
    end_mm: int
    ms: int

    @property
    def pace(self) -> Pace:
        return Pace(Distance(self.end_mm - self.start_mm), Duration(self.ms))


def parts(marks: Sequence[Mark]) -> tuple[Run, ...]:
    """What was run between the marks, the first from the start."""
    return tuple(Run(a.mm, b.mm, b.ms - a.ms) for a, b in pairwise((Mark(0, 0), *marks)))


def check_marks(marks: Sequence[Mark], distance: Distance) -> None:
    """Raises RaceDayError where splits can't be: out of order, beyond the line, or faster than anyone runs."""
    if not marks:
        raise RaceDayError("Give at least the finishing time.")
    for before, now in pairwise((Mark(0, 0), *marks)):
        if now.mm <= before.mm or now.ms <= before.ms:
            raise RaceDayError("Each split is farther along and later than the one before.")
        # 1000 m in 2:11.96 is the record (value from memory): nobody passes marks faster.
        if (now.ms - before.ms) * MM_PER_KM < 125_000 * (now.mm - before.mm):
            raise RaceDayError("One of the splits is faster than anyone runs. Are hours and minutes right?")
    if marks[-1].mm != distance.mm:
        raise RaceDayError("The last split is the finish.")


@dataclass(frozen=True, slots=True)
class Compared:
    """One part of the race beside its plan: `late_ms` is behind the plan at its end, negative ahead of it."""

    run: Run
    planned_ms: int
    clock_ms: int
    late_ms: int


def compare(plan: RacePlan, marks: Sequence[Mark]) -> tuple[Compared, ...]:
    """Every part as it was run beside the plan over the same ground."""
    made, before = [], 0
    for run, mark in zip(parts(marks), marks, strict=True):
        clock = plan.at(run.end_mm).ms
        made.append(Compared(run, clock - before, mark.ms, mark.ms - clock))
        before = clock
    return tuple(made)


def second_half_change(marks: Sequence[Mark], distance: Distance) -> Fraction | None:
    """How much slower the second half was: 0.05 is 5 %, negative is a faster second half.

    None without a mark near half-way: what lies between two far marks is a guess.
    """
    near = distance.mm // NEAR_HALF
    if not any(abs(mark.mm - distance.mm // 2) <= near for mark in marks):
        return None
    half = _between((Mark(0, 0), *marks), distance.mm // 2)
    return (marks[-1].ms - half) / half - 1
