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
SHARE_SLACK = Fraction(1, 100)  # what rounding to whole kilometres may add to a share
LEVEL_FROM = (Fraction(9, 10), Fraction(8, 10), Fraction(7, 10))  # a size less of quality under each of these


@dataclass(frozen=True)
class Limits:
    """What holds for one week: its cap, and the largest share for its long run and for hard running."""

    cap: int
    long_share: Fraction
    hard_share: Fraction


def limits_of(week: Week, cap: int, rails: Rails) -> Limits:
    """The shares are the rails', or what the plan itself writes."""
    planned = week.planned_mm or 1
    return Limits(
        cap,
        max(rails.long_share(len(week.training)), Fraction(week.planned_long_mm, planned)) + SHARE_SLACK,
        max(rails.quality_share, Fraction(week.planned_hard_mm, planned)) + SHARE_SLACK,
    )


def fit_week(week: Week, cap: int, rails: Rails) -> None:
    """Chooses a size for every run of the week so that it keeps the cap and the shares.

    Each run's `top` is the largest it may have on its day; runs without a day have been taken out before.
    """
    runs = week.training
    for run in runs:
        run.chosen = run.top
    week.held = False
    if not runs or _keeps(runs, limits_of(week, cap, rails)):
        return
    wished = sum(run.largest_allowed.mm for run in runs)
    week.held = wished > cap
    share = min(Fraction(1), Fraction(cap, wished or 1))
    for _ in _steps_down(runs, share):
        limits = limits_of(week, cap, rails)
        if week.training and _allot(week.training, limits, share):
            _give_back(week.training, limits)
            return


def _keeps(runs: list[Run], limits: Limits) -> bool:
    sizes = [run.size for run in runs]
    total = sum(size.mm for size in sizes)
    longest = max((run.size.mm for run in runs if run.is_long), default=0)
    return (
        total <= limits.cap
        and longest <= part(limits.long_share, total)
        and sum(size.hard_mm for size in sizes) <= part(limits.hard_share, total)
    )


def _steps_down(runs: list[Run], share: Fraction) -> Iterator[None]:
    """Ways for the week to give way, one further at each step; the last leaves everything at its smallest."""
    qualities = sorted((r for r in runs if r.is_quality), key=lambda r: r.session.priority == "key")
    for run in qualities:
        run.chosen = min(run.smallest, run.top + sum(share < limit for limit in LEVEL_FROM))
    yield
    for run in qualities:
        while run.can_shrink:
            run.chosen += 1
            yield
    for run in qualities:
        run.eased, run.why = True, run.why or "cap"
        run.top = run.within(run.options[0].mm, run.limit_s) or 0
        run.chosen = run.top
        yield
    easies = [run for run in runs if not run.is_long]
    for run in sorted(easies, key=lambda r: (r.session.priority == "key", r.largest_allowed.mm)):
        if sum(not other.gone for other in runs) > 1:
            run.gone, run.why = True, "cap"
            yield
    for run in runs:
        run.chosen = run.smallest
    yield


def _allot(runs: list[Run], limits: Limits, share: Fraction) -> bool:
    """Sizes for the easy runs and the long run beside the quality as it is; False if the week can't hold it."""
    longs = [run for run in runs if run.is_long]
    easies = [run for run in runs if not run.is_long and not run.is_quality]
    left = limits.cap - sum(run.size.mm for run in runs if run.is_quality)
    least = sum(run.options[-1].mm for run in easies)
    for run in longs:
        found = run.within(min(part(limits.long_share, limits.cap), left - least), run.limit_s)
        fair = run.within(part(share * FAIR, run.full.mm), None)
        if found is None or found > max(run.top, run.smallest if fair is None else fair):
            return False
        run.chosen = max(run.top, found)
        left -= run.size.mm
    if left < least:
        return False
    wished = sum(run.largest_allowed.mm for run in easies)
    for run in easies:
        mm = run.largest_allowed.mm
        found = run.within(min(mm, scaled(mm, left, wished)), None)
        run.chosen = run.smallest if found is None else max(run.top, found)
    _shorten(longs, runs, limits)
    return _keeps(runs, limits)


def _shorten(longs: list[Run], runs: list[Run], limits: Limits) -> None:
    """The long run falls until its share of what the week really holds is kept."""
    for run in longs:
        while run.can_shrink and run.size.mm > part(limits.long_share, sum(r.size.mm for r in runs)):
            run.chosen += 1


def _give_back(runs: list[Run], limits: Limits) -> None:
    """Steps up while everything is kept: quality, easy runs in turn (the one furthest down first), long run."""

    def turn(run: Run) -> tuple[int, Fraction]:
        order = 2 if run.is_long else 0 if run.is_quality else 1
        return order, Fraction(run.size.mm, run.largest_allowed.mm)

    while True:
        for run in sorted((run for run in runs if run.chosen > run.top), key=turn):
            run.chosen -= 1
            if _keeps(runs, limits):
                break
            run.chosen += 1
        else:
            return
