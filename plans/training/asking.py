"""What effort a session asks for, as one number from 0 to 10, to lay beside the effort that was given afterwards.

A session is remembered by its hardest part: it asks what its hardest running of three minutes or more in all asks,
and one more where it lasts as long as a long run. Common practice, no source; the numbers of the parts stand in
`intensity`. Where nothing lasts three minutes the hardest part counts.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Final

from athletes.running.paces import PaceCard
from plans.training.intensity import HARD_FROM, LONG_FROM_S
from plans.training.profile import Piece, profile
from plans.training.steps import Session

LASTING_S: Final = 180


def effort_asked(session: Session, card: PaceCard) -> int | None:
    """0 to 10; None for a day of rest or a session without running time."""
    return asked_of(profile(session, card))


def asked_of(pieces: tuple[Piece, ...]) -> int | None:
    """The same from the pieces of a session."""
    seconds: dict[int, int] = defaultdict(int)
    for piece in pieces:
        # Strides and drills are quick and not hard: they don't make an easy run a hard one.
        level = piece.effort if piece.hard or piece.effort < HARD_FROM else HARD_FROM - 1
        seconds[level] += piece.seconds
    if not seconds:
        return None
    lasting, reached = 0, max(seconds)
    for level in sorted(seconds, reverse=True):
        lasting += seconds[level]
        if lasting >= LASTING_S:
            reached = level
            break
    longer = 1 if sum(seconds.values()) >= LONG_FROM_S else 0
    return min(10, reached + longer)


def is_hard_asked(asked: int) -> bool:
    """Whether what is asked belongs with the hard sessions of a week."""
    return asked >= HARD_FROM
