"""What goes with a race plan: weather, fuel and fluid, as ranges, with where each comes from.

Training arithmetic, not medical advice: the race's doctor decides, local rules come first. Every range is to be
practised in training. No sentence here suggests a medicine.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from athletes.running.heat import (
    WBGT_LIMITS,
    Flag,
    HeatError,
    estimate_wbgt,
    flag_at,
    slowed,
    slowing_percent,
)
from athletes.running.units import Distance, Duration

MEASURED, ESTIMATED = "measured or forecast as WBGT", "estimated from air temperature and humidity"


@dataclass(frozen=True, slots=True)
class Weather:
    """The day's heat: WBGT in °C and how it is known, its flag, what it costs, and what to do."""

    wbgt: float
    how: str
    limits: str
    flag: Flag
    percent: tuple[float, float]
    times: tuple[Duration, Duration]
    cautions: tuple[str, ...]


HOT: Final = (
    "Start slower than planned and go by effort; pace that is lost early is lost, collapse is worse.",
    "At raised risk: who is not used to heat, was ill in the past days, slept badly, is older, takes medicines: ask a "
    "doctor before the start.",
    "Dizzy, confused, shivering or no longer sweating: stop, get into shade, call for help. It is an emergency.",
)
COLD: Final = (
    "Rising risk from cold: dry clothes for before and after, a layer to throw away at the start.",
)
DECIDES: Final = "The race doctor decides whether and how the race is run; local rules come first."


def weather(
    target: Duration,
    *,
    wbgt: float | None = None,
    air: float | None = None,
    humidity: float | None = None,
) -> Weather | None:
    """From a WBGT, or estimated from air temperature (°C) and humidity (%); None without either.

    Flags are the ACSM's for distance races, slowing Mantzios 2022: see `athletes.running.heat`.
    Raises HeatError for weather that can't be, or an air temperature without humidity.
    """
    if wbgt is None and air is None:
        return None
    how, limits = MEASURED, ""
    if wbgt is None:
        assert air is not None
        if humidity is None:
            raise HeatError("With the air temperature the humidity is needed too, in per cent.")
        wbgt, how = estimate_wbgt(air, humidity), ESTIMATED
        limits = f"Approximation of the Australian Bureau of Meteorology. {WBGT_LIMITS}"
    flag = flag_at(wbgt)
    cautions = HOT if wbgt >= 18 else COLD if wbgt < 10 else ()
    return Weather(wbgt, how, limits, flag, slowing_percent(wbgt), slowed(target, wbgt), (*cautions, DECIDES))


@dataclass(frozen=True, slots=True)
class Fuel:
    """Carbohydrate in g an hour and for the whole race, each (low, high); None where none is needed."""

    hourly: tuple[int, int] | None
    total: tuple[int, int] | None
    words: tuple[str, ...]
    fluid: tuple[str, ...]
    source: str


# ACSM, AND and DC joint position 2016, DOI 10.1249/MSS.0000000000000852 [seen that it exists; figures from memory].
FUEL_SOURCE: Final = (
    "Ranges as sports-nutrition guidance usually gives them (figures from memory of the 2016 joint position of ACSM, "
    "AND and DC; check them with a dietitian). Fluid: consensus on exercise-associated hyponatremia, Hew-Butler 2015."
)
PRACTISED: Final = "Only what was practised in training, at race pace: nothing new on the day."
FLUID: Final = (
    "Drink to thirst. Drinking beyond it is what leads to low sodium, which can kill; there is no amount to get down.",
    "At raised risk of it: small runners, women, slow races over 4 hours.",
    "No anti-inflammatory painkillers for the race: they raise that risk.",
)
LONG_RUN_MS: Final = 75 * 60_000
HABIT: Final = "Most end up at 0.4 to 0.8 litres an hour; how much is right differs by body, pace and heat: thirst decides."
MIDDLE_MS: Final = 45 * 60_000
VERY_LONG_MS: Final = 150 * 60_000


def grams(hourly: int, target: Duration) -> int:
    """So many g an hour over the whole race: 60 g/h in 3:30 is 210 g."""
    return round(hourly * target.ms / 3_600_000)


def fuel(target: Duration, distance: Distance) -> Fuel:
    """Ranges for a race that takes `target`."""
    hourly: tuple[int, int] | None = None
    if target.ms < MIDDLE_MS:
        words: tuple[str, ...] = ("So short a race needs no food on the way.",)
    elif target.ms < LONG_RUN_MS:
        words = ("Small amounts are enough, or a rinse of the mouth.",)
    else:
        hourly = (30, 90) if target.ms > VERY_LONG_MS else (30, 60)
        words = (
            f"{hourly[0]} to {hourly[1]} g of carbohydrate an hour, the upper end only with a mix of sugars and a gut that "
            f"is used to it."
            if hourly[1] > 60
            else f"{hourly[0]} to {hourly[1]} g of carbohydrate an hour.",
            "Begin early, in the first 40 minutes, in small portions.",
        )
    total = (grams(hourly[0], target), grams(hourly[1], target)) if hourly else None
    fluid = (FLUID[0], HABIT, *FLUID[1:]) if hourly else FLUID
    return Fuel(hourly, total, (*words, PRACTISED), fluid, FUEL_SOURCE)
