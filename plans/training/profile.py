"""A session as a row of pieces in the order they are run: what a picture of effort over time is drawn from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from athletes.running.paces import PaceCard
from plans.training.intensity import HARD_FROM, RACE_EFFORT, effort, is_hard, progression_efforts
from plans.training.steps import Extent, Ladder, Part, Progression, Race, Repeats, RunWith, Session, Step
from plans.training.summing import recovery_sums, sums_of, unsaid_recovery
from plans.training.sums import Sums, sum_all
from plans.training.writing import is_strides

MOST_PIECES = 400
PROGRESSION_PIECES = 4


@dataclass(frozen=True, slots=True)
class Piece:
    """So many seconds (the middle of the range) at an effort of 0 to 10."""

    seconds: int
    effort: int
    hard: bool = False


def profile(session: Session, card: PaceCard) -> tuple[Piece, ...]:
    """The pieces of a session, at most 400; the upper end of every number of repeats. Empty for a day of rest."""
    found: list[Piece] = []
    for part in session.parts:
        for piece in _pieces(part, card, working=False):
            if piece.seconds > 0:
                found.append(piece)
            if len(found) >= MOST_PIECES:
                return tuple(found)
    return tuple(found)


def _middle(sums: Sums) -> int:
    return (sums.ms[0] + sums.ms[1] + 1000) // 2000


def _pieces(part: Part, card: PaceCard, *, working: bool) -> Iterator[Piece]:
    sums = sums_of(part, card, working=working)
    match part:
        case Step():
            hard = is_hard(part, working=working)
            yield Piece(_middle(sums), effort(part, working=working), hard)
        case Repeats():
            yield from _repeats(part, card)
        case Ladder(rungs, manners, target, recovery):
            for index, rung in enumerate(rungs):
                step = Step(rung, manners, target)
                yield from _pieces(step, card, working=True)
                if recovery and index < len(rungs) - 1:
                    yield _recovery(recovery, sums_of(step, card, working=True), rung, card)
        case RunWith(outer, inner):
            yield from _run_with(outer, inner, _middle(sums), card)
        case Progression():
            first, last = progression_efforts(part)
            for index in range(PROGRESSION_PIECES):
                level = first + round((last - first) * index / (PROGRESSION_PIECES - 1))
                yield Piece(_middle(sums) // PROGRESSION_PIECES, level, level >= HARD_FROM)
        case Race():
            yield Piece(_middle(sums), RACE_EFFORT, True)
        case _:
            yield Piece(_middle(sums), 3, sums.hard_ms[1] > 0)


def _recovery(recovery: Step, work: Sums, size: Extent | None, card: PaceCard) -> Piece:
    return Piece(_middle(recovery_sums(recovery, work, size, card)), effort(recovery, working=False))


def _repeats(part: Repeats, card: PaceCard) -> Iterator[Piece]:
    once = [piece for inner in part.body for piece in _pieces(inner, card, working=True)]
    work = sum_all(sums_of(inner, card, working=True) for inner in part.body)
    only = part.body[0]
    size = only.extent if len(part.body) == 1 and isinstance(only, Step) else None
    recovery = unsaid_recovery(part)
    between = (
        _recovery(recovery, work, size if isinstance(size, Extent) else None, card) if recovery else None
    )
    for index in range(part.high):
        yield from once
        if between and index < part.high - 1:
            yield between


def _run_with(outer: Step, inner: Step | Repeats, whole: int, card: PaceCard) -> Iterator[Piece]:
    """A last part at the end; repeats in the middle; strides at the end, within the whole."""
    inside = list(_pieces(inner, card, working=False))
    left = max(0, whole - sum(piece.seconds for piece in inside))
    around = effort(outer, working=False)
    at_end = isinstance(inner, Step) or is_strides(inner)
    before = left if at_end else left // 2
    yield Piece(before, around)
    yield from inside
    yield Piece(left - before, around)
