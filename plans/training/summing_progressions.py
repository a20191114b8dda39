"""What a run that grows faster comes to: its pace rises evenly, or by a step after each piece."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from athletes.running.paces import PaceCard
from plans.training.intensity import HARD_FROM, SECONDS_PER_EFFORT, progression_efforts, seconds_per_km
from plans.training.speeds import Speed, target_speed
from plans.training.steps import Extent, Progression, RacePace
from plans.training.sums import Sums, covered

MOST_PIECES: Final = 500


def progression_sums(run: Progression, card: PaceCard) -> Sums:
    """The whole run at its mean pace, or piece by piece; hard from where its effort is."""
    first, last = progression_efforts(run)
    start = target_speed(run.start, card) if run.start else target_speed(None, card)
    if run.change and start:
        shift = seconds_per_km(run.change.shift)
        ends = [_stepped(run, start, shift, amount) for amount in (run.extent.low, run.extent.high)]
        sums = Sums((ends[0].mm[0], ends[1].mm[1]), (ends[0].ms[0], ends[1].ms[1]))
    else:
        end = target_speed(run.end or RacePace("MP"), card)
        middle = start.between(end) if start and end else start
        sums = covered(run.extent, middle)
    if max(first, last) < HARD_FROM:
        return sums
    return sums.hardened(Fraction(1) if first >= HARD_FROM else _hard_share(run, first, last))


def _hard_share(run: Progression, first: int, last: int) -> Fraction:
    """The share of the run from which it is hard, effort rising evenly (or a step after each piece)."""
    change = run.change
    if change and change.every.is_distance == run.extent.is_distance:
        needed = Fraction((HARD_FROM - first) * SECONDS_PER_EFFORT) / -seconds_per_km(change.shift)
        pieces = -(-needed.numerator // needed.denominator)
        return max(Fraction(0), 1 - Fraction(pieces * change.every.low, run.extent.high))
    return Fraction(last - HARD_FROM + 1, last - first + 1)


def _stepped(run: Progression, start: Speed, shift: Fraction, amount: int) -> Sums:
    """Piece after piece, each so much faster or slower than the one before; the last may be short."""
    assert run.change
    every, total, left, pace = run.change.every, Sums(), amount, start
    for _ in range(MOST_PIECES):
        if left <= 0:
            break
        piece = every.low
        if every.is_distance != run.extent.is_distance:
            piece = round(
                every.low * pace.middle / 1_000_000
                if every.is_distance
                else every.low * 1_000_000 / pace.middle
            )
        piece = min(left, max(1, piece))
        total += covered(Extent(piece, piece, run.extent.unit), pace)
        left -= piece
        pace = pace.shifted(shift)
    return total + (covered(Extent(left, left, run.extent.unit), pace) if left > 0 else Sums())
