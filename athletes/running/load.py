"""Training load: session-RPE, week's totals, longest runs, single-run spikes, recent ratios.

Law of this file: a day without a log is unknown (None), not zero, and what needs it isn't computed. A ratio
describes and doesn't predict. Nothing here is a colour or a limit; limits are the guard rails'.
"""

import datetime
from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import fmean, stdev
from typing import Final, Literal

from athletes.running.units import Distance, Duration


class LoadError(ValueError):
    """An effort or a number of days that can't be; the message says what is possible."""


@dataclass(frozen=True, slots=True)
class Run:
    """A run as logged. `duration` is None where no time was kept."""

    day: datetime.date
    distance: Distance
    duration: Duration | None = None


# Foster C, et al. A new approach to monitoring exercise training. J Strength Cond Res 2001;15(1):109-115. [seen]


def session_load(effort: int, duration: Duration) -> Fraction:
    """Effort (0 to 10) times minutes, in arbitrary units. A day is the sum of its sessions, a rest day 0."""
    if not 0 <= effort <= 10:
        raise LoadError(f"Effort is a number from 0 to 10, and {effort} was given.")
    return effort * duration.min


@dataclass(frozen=True, slots=True)
class WeekLoad:
    """A week of daily loads. `total` is that of the known days.

    `monotony` is the mean of the seven days over their standard deviation (sample, n - 1: the source doesn't
    say which), `strain` is total times monotony. Both are None while a day is unknown, and when all seven
    days are alike, where the quotient means nothing.
    """

    total: Fraction
    unknown_days: int
    monotony: float | None
    strain: float | None


def week_load(days: Sequence[Fraction | int | None]) -> WeekLoad:
    """The load of exactly seven days, None for a day without a log."""
    if len(days) != 7:
        raise LoadError(f"A week has seven days, and {len(days)} were given.")
    known = [Fraction(day) for day in days if day is not None]
    total, unknown = sum(known, Fraction(0)), 7 - len(known)
    spread = 0.0 if unknown else stdev(float(day) for day in known)
    if not spread:
        return WeekLoad(total, unknown, None, None)
    monotony = fmean(float(day) for day in known) / spread
    return WeekLoad(total, 0, monotony, float(total) * monotony)


@dataclass(frozen=True, slots=True)
class WeekTotal:
    """Distance and time of the runs of one week; `untimed` of its runs kept no time."""

    first_day: datetime.date
    distance: Distance
    duration: Duration
    runs: int
    untimed: int


def weekly_totals(runs: Iterable[Run], first_weekday: int = 0) -> tuple[WeekTotal, ...]:
    """Every week from the first run's to the last run's, empty ones too; weeks begin on `first_weekday`
    (0 Monday to 6 Sunday)."""
    weeks: dict[datetime.date, list[Run]] = {}
    for run in runs:
        first_day = run.day - datetime.timedelta(days=(run.day.weekday() - first_weekday) % 7)
        weeks.setdefault(first_day, []).append(run)
    if not weeks:
        return ()
    count = (max(weeks) - min(weeks)).days // 7 + 1
    days = [min(weeks) + datetime.timedelta(weeks=number) for number in range(count)]
    return tuple(_week_total(day, weeks.get(day, [])) for day in days)


def _week_total(first_day: datetime.date, runs: Sequence[Run]) -> WeekTotal:
    timed = [run.duration.ms for run in runs if run.duration is not None]
    distance = Distance(sum(run.distance.mm for run in runs))
    return WeekTotal(first_day, distance, Duration(sum(timed)), len(runs), len(runs) - len(timed))


# Frandsen JSB, et al. Br J Sports Med 2025;59(17):1203-1210. DOI 10.1136/bjsports-2024-109380. [seen]

SPIKE_DAYS: Final = 30
Spike = Literal["reference", "small", "moderate", "large", "unknown"]
# Adjusted rate of injury against the reference, with its 95 % interval. The moderate class is no safer than
# the small one: the intervals overlap.
SPIKE_RATES: Final[Mapping[Spike, tuple[float, float, float]]] = {
    "small": (1.64, 1.31, 2.05),
    "moderate": (1.52, 1.16, 2.00),
    "large": (2.28, 1.50, 3.48),
}


def longest_before(runs: Iterable[Run], day: datetime.date, days: int = SPIKE_DAYS) -> Distance | None:
    """The longest run of the `days` days before `day`, that day left out; None without one."""
    first = day - datetime.timedelta(days=days)
    return max((run.distance for run in runs if first <= run.day < day), default=None)


def spike(distance: Distance, longest: Distance | None) -> Spike:
    """How a run compares with the longest of the 30 days before it.

    Up to 10 % longer is the reference, up to 30 % small, up to 100 % moderate, beyond large. With no run in
    30 days the study defines nothing: "unknown" (own rule).
    """
    if longest is None or longest.mm == 0:
        return "unknown"
    if 10 * distance.mm <= 11 * longest.mm:
        return "reference"
    if 10 * distance.mm <= 13 * longest.mm:
        return "small"
    return "moderate" if distance.mm <= 2 * longest.mm else "large"


def logged_spikes(runs: Iterable[Run]) -> tuple[tuple[Run, Spike], ...]:
    """Each run by day, with its spike class, in one pass: the window holds only runs that can be longest."""
    window: deque[Run] = deque()
    today: list[Run] = []
    classes = []
    for run in sorted(runs, key=lambda one: one.day):
        if today and today[0].day != run.day:
            for earlier in today:
                while window and window[-1].distance <= earlier.distance:
                    window.pop()
                window.append(earlier)
            today = []
        while window and window[0].day < run.day - datetime.timedelta(days=SPIKE_DAYS):
            window.popleft()
        classes.append((run, spike(run.distance, window[0].distance if window else None)))
        today.append(run)
    return tuple(classes)


RATIO_DAYS: Final = 28
RATIO_SENTENCE: Final = "This describes the recent change in load; it does not predict injury."


def _known(days: Sequence[Fraction | int | None]) -> list[float] | None:
    """The days as numbers, or None with fewer than 28 of them or one unknown."""
    known = [float(day) for day in days if day is not None]
    return known if len(days) >= RATIO_DAYS and len(known) == len(days) else None


def rolling_ratio(days: Sequence[Fraction | int | None], *, coupled: bool = True) -> float | None:
    """Mean of the last 7 days over that of the last 28, or, not `coupled`, over that of the 21 before.

    Days in order, load or distance. None before there are 28 known days, and when the divisor is zero. Shown
    only with `RATIO_SENTENCE`.
    """
    known = _known(days[-RATIO_DAYS:])
    if known is None:
        return None
    base = fmean(known if coupled else known[:-7])
    return fmean(known[-7:]) / base if base else None


def weighted_ratio(days: Sequence[Fraction | int | None]) -> float | None:
    """Exponentially weighted mean with N = 7 over that with N = 28, lambda = 2/(N + 1), begun at the first day.

    Williams S, West S, Cross MJ, Stokes KA. Br J Sports Med 2017;51(3):209-210. [seen] None as above, an
    unknown day anywhere included. Shown only with `RATIO_SENTENCE`.
    """
    known = _known(days)
    if known is None:
        return None
    acute, chronic = known[0], known[0]
    for load in known[1:]:
        acute += (load - acute) * 2 / 8
        chronic += (load - chronic) * 2 / 29
    return acute / chronic if chronic else None
