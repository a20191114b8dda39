"""What a session is: a frozen tree of steps.

Rule 1: the tree says what the coach wrote, nothing about who runs it. Paces, totals and words
        for one athlete are computed from the tree and a pace card (`measuring`, `describing`).
Rule 2: amounts are whole millimetres or whole seconds, each a (low, high) pair; one value is a
        pair of equals. The unit the coach wrote stays with the amount, so that it reads back.
Rule 3: a tree that `parse` can't give is not built: `write` and `parse` are each other's inverse.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

Unit = Literal["m", "km", "mi", "s", "min", "h"]
DISTANCE_UNITS: dict[str, int] = {"m": 1_000, "km": 1_000_000, "mi": 1_609_344}
TIME_UNITS: dict[str, int] = {"s": 1, "min": 60, "h": 3600}

Manner = Literal[
    "easy",
    "recovery",
    "long",
    "warm-up",
    "cool-down",
    "steady",
    "tempo",
    "hard",
    "fast",
    "strides",
    "hill",
    "trial",
    "drills",
    "float",
    "jog",
    "walk",
    "rest",
]
RaceName = Literal["5K", "10K", "HM", "MP", "goal"]
Relative = Literal["equal", "back"]


@dataclass(frozen=True, slots=True)
class Extent:
    """How much: `low` to `high` in mm (units m, km, mi) or in s (units s, min, h)."""

    low: int
    high: int
    unit: Unit

    def __post_init__(self) -> None:
        if not 0 < self.low <= self.high:
            raise ValueError(
                f"an amount goes from a smaller to a larger number, not {self.low} to {self.high}"
            )

    @property
    def is_distance(self) -> bool:
        return self.unit in DISTANCE_UNITS


@dataclass(frozen=True, slots=True)
class Shift:
    """So many seconds per km or mile slower (+) or faster (-) than a race pace."""

    seconds: int
    per: Literal["km", "mi"]


@dataclass(frozen=True, slots=True)
class RacePace:
    race: RaceName
    shift: Shift | None = None


@dataclass(frozen=True, slots=True)
class BetweenPaces:
    """Anywhere between two race paces, in the order the coach wrote them."""

    first: RaceName
    second: RaceName


@dataclass(frozen=True, slots=True)
class FixedPace:
    """A pace in seconds per km or mile, `low` the faster."""

    low: int
    high: int
    per: Literal["km", "mi"]


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard it should feel, 0 to 10."""

    low: int
    high: int


@dataclass(frozen=True, slots=True)
class HeartRate:
    """Beats a minute, or per cent of the athlete's maximum."""

    low: int
    high: int
    unit: Literal["bpm", "%"]


@dataclass(frozen=True, slots=True)
class Feel:
    """A manner in the place of a pace: where a progression starts or ends, or "long run @ steady"."""

    manner: Manner


Target = RacePace | BetweenPaces | FixedPace | Effort | HeartRate | Feel


@dataclass(frozen=True, slots=True)
class Step:
    """One thing done in one manner.

    `extent` is None where the coach gave none (strides, drills, "jog"), "equal" for a recovery as
    long as the work before it, "back" for one that goes back to where the work began.
    `manners` holds none, one, or two where the athlete may choose ("walk or jog").
    """

    extent: Extent | Relative | None = None
    manners: tuple[Manner, ...] = ()
    target: Target | None = None


@dataclass(frozen=True, slots=True)
class Repeats:
    """`body` done `low` to `high` times, `recovery` between them (so once less often)."""

    low: int
    high: int
    body: tuple[Part, ...]
    recovery: Step | None = None


@dataclass(frozen=True, slots=True)
class Ladder:
    """Pieces of rising and falling size in one manner, `recovery` between them."""

    rungs: tuple[Extent, ...]
    manners: tuple[Manner, ...] = ()
    target: Target | None = None
    recovery: Step | None = None


@dataclass(frozen=True, slots=True)
class RunWith:
    """A run that holds something: its last part in another manner, or repeats on the way.

    The amount of `outer` is the whole, `inner` included. A Step inside is the run's end.
    """

    outer: Step
    inner: Step | Repeats


@dataclass(frozen=True, slots=True)
class Change:
    """So much faster (-) or slower (+) after every piece of the run."""

    shift: Shift
    every: Extent


@dataclass(frozen=True, slots=True)
class Progression:
    """A run that gets faster: from one pace by equal changes, or evenly to another."""

    extent: Extent
    start: Target | None = None
    end: Target | None = None
    change: Change | None = None


@dataclass(frozen=True, slots=True)
class Race:
    extent: Extent
    target: Target | None = None


@dataclass(frozen=True, slots=True)
class Other:
    """Training that isn't running; `activity` is a word of the table, or empty."""

    kind: Literal["strength", "cross"]
    extent: Extent | None = None
    activity: str = ""


@dataclass(frozen=True, slots=True)
class Words:
    """What the coach wished to keep as written, counting with the amounts the coach gave."""

    text: str
    distance: Extent | None = None
    time: Extent | None = None
    hard_distance: Extent | None = None
    hard_time: Extent | None = None


Part = Step | Repeats | Ladder | RunWith | Progression | Race | Other | Words


@dataclass(frozen=True, slots=True)
class Session:
    """A day's training. No parts is a day of rest."""

    parts: tuple[Part, ...] = ()
    note: str = ""


def leaves(part: Part) -> Iterator[Part]:
    """Every part below and including this one that holds no other, once each, recoveries too."""
    match part:
        case Repeats(body=body, recovery=recovery):
            for inner in body:
                yield from leaves(inner)
            if recovery:
                yield recovery
        case RunWith(outer=outer, inner=inside):
            yield outer
            yield from leaves(inside)
        case Ladder(recovery=recovery):
            yield part
            if recovery:
                yield recovery
        case _:
            yield part
