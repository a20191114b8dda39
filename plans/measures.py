"""What a line of shorthand comes to for one pace card, computed once.

A thousand athletes' jobs ask for the same few lines again and again. Answers are kept by the line and by what the
card says (its values as text): a card is never changed, and its row's number means nothing to another database.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.reading import understood
from plans.training import schedule as core
from plans.training.levels import at_level
from plans.training.measuring import measure
from plans.training.sizing import written_in as unit_of

KEPT = 60_000


@dataclass(frozen=True, slots=True)
class Numbers:
    """Low end of the total, the hard running inside, and the levels of its repetitions (quality only).

    The first level's amounts are the middle of the measured range; a session's issue has its own.
    """

    low_mm: int
    low_s: int
    hard_mm: int
    levels: tuple[core.Level, ...] = ()


def card_text(values: Mapping[str, Any]) -> str:
    """A stored card as a key; `card_of_text` reads it back."""
    return json.dumps(values, sort_keys=True)


@lru_cache(maxsize=2_000)
def card_of_text(text: str) -> PaceCard:
    return PaceCard.from_values(json.loads(text))


@lru_cache(maxsize=2_000)
def easy_s_per_km(card: str) -> int:
    return round(card_of_text(card).ranges["easy"].mid.s_per_km)


@lru_cache(maxsize=KEPT)
def numbers_of(text: str, card: str, units: Units, quality: bool) -> Numbers | None:
    """None for free text that a coach kept as such."""
    steps = understood(text)
    if steps is None:
        return None
    paces = card_of_text(card)
    whole = measure(steps, paces, units)
    levels = []
    for share in (core.FULL, core.EIGHTY, core.SIXTY) if quality else ():
        m = whole if share == 1 else measure(at_level(steps, share), paces, units)
        levels.append(core.Level(share, sum(m.total_mm) // 2, sum(m.total_s) // 2, sum(m.hard_mm) // 2))
    return Numbers(whole.total_mm[0], whole.total_s[0], sum(whole.hard_mm) // 2, tuple(levels))


@lru_cache(maxsize=20_000)
def written_in(text: str) -> core.WrittenIn:
    """Whether the coach wrote the session in time or in distance."""
    steps = understood(text)
    return "time" if steps is not None and unit_of(steps) == "s" else "distance"


def totals(text: str, card: PaceCard | None, units: Units) -> tuple[int, int] | None:
    """The middle of a line's distance (mm) and time (s), as it is planned; None for free text."""
    steps = understood(text)
    if steps is None or card is None:
        return None
    whole = measure(steps, card, units)
    return sum(whole.total_mm) // 2, sum(whole.total_s) // 2
