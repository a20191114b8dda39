"""How fast a step is run by one athlete: a pace card's ranges, and estimates where the card has none.

Speeds are seconds per km, `fast` the smaller number. Named estimates are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from athletes.running.paces import PaceCard, PaceName
from athletes.running.units import MM_PER_KM, MM_PER_MILE
from plans.training.intensity import UNSAID_EFFORT, seconds_per_km, target_effort
from plans.training.steps import (
    BetweenPaces,
    Effort,
    Extent,
    Feel,
    FixedPace,
    HeartRate,
    Ladder,
    Manner,
    RaceName,
    RacePace,
    Step,
    Target,
)

WALK_S_PER_KM: Final = Fraction(600)  # 10 min a km, a brisk walk
FASTEST_S_PER_KM: Final = Fraction(90)
STRIDE_FASTER: Final = Fraction(9, 10)  # strides: from 5K pace to a tenth faster
# Races up to so many mm are run at the pace of that name.
RACE_UP_TO: Final[tuple[tuple[int, PaceName], ...]] = (
    (7_000_000, "5K"), (13_000_000, "10K"), (25_000_000, "HM"), (43_000_000, "MP")
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Speed:
    """From fast to slow, seconds per km."""

    fast: Fraction
    slow: Fraction

    @property
    def middle(self) -> Fraction:
        return (self.fast + self.slow) / 2

    def shifted(self, seconds: Fraction) -> Speed:
        return Speed(max(FASTEST_S_PER_KM, self.fast + seconds), max(FASTEST_S_PER_KM, self.slow + seconds))

    def between(self, other: Speed) -> Speed:
        """Evenly from one to the other: the mean."""
        return Speed((self.fast + other.fast) / 2, (self.slow + other.slow) / 2)


def on_card(name: PaceName, card: PaceCard) -> Speed | None:
    """A pace of the card; None for goal pace where the athlete has no goal."""
    found = card.ranges.get(name)
    return Speed(found.fast.s_per_km, found.slow.s_per_km) if found else None


def _named(name: PaceName, card: PaceCard) -> Speed:
    return on_card(name, card) or _span("10K", "MP", card)


def _span(fast: PaceName, slow: PaceName, card: PaceCard) -> Speed:
    """From the fast end of one pace to the slow end of another, whichever is which."""
    ends = [_named(fast, card), _named(slow, card)]
    return Speed(min(e.fast for e in ends), max(e.slow for e in ends))


def _steady(card: PaceCard) -> Speed:
    """Between marathon pace and the fast end of easy."""
    ends = sorted((_named("MP", card).slow, _named("easy", card).fast))
    return Speed(ends[0], ends[1])


def manner_speed(manner: Manner, card: PaceCard) -> Speed | None:
    """None is standing still, and drills, which cover next to nothing."""
    match manner:
        case "rest" | "drills":
            return None
        case "walk":
            return Speed(WALK_S_PER_KM, WALK_S_PER_KM)
        case "recovery" | "jog":
            return _named("recovery", card)
        case "steady" | "float":
            return _steady(card)
        case "tempo":
            return _named("HM", card)
        case "hard" | "trial":
            return _span("5K", "10K", card)
        case "fast":
            return _named("5K", card)
        case "strides":
            fast = _named("5K", card)
            return Speed(max(FASTEST_S_PER_KM, fast.fast * STRIDE_FASTER), fast.slow)
        case "hill":  # uphill at a hard effort is about as fast as easy running on the flat
            return _named("easy", card)
        case _:
            return _named("easy", card)


def effort_speed(effort: int, card: PaceCard) -> Speed:
    names: dict[int, PaceName] = {
        0: "recovery",
        1: "recovery",
        2: "recovery",
        3: "easy",
        5: "MP",
        6: "HM",
        7: "10K",
    }
    return _steady(card) if effort == 4 else _named(names.get(effort, "5K"), card)


def target_speed(target: Target | None, card: PaceCard) -> Speed | None:
    match target:
        case RacePace(race, shift):
            speed = _named(race, card)
            return speed.shifted(seconds_per_km(shift)) if shift else speed
        case BetweenPaces(first, second):
            return _span(first, second, card)
        case FixedPace(low, high, per):
            size = Fraction(MM_PER_MILE if per == "mi" else MM_PER_KM, MM_PER_KM)
            return Speed(low / size, high / size)
        case Effort(low, high):
            return Speed(
                effort_speed(high, card).fast,
                max(effort_speed(high, card).fast, effort_speed(low, card).slow),
            )
        case Feel(manner):
            return manner_speed(manner, card)
        case HeartRate(_, _, "%"):
            return effort_speed(target_effort(target, working=False) or 3, card)
        case HeartRate():  # beats alone tell no pace: anywhere from half-marathon to easy
            return _span("HM", "easy", card)
        case None:
            return _named("easy", card)


def speed_of(step: Step | Ladder, card: PaceCard, *, working: bool) -> Speed | None:
    """The step's target, else its manner (the slower of two); in repeats, neither means quick."""
    if step.target and not (isinstance(step.target, HeartRate) and step.manners):
        if step.manners[:1] == ("hill",):
            return manner_speed("hill", card)
        return target_speed(step.target, card)
    if step.manners:
        found = [manner_speed(manner, card) for manner in step.manners]
        moving = [speed for speed in found if speed]
        return Speed(min(s.fast for s in moving), max(s.slow for s in moving)) if moving else None
    return effort_speed(UNSAID_EFFORT, card) if working else _named("easy", card)


def race_speed(extent: Extent, card: PaceCard) -> Speed:
    """The card's pace for a race of that length; beyond the marathon, from marathon pace to easy."""
    if not extent.is_distance:
        return _span("5K", "MP", card)
    for limit, name in RACE_UP_TO:
        if extent.high <= limit:
            return _named(name, card)
    return _span("MP", "easy", card)


def shown_name(target: RacePace | BetweenPaces, card: PaceCard) -> bool:
    """Whether the card has every pace that the target names."""
    names: tuple[RaceName, ...] = (
        (target.race,) if isinstance(target, RacePace) else (target.first, target.second)
    )
    return all(name in card.ranges for name in names)
