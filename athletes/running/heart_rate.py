"""Heart-rate ranges from the resting and the maximum rate, in beats a minute.

Target: Karvonen MJ, Kentala E, Mustala O. Ann Med Exp Biol Fenn 1957;35:307-315. [citation memory]
Estimated maximum: Tanaka H, Monahan KD, Seals DR. J Am Coll Cardiol 2001;37(1):153-156. [citation memory]
The shares of the reserve for each pace are our own bands (common practice, no source).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from athletes.running.paces import PaceName

# An age formula errs by 7 to 12 beats (standard deviation, reviews), so an estimate is never given bare.
ESTIMATE_ERROR: Final = 10
# Per cent of the reserve. Nothing for 5K and 10K pace: in repeats the pulse lags behind the work.
RESERVE: Final[Mapping[PaceName, tuple[int, int]]] = {
    "recovery": (50, 60),
    "easy": (60, 74),
    "MP": (74, 84),
    "HM": (82, 89),
}


class HeartRateError(ValueError):
    """A rate or an age that can't be; the message says what was given and what is possible."""


@dataclass(frozen=True, slots=True)
class HeartRange:
    """From `low` to `high` beats a minute; `estimated` when the maximum comes from the age alone."""

    low: int
    high: int
    estimated: bool


def estimated_maximum(age: int) -> int:
    """208 - 0.7 x age, to the beat, halves upwards; true of a person only within about 10 beats.

    In women of a study of recreational marathoners it was about 5 too high (Front Physiol 2018;9:226).
    """
    if not 10 <= age <= 100:
        raise HeartRateError(f"An age of {age} is outside what the estimate covers: 10 to 100.")
    return (2080 - 7 * age + 5) // 10


def at_reserve(percent: int, resting: int, maximum: int) -> int:
    """resting + percent of (maximum - resting), to the beat, halves upwards."""
    return resting + (percent * (maximum - resting) + 50) // 100


def heart_ranges(
    resting: int, maximum: int | None = None, age: int | None = None
) -> Mapping[PaceName, HeartRange]:
    """The heart-rate range of each steady pace.

    A measured `maximum` is used as it is. Without one it is estimated from `age`, and each range is widened
    to hold for ten beats less and ten more. Raises HeartRateError for rates that can't be, or with neither.
    """
    if not 25 <= resting <= 110:
        raise HeartRateError(
            f"A resting rate of {resting} is unlikely: 25 to 110 beats a minute is possible."
        )
    if maximum is None and age is None:
        raise HeartRateError("Heart-rate ranges need a maximum rate, or an age to estimate it from.")
    if maximum is not None:
        lowest, highest = maximum, maximum
    else:
        assert age is not None
        lowest, highest = estimated_maximum(age) - ESTIMATE_ERROR, estimated_maximum(age) + ESTIMATE_ERROR
    if not (120 <= highest <= 230 and lowest - resting >= 40):
        raise HeartRateError(
            f"A maximum rate of {highest} with {resting} at rest is unlikely: 120 to 230 is possible, "
            f"at least 40 above the resting rate."
        )
    return {
        name: HeartRange(
            at_reserve(low, resting, lowest), at_reserve(high, resting, highest), maximum is None
        )
        for name, (low, high) in RESERVE.items()
    }
