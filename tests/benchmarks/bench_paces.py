"""A pace card from one result, beside a plain scipy root-finder on the same equation in the same run.

The aim is under 1 ms at the median on one core; the ratios hold on any machine. Exits with 1 over the aim or
when the two disagree.
"""

import sys
from collections.abc import Callable
from itertools import cycle
from statistics import median
from time import perf_counter
from typing import Any

from scipy.optimize import brentq

from athletes.running.paces import make_card
from athletes.running.performance import (
    Result,
    capacity_of,
    oxygen_cost,
    sustainable_fraction,
    time_at_capacity,
)
from athletes.running.units import FIVE_K, HALF_MARATHON, MARATHON, TEN_K, Distance, Duration

RACES = (FIVE_K, TEN_K, HALF_MARATHON, MARATHON)
RESULTS = [Result(TEN_K, Duration(minutes * 60_000)) for minutes in range(32, 72)]
WEEK = Distance.from_km(50)
AIM_MS = 1.0


def times_by_scipy(result: Result) -> list[float]:
    """Minutes for the four distances, by Brent's method between 1 minute and 12 hours."""
    capacity = capacity_of(result)

    def over(minutes: float, metres: float) -> float:
        return oxygen_cost(metres / minutes) - capacity * sustainable_fraction(minutes)

    return [brentq(over, 1, 720, args=(distance.mm / 1000,), xtol=1e-9) for distance in RACES]


def times_by_ours(result: Result) -> list[float]:
    capacity = capacity_of(result)
    return [time_at_capacity(capacity, distance).ms / 60_000 for distance in RACES]


def median_ms(work: Callable[[Result], Any], rounds: int = 2000) -> float:
    taken = []
    for result, _ in zip(cycle(RESULTS), range(rounds), strict=False):
        start = perf_counter()
        work(result)
        taken.append(1000 * (perf_counter() - start))
    return median(taken)


def main() -> int:
    worst = max(
        abs(ours - theirs) * 60_000
        for result in RESULTS
        for ours, theirs in zip(times_by_ours(result), times_by_scipy(result), strict=True)
    )
    scipy = median_ms(times_by_scipy)
    solver = median_ms(times_by_ours)
    card = median_ms(lambda result: make_card(result, weekly_distance=WEEK))
    print(f"four distances, scipy brentq   {scipy:7.3f} ms   1.00")
    print(f"four distances, our solver     {solver:7.3f} ms   {solver / scipy:.2f}")
    print(f"whole pace card                {card:7.3f} ms   {card / scipy:.2f}   (aim: under {AIM_MS:g} ms)")
    print(f"largest difference of a time   {worst:7.3f} ms   (rounding to whole ms: 0.5)")
    return int(card >= AIM_MS or worst > 0.51)


if __name__ == "__main__":
    sys.exit(main())
