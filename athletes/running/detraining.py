"""What a break costs: a range of loss in aerobic capacity by days without running, and the paces after it.

Coyle EF, et al. J Appl Physiol 1984;57(6):1857-1864 [citation memory]: seven highly trained athletes, tested
up to 84 days after stopping. Mujika I, Padilla S. Sports Med 2000;30(2):79-87 and 30(3):145-154 [seen].
Secondary texts give 7 % at 12 to 21 days, 14 to 16 % at 56 (they disagree), 16 % at 84 [seen, secondary].
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Final

from athletes.running.paces import CardError, PaceCard, make_card, span
from athletes.running.performance import Result, ResultError, capacity_of, time_at_capacity
from athletes.running.units import Distance, Duration, Units

# (days off, per cent lost). 0 up to 5 days is our own; 4 % at 21 and 20 % at 84 and later are the ends of the
# two reviews' ranges [memory]: the less trained lose less at first, those with recent gains lose more.
LEAST: Final = ((5, 0), (21, 4), (56, 14), (84, 16))
MOST: Final = ((5, 0), (12, 7), (56, 16), (84, 20))


@dataclass(frozen=True, slots=True)
class Loss:
    """Per cent of the estimated aerobic capacity lost, from `low` to `high`. The coach decides."""

    days_off: int
    low: Fraction
    high: Fraction

    @property
    def told(self) -> str:
        """One sentence for the coach, with how sure it is."""
        if self.high == 0:
            return f"{self.days_off} {'day' if self.days_off == 1 else 'days'} off cost next to nothing."
        ends = f"{round(self.low)} to {round(self.high)} %"
        sure = (
            "no study here looks past 84 days"
            if self.days_off > 84
            else "studied in few, highly trained athletes"
        )
        return f"{self.days_off} days off usually cost {ends} of the aerobic capacity ({sure})."


def _between(points: Sequence[tuple[int, int]], days: int) -> Fraction:
    """The value at `days` on straight lines between the points, flat outside them."""
    if days <= points[0][0]:
        return Fraction(points[0][1])
    for (from_day, before), (to_day, after) in pairwise(points):
        if days <= to_day:
            return before + Fraction((after - before) * (days - from_day), to_day - from_day)
    return Fraction(points[-1][1])


def loss_after(days_off: int) -> Loss:
    """The loss after so many days without a run. Raises ValueError for a negative number."""
    if days_off < 0:
        raise ValueError(f"Days off can't be negative, and {days_off} was given.")
    return Loss(days_off, _between(LEAST, days_off), _between(MOST, days_off))


def result_after(result: Result, percent: Fraction | int) -> Result:
    """What the result would have been with so many per cent (0 to 50) less aerobic capacity."""
    if not 0 <= percent <= 50:
        raise ValueError(f"A loss of 0 to 50 % is possible, and {percent} % was given.")
    if percent == 0:
        return result
    capacity = capacity_of(result) * float(100 - percent) / 100
    return Result(result.distance, time_at_capacity(capacity, result.distance), result.day)


def card_after_break(
    results: Result | Sequence[Result],
    days_off: int,
    *,
    weekly_distance: Distance | None = None,
    goal: tuple[Distance, Duration] | None = None,
    units: Units = "km",
) -> PaceCard:
    """The card for the first weeks back: from the paces of the least loss to those of the greatest.

    Arguments and errors as `make_card`. A coach who knows the athlete narrows it with `result_after`.
    """
    given = (results,) if isinstance(results, Result) else tuple(results)
    loss = loss_after(days_off)
    before = make_card(given, weekly_distance=weekly_distance, goal=goal, units=units)
    try:
        fitter, weaker = (
            make_card(
                [result_after(one, percent) for one in given],
                weekly_distance=weekly_distance,
                goal=goal,
                units=units,
            )
            for percent in (loss.low, loss.high)
        )
    except (ResultError, CardError) as error:
        raise CardError(
            f"After {days_off} days off {before.origin} is no basis for paces. Run by effort and time, and add "
            f"a new result."
        ) from error
    return span(fitter, weaker, f"{before.origin}, then {loss.told[0].lower()}{loss.told[1:]}")
