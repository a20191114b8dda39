"""Making a week fit its cap: the same proportions as written, only smaller.

Order of giving way: easy runs shrink with the week; the long run keeps what its share allows; quality loses
repetitions, supporting before key; then quality is run easy; last, the shortest easy runs are left out. What is
left of the cap afterwards is given back: quality first, then easy runs, then the long run.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from plans.training.fitting_caps import part, scaled
from plans.training.fitting_runs import Run, Week
from plans.training.guardrails import Rails

FAIR = Fraction(4, 5)  # a long run falls below its share of the week's cut by no more than this
LEVEL_FROM = (Fraction(9, 10), Fraction(7, 10))  # of the week as written: full quality, 4/5


@dataclass(frozen=True)
class Limits:
    """What holds for one week: its cap, and the largest share for its long run and for hard running."""

    cap: int
    long_share: Fraction
    hard_share: Fraction


def limits_of(week: Week, cap: int, rails: Rails) -> Limits:
    """The shares are the rails', or what the plan itself writes."""
    runs = sum(1 for run in week.runs if run.chosen >= 0)
    planned = week.planned_mm or 1
    return Limits(
        cap,
        max(rails.long_share(runs), Fraction(week.planned_long_mm, planned)),
        max(rails.quality_share, Fraction(week.planned_hard_mm, planned)),
    )


def fit_week(week: Week, cap: int, rails: Rails) -> None:
    """Chooses a size for every run of the week so that it keeps the cap and the shares.

    Each run's `top` is the largest it may have on its day; runs without a day have been taken out before.
    """
    runs = [run for run in week.runs if run.role != "race" and run.chosen >= 0]
    if not runs:
        return
    for run in runs:
        run.chosen = run.top
    limits = limits_of(week, cap, rails)
    if _keeps(runs, limits):
        return
    share = min(Fraction(1), Fraction(limits.cap, sum(run.options[run.top].mm for run in runs) or 1))
    for _ in _steps_down(runs, share):
        standing = [run for run in runs if run.chosen >= 0]
        limits = limits_of(week, cap, rails)
        if standing and _allot(standing, limits, share):
            _give_back(standing, limits)
            return


def _keeps(runs: list[Run], limits: Limits) -> bool:
    total = sum(run.mm for run in runs)
    longest = max((run.mm for run in runs if run.is_long), default=0)
    return (
        total <= limits.cap
        and longest <= part(limits.long_share, total)
        and sum(run.hard_mm for run in runs) <= part(limits.hard_share, total)
    )


def _steps_down(runs: list[Run], share: Fraction) -> Iterator[None]:
    """Ways for the week to give way, one further at each step; the last leaves one run at its smallest."""
    qualities = sorted((r for r in runs if r.is_quality), key=lambda r: r.session.priority == "key")
    for run in qualities:
        below = sum(share < limit for limit in LEVEL_FROM)
        run.chosen = max(0, run.top - below)
    yield
    for run in qualities:
        while run.chosen > 0:
            run.chosen -= 1
            yield
    for run in qualities:
        run.eased = True
        run.why = run.why or "cap"
        run.top = run.largest(10**12, run.limit_s)
        run.chosen = run.top
        if run.top >= 0:
            yield
    easies = [run for run in runs if not run.is_long and not run.is_quality]
    for run in sorted(easies, key=lambda r: (r.session.priority == "key", r.options[r.top].mm)):
        if sum(other.chosen >= 0 for other in runs) > 1:
            run.chosen, run.why = -1, "cap"
            yield
    for run in runs:
        run.chosen = min(run.chosen, 0)
    yield


def _allot(runs: list[Run], limits: Limits, share: Fraction) -> bool:
    """Sizes for the easy runs and the long run beside the quality as it is; False if the week can't hold it."""
    longs = [run for run in runs if run.is_long]
    easies = [run for run in runs if not run.is_long and not run.is_quality]
    left = limits.cap - sum(run.mm for run in runs if run.is_quality)
    least = sum(run.options[0].mm for run in easies)
    for run in longs:
        wish = min(part(limits.long_share, limits.cap), left - least)
        found = min(run.top, run.largest(wish, run.limit_s))
        fair = min(run.top, max(0, run.largest(part(share * FAIR, run.full.mm), None)))
        if found < fair:
            return False
        run.chosen = found
        left -= run.mm
    if left < least:
        return False
    wished = sum(run.options[run.top].mm for run in easies)
    for run in easies:
        mm = run.options[run.top].mm
        run.chosen = max(0, min(run.top, run.largest(min(mm, scaled(mm, left, wished)), None)))
    _shorten(longs, runs, limits)
    return _keeps(runs, limits)


def _shorten(longs: list[Run], runs: list[Run], limits: Limits) -> None:
    """The long run falls until its share of what the week really holds is kept."""
    for run in longs:
        while run.chosen > 0 and run.mm > part(limits.long_share, sum(r.mm for r in runs)):
            run.chosen -= 1


def _give_back(runs: list[Run], limits: Limits) -> None:
    """Steps up while everything is kept: quality, easy runs in turn (the one furthest down first), long run."""
    order = {True: 0, False: 1}
    while True:
        wanting = [run for run in runs if run.chosen < run.top]
        wanting.sort(
            key=lambda r: (2 if r.is_long else order[r.is_quality], Fraction(r.mm, r.options[r.top].mm))
        )
        for run in wanting:
            run.chosen += 1
            if _keeps(runs, limits):
                break
            run.chosen -= 1
        else:
            return
