"""Effort on 0 to 10: the numbers of session-RPE, with anchor words of our own.

The published scale's wording is licensed; only its numbers are used (sources.md, 6).
"""

from collections.abc import Mapping
from typing import Final

from athletes.running.paces import PaceCard, PaceName

EFFORT_WORDS: Final[tuple[str, ...]] = (
    "standing about",
    "a stroll",
    "loosening up",
    "easy: you could tell a long story",
    "steady: full sentences",
    "brisk: short sentences",
    "working: a few words at a time",
    "tough: one word at a time",
    "racing: no talking",
    "nearly all you have",
    "all you have",
)

# Common practice, no source: what running at each pace feels like when fresh, on the flat, in the cool.
PACE_EFFORTS: Final[Mapping[PaceName, int]] = {"recovery": 2, "easy": 3, "MP": 5, "HM": 6, "10K": 7, "5K": 8}


def effort_at(card: PaceCard, name: PaceName) -> int:
    """The effort, 0 to 10, at which to run a pace of the card; goal pace takes that of the pace nearest to it.

    Raises KeyError for goal pace on a card without one.
    """
    if name != "goal":
        return PACE_EFFORTS[name]
    goal = card.ranges["goal"].mid.s_per_km
    nearest = min(PACE_EFFORTS, key=lambda other: abs(card.ranges[other].mid.s_per_km - goal))
    return PACE_EFFORTS[nearest]
