"""Amounts, paces and targets in plain words and the athlete's units."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from athletes.running.paces import PaceCard
from athletes.running.units import Distance, Duration, Pace, Units, show_distance, show_duration, show_pace
from plans.training.speeds import Speed, shown_name, speed_of
from plans.training.steps import (
    BetweenPaces,
    Effort,
    Extent,
    Feel,
    FixedPace,
    HeartRate,
    Ladder,
    RacePace,
    Step,
    Target,
)
from plans.training.words import MANNER_WORDS, RACE_WORDS, SHORT_RACE_WORDS

TRACK_MM: Final = 5_000_000  # metres stay metres up to here, as on a track
RACES: Final = {5_000_000: "5K", 10_000_000: "10K", 21_097_500: "half marathon", 42_195_000: "marathon"}
WITHOUT_PACE: Final = frozenset(("walk", "rest", "drills", "strides", "jog", "float", "trial"))


def show_extent(extent: Extent, units: Units) -> str:
    """`26–29 km`, `800 m`, `90 s`, `2 h 15 min`, in the athlete's units; metres on the track stay metres."""
    low, high = (_one(amount, extent, units) for amount in (extent.low, extent.high))
    if low == high:
        return low
    number, _, unit = low.rpartition(" ")
    same = unit == high.rpartition(" ")[2] and number.replace(".", "").replace(":", "").isdigit()
    return f"{number}–{high}" if same else f"{low} – {high}"


def _one(amount: int, extent: Extent, units: Units) -> str:
    if not extent.is_distance:
        return time_text(amount, short=extent.unit == "s")
    if extent.unit == "m" and amount < TRACK_MM and amount % 1000 == 0:
        return f"{amount // 1000} m"
    step = 10_000 if amount < 1_900_000 else 100_000
    if units == "km" and amount % step == 0:
        return show_distance(Distance(amount), units)
    return show_distance(_tenth(amount, units), units)


def show_rough(mm: int, units: Units) -> str:
    """`12.6 km`: to a tenth of a km or mile, for sums."""
    size = 1_609_344 if units == "mi" else 1_000_000
    tenths = (mm * 10 + size // 2) // size
    return f"{tenths // 10}.{tenths % 10} {units}".replace(".0 ", " ")


def _tenth(mm: int, units: Units) -> Distance:
    """A distance to a tenth of a km or mile, and to the hundredth below some two kilometres."""
    places = 100 if mm < 1_900_000 else 10
    size = 1_609_344 if units == "mi" else 1_000_000
    return Distance(round(round(Fraction(mm * places, size)) * Fraction(size, places)))


def time_text(seconds: int, *, short: bool) -> str:
    if seconds < 120 and (short or seconds % 60):
        return f"{seconds} s"
    hours, rest = divmod(seconds, 3600)
    if rest % 60:
        return f"{show_duration(Duration(seconds * 1000))} {'h' if hours else 'min'}"
    if seconds < 100 * 60:
        return f"{seconds // 60} min"
    return f"{hours} h {rest // 60:02d} min" if rest else f"{hours} h"


def times_text(low: int, high: int) -> str:
    return f"{low} ×" if low == high else f"{low}–{high} ×"


def target_words(target: Target | None, units: Units) -> str:
    """`at 10K pace`, `between 5K and 10K pace`, `at effort 7 of 10`, `20 s/km slower than marathon pace`."""
    match target:
        case RacePace(race, None):
            return f"at {RACE_WORDS[race]}"
        case RacePace(race, shift) if shift:
            word = "slower" if shift.seconds > 0 else "faster"
            return f"{abs(shift.seconds)} s/{shift.per} {word} than {RACE_WORDS[race]}"
        case BetweenPaces(first, second):
            return f"between {SHORT_RACE_WORDS[first]} and {RACE_WORDS[second]}"
        case FixedPace(low, high, per):
            return f"at {pace_text(fixed_speed(low, high, per), units)}"
        case Effort(low, high):
            return f"at effort {low} of 10" if low == high else f"at effort {low}–{high} of 10"
        case HeartRate(low, high, unit):
            tail = "% of maximum heart rate" if unit == "%" else "beats a minute"
            return f"at {low if low == high else f'{low}–{high}'} {tail}"
        case Feel(manner):
            return MANNER_WORDS[manner].split(":")[0].split(",")[0]
        case _:
            return ""


def fixed_speed(low: int, high: int, per: str) -> Speed:
    size = Fraction(1_609_344, 1_000_000) if per == "mi" else Fraction(1)
    return Speed(low / size, high / size)


def pace_text(speed: Speed | None, units: Units) -> str:
    if speed is None:
        return ""
    fast, slow = (show_pace(Pace.from_s_per_km(s), units) for s in (speed.fast, speed.slow))
    return fast if fast == slow else f"{fast.partition('/')[0]}–{slow}"


def step_pace(step: Step | Ladder, card: PaceCard, units: Units, *, working: bool) -> str:
    """The pace to print: none for walking, standing, hills, strides, or where only a feel was asked."""
    manner = step.manners[0] if step.manners else None
    paced = isinstance(step.target, RacePace | BetweenPaces | FixedPace)
    if manner == "hill" or (manner in WITHOUT_PACE and not paced):
        return ""
    if isinstance(step.target, Effort | HeartRate):
        return ""
    if isinstance(step.target, RacePace | BetweenPaces) and not shown_name(step.target, card):
        return "not set yet"
    if working and not step.manners and step.target is None:
        return ""
    return pace_text(speed_of(step, card, working=working), units)


def rungs_text(rungs: tuple[Extent, ...], units: Units) -> str:
    shown = [show_extent(rung, units) for rung in rungs]
    if len({text.rpartition(" ")[2] for text in shown}) == 1 and all(text.count(" ") == 1 for text in shown):
        return "-".join(text.split(" ")[0] for text in shown[:-1]) + f"-{shown[-1]}"
    return " - ".join(shown)


def goal_words(target: Target, units: Units) -> str:
    return target_words(target, units).removeprefix("at ")


def race_name(extent: Extent, units: Units) -> str:
    return (
        RACES.get(extent.low, "")
        if extent.low == extent.high and extent.low in RACES
        else show_extent(extent, units)
    )
