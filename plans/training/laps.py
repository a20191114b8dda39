"""Find the planned hard pieces in a recorded run, where they can be told apart; say nothing where they can't.

Common practice, no source: the speeds of a session of repeats fall into two heaps. The border between them is
where the two heaps differ most from each other (Otsu N, IEEE Trans Syst Man Cybern 1979;9(1):62-66, from memory).
What lies above it without a break is a piece. Only as many pieces as were planned, each of about the planned
length, count as found.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from athletes.running.tracks import Sample
from athletes.running.units import Distance, Duration
from plans.training.profile import Piece

GRID_MS: Final = 5_000
SMOOTH: Final = 2  # grid steps on each side: a GPS jitters from second to second
SHORT_BREAK: Final = 2  # grid steps under the border that don't end a piece
CONTRAST: Final = 1.12
AS_LONG: Final = (0.5, 1.8)
LONGEST_MS: Final = 10 * 3_600_000


@dataclass(frozen=True, slots=True)
class Found:
    """One hard piece as run; `planned_s` is how long it was to take."""

    distance: Distance
    duration: Duration
    planned_s: int


def hard_blocks(pieces: Sequence[Piece]) -> tuple[int, ...]:
    """Seconds of each hard piece; what follows one another without a break is one."""
    blocks: list[int] = []
    before = False
    for piece in pieces:
        if piece.hard and before:
            blocks[-1] += piece.seconds
        elif piece.hard:
            blocks.append(piece.seconds)
        before = piece.hard
    return tuple(blocks)


def find_pieces(samples: Sequence[Sample], planned: Sequence[Piece]) -> tuple[Found, ...]:
    """The hard pieces of `planned` in a run, in their order; empty where they can't be told apart."""
    blocks = hard_blocks(planned)
    if not blocks or len(samples) < 2 or samples[-1].ms > LONGEST_MS:
        return ()
    places = _on_grid(samples)
    speeds = _speeds(places)
    border = _border(speeds)
    fast = [speed for speed in speeds if speed > border]
    slow = [speed for speed in speeds if speed <= border]
    if not fast or not slow or sum(fast) / len(fast) < CONTRAST * (sum(slow) / len(slow)):
        return ()
    least = AS_LONG[0] * min(blocks) * 1000 / GRID_MS
    spans = [(a, b) for a, b in _spans([s > border for s in speeds]) if b - a >= least]
    if len(spans) != len(blocks):
        return ()
    found = [
        Found(Distance(round(places[b] - places[a])), Duration((b - a) * GRID_MS), seconds)
        for (a, b), seconds in zip(spans, blocks, strict=True)
    ]
    low, high = AS_LONG
    fits = all(low * f.planned_s * 1000 <= f.duration.ms <= high * f.planned_s * 1000 for f in found)
    return tuple(found) if fits else ()


def _on_grid(samples: Sequence[Sample]) -> list[float]:
    """mm run at every fifth second by the clock."""
    times = [sample.ms for sample in samples]
    places = []
    for ms in range(0, samples[-1].ms + 1, GRID_MS):
        at = min(bisect_right(times, ms), len(samples) - 1)
        a, b = samples[at - 1], samples[at]
        share = (ms - a.ms) / (b.ms - a.ms) if b.ms > a.ms else 0
        places.append(a.mm + min(1, share) * (b.mm - a.mm))
    return places


def _speeds(places: Sequence[float]) -> list[float]:
    last = len(places) - 1
    return [
        (places[min(last, n + 1 + SMOOTH)] - places[max(0, n - SMOOTH)])
        / (min(last, n + 1 + SMOOTH) - max(0, n - SMOOTH))
        for n in range(last)
    ]


def _border(speeds: Sequence[float]) -> float:
    """The speed that parts the two heaps best; 0 without any."""
    ordered = sorted(speeds)
    total, count = sum(ordered), len(ordered)
    best, border, below = 0.0, 0.0, 0.0
    for n in range(1, count):
        below += ordered[n - 1]
        apart = below / n - (total - below) / (count - n)
        if (between := n * (count - n) * apart * apart) > best:
            best, border = between, (ordered[n - 1] + ordered[n]) / 2
    return border


def _spans(above: Sequence[bool]) -> list[tuple[int, int]]:
    """Where it is true, from and to; a short break does not end it."""
    spans: list[tuple[int, int]] = []
    for n, true in enumerate(above):
        if true and spans and n - spans[-1][1] <= SHORT_BREAK:
            spans[-1] = spans[-1][0], n + 1
        elif true:
            spans.append((n, n + 1))
    return spans
