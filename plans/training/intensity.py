"""How hard a step is, from what the coach wrote alone: effort 0 to 10, hard or not, and a session's likely role.

A step counts as hard from effort 5 on, which is marathon pace. Strides never count: short, relaxed, with full
rests, they belong to easy days. All of it common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final, Literal

from athletes.running.effort import PACE_EFFORTS
from athletes.running.units import MM_PER_KM, MM_PER_MILE
from plans.training.steps import (
    BetweenPaces,
    Effort,
    Extent,
    Feel,
    HeartRate,
    Ladder,
    Manner,
    Other,
    Part,
    Progression,
    Race,
    RaceName,
    RacePace,
    Repeats,
    RunWith,
    Session,
    Shift,
    Step,
    Target,
    Words,
)

Role = Literal["easy", "long", "quality", "race", "strength", "cross", "rest"]

HARD_FROM: Final = 5
ABOVE_EASY: Final = 4  # steady running: not hard, and still not for a day when quality is barred
MANNER_EFFORTS: Final[dict[Manner, int]] = {
    "easy": 3, "recovery": 2, "long": 3, "warm-up": 3, "cool-down": 2, "steady": 4, "tempo": 6, "hard": 8,
    "fast": 9, "strides": 7, "hill": 8, "trial": 9, "drills": 3, "float": 4, "jog": 2, "walk": 1, "rest": 0,
}  # fmt: skip
GENTLE: Final[frozenset[Manner]] = frozenset(
    ("easy", "recovery", "long", "warm-up", "cool-down", "jog", "walk", "rest", "drills", "strides")
)
UNSAID_EFFORT: Final = 8  # "6 x 400 m" without a pace is meant to be quick
EASY_EFFORT: Final = 3
SECONDS_PER_EFFORT: Final = 20  # so many seconds a km make one step of effort, roughly
RACE_EFFORT: Final = 9
# Upper ends, in per cent of the maximum heart rate, of effort 2, 3, 4 and so on.
HEART_EFFORTS: Final = ((70, 2), (79, 3), (83, 4), (87, 5), (90, 6), (94, 7), (97, 8))
# A run of this size is a long run even if the coach didn't call it one.
LONG_FROM_MM, LONG_FROM_S = 18 * MM_PER_KM, 105 * 60


def seconds_per_km(shift: Shift) -> Fraction:
    """A shift in seconds per km, whichever unit it was written in."""
    return Fraction(shift.seconds * MM_PER_KM, MM_PER_MILE) if shift.per == "mi" else Fraction(shift.seconds)


def race_effort(race: RaceName) -> int:
    """Goal pace is taken as effort 6: between marathon and 10K pace, where nearly all goals of a plan lie."""
    return 6 if race == "goal" else PACE_EFFORTS[race]


def target_effort(target: Target | None, *, working: bool) -> int | None:
    """Effort a target asks for; None where only a pace card or a heart rate could tell."""
    match target:
        case RacePace(race, shift):
            slower = round(seconds_per_km(shift) / SECONDS_PER_EFFORT) if shift else 0
            return max(1, min(10, race_effort(race) - slower))
        case BetweenPaces(first, second):
            return round((race_effort(first) + race_effort(second)) / 2)
        case Effort(low, high):
            return (low + high + 1) // 2
        case Feel(manner):
            return MANNER_EFFORTS[manner]
        case HeartRate(low, high, "%"):
            middle = (low + high) // 2
            return next((effort for end, effort in HEART_EFFORTS if middle < end), 9)
        case None:
            return UNSAID_EFFORT if working else EASY_EFFORT
        case _:
            return None


def effort(step: Step | Ladder, *, working: bool) -> int:
    """Effort 0 to 10 of a step; `working` says that it is a piece of repeats or of a ladder."""
    if isinstance(step.target, RacePace | BetweenPaces | Effort | Feel):
        return target_effort(step.target, working=working) or 0
    if step.manners:
        return MANNER_EFFORTS[step.manners[0]]
    found = target_effort(step.target, working=working)
    if found is not None:
        return found
    # A pace in minutes, or beats a minute: in repeats it is work; else take the pace as work, the beats as a lid.
    return (
        UNSAID_EFFORT - 1 if working else (EASY_EFFORT if isinstance(step.target, HeartRate) else HARD_FROM)
    )


def is_hard(step: Step | Ladder, *, working: bool, limit: int = HARD_FROM) -> bool:
    """Whether the step is run at effort `limit` or above; strides and drills never are."""
    if step.manners and step.manners[0] in ("strides", "drills"):
        return False
    return effort(step, working=working) >= limit


def progression_efforts(run: Progression) -> tuple[int, int]:
    """Effort at the start and at the end: easy to marathon pace where the coach didn't say."""
    start = target_effort(run.start, working=False)
    first = EASY_EFFORT if start is None else start
    if run.change and run.change.every.is_distance == run.extent.is_distance:
        times = Fraction(run.extent.high - 1, run.change.every.low)
        rise = -int(times) * seconds_per_km(run.change.shift) / SECONDS_PER_EFFORT
        return first, max(1, min(10, first + round(rise)))
    if run.end:
        return first, target_effort(run.end, working=False) or HARD_FROM
    return first, max(first, HARD_FROM)


def has_hard(part: Part, *, working: bool = False, limit: int = HARD_FROM) -> bool:
    """Whether anything in the part is run at effort `limit` or above, strides not counted."""
    match part:
        case Step():
            return is_hard(part, working=working, limit=limit)
        case Ladder():
            return is_hard(part, working=True, limit=limit)
        case Repeats(body=body):
            return any(has_hard(inner, working=True, limit=limit) for inner in body)
        case RunWith(outer, inner):
            return is_hard(outer, working=False, limit=limit) or has_hard(inner, limit=limit)
        case Progression():
            return max(progression_efforts(part)) >= limit
        case Race():
            return True
        case Words():
            return bool(part.hard_distance or part.hard_time)
        case _:
            return False


def _is_long(part: Part) -> bool:
    step = part.outer if isinstance(part, RunWith) else part
    if not isinstance(step, Step | Progression):
        return False
    if isinstance(step, Step) and "long" in step.manners:
        return True
    size = step.extent
    limit = LONG_FROM_MM if isinstance(size, Extent) and size.is_distance else LONG_FROM_S
    return isinstance(size, Extent) and size.high >= limit


def role_of(session: Session) -> Role:
    """A guess at what the session is for, from its parts; the coach may say otherwise."""
    parts = session.parts
    if not parts:
        return "rest"
    if any(isinstance(part, Race) for part in parts):
        return "race"
    if all(isinstance(part, Other) for part in parts):
        kinds = [part.kind for part in parts if isinstance(part, Other)]
        return "cross" if "cross" in kinds else "strength"
    if any(_is_long(part) for part in parts):
        return "long"
    return "quality" if any(has_hard(part) for part in parts) else "easy"
