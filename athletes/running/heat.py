"""Heat: the wet-bulb globe temperature (WBGT), what it costs, and the flags of distance races.

Local rules and the event's medical director decide; this is arithmetic for the conversation with them.
"""

from dataclasses import dataclass
from math import exp
from typing import Final, Literal

from athletes.running.units import Duration


class HeatError(ValueError):
    """Weather that can't be; the message says what was given and what is possible."""


WBGT_LIMITS: Final = (
    "Estimated from air temperature and humidity, for sun and light wind: too high under cloud, in wind and at "
    "night, too low in fierce sun. A reading at the course is better; nearby stations can be 3 °C off."
)


def estimate_wbgt(air: float, humidity: float) -> float:
    """WBGT in °C from air temperature in °C and relative humidity in per cent.

    The approximation of the Australian Bureau of Meteorology, 0.567 T + 0.393 e + 3.94 with the vapour
    pressure e in hPa (seen quoted with its limits in two independent package references; the bureau's own
    page not read). Show it with `WBGT_LIMITS`. Raises HeatError outside -20 to 50 °C and 0 to 100 %.
    """
    if not -20 <= air <= 50:
        raise HeatError(f"An air temperature of {air:g} °C was given; -20 to 50 °C is possible.")
    if not 0 <= humidity <= 100:
        raise HeatError(f"A humidity of {humidity:g} % was given; 0 to 100 % is possible.")
    vapour = humidity / 100 * 6.105 * exp(17.27 * air / (237.7 + air))
    return 0.567 * air + 0.393 * vapour + 3.94


# Mantzios K, et al. Med Sci Sports Exerc 2022;54(1):153-161. DOI 10.1249/MSS.0000000000002769. [seen]
# Fastest at 7.5 to 15 °C WBGT; 0.3 to 0.4 % slower a degree outside. Elite fields: for others "at least".
BEST_UP_TO: Final = 15.0
PERCENT_A_DEGREE: Final = (0.3, 0.4)


def slowing_percent(wbgt: float) -> tuple[float, float]:
    """Least and most expected slowing in per cent at this WBGT in °C; nothing up to 15 °C.

    Cold is left out: what it costs is mostly clothing.
    """
    over = max(0.0, wbgt - BEST_UP_TO)
    return PERCENT_A_DEGREE[0] * over, PERCENT_A_DEGREE[1] * over


def slowed(time: Duration, wbgt: float) -> tuple[Duration, Duration]:
    """A time at its least and most slowed. Runners slower than the elite lose at least so much."""
    least, most = slowing_percent(wbgt)
    return Duration(round(time.ms * (1 + least / 100))), Duration(round(time.ms * (1 + most / 100)))


FlagName = Literal["white", "green", "yellow", "red", "black"]


@dataclass(frozen=True, slots=True)
class Flag:
    """A flag of the race-day guidance: from `low` up to, not including, `high` °C WBGT (None: no end)."""

    name: FlagName
    low: float | None
    high: float | None
    words: str


# American College of Sports Medicine guidance on distance races [thresholds seen in three texts]. Half-open,
# since the source's rounding leaves gaps; 28 °C itself is still red, as the source has black above 28.
FLAGS: Final[tuple[Flag, ...]] = (
    Flag("white", None, 10, "Little risk from heat, rising risk from cold: dress for standing about."),
    Flag("green", 10, 18, "Low risk from heat, not none."),
    Flag("yellow", 18, 23, "Slow down if you are new to heat, unwell or at raised risk."),
    Flag("red", 23, 28, "Everyone slows down; those at raised risk should not start."),
    Flag("black", 28, None, "Don't race, and don't run hard: races are cancelled in this."),
)


def flag_at(wbgt: float) -> Flag:
    """The flag at this WBGT in °C. Raises HeatError for what is no temperature."""
    if not -60 < wbgt < 60:
        raise HeatError(f"A WBGT of {wbgt:g} °C was given; -20 to 45 °C is possible.")
    if wbgt > 28:
        return FLAGS[4]
    return next(flag for flag in reversed(FLAGS[:4]) if flag.low is None or wbgt >= flag.low)
