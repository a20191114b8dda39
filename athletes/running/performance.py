"""What one race says about another: three published formulas, as published.

Law of this file: a function here is a formula and nothing else. Where a formula may be used, how wide its
answer is and which one the paces follow is in `predictions`. Floats inside, whole milliseconds out.
"""

import datetime
from dataclasses import dataclass
from math import exp, log, sqrt
from typing import Final

from athletes.running.units import (
    FIVE_K,
    HALF_MARATHON,
    MARATHON,
    MILE,
    TEN_K,
    Distance,
    Duration,
    Pace,
    Units,
    show_distance,
    show_duration,
)


class ResultError(ValueError):
    """A race result that nobody ran; the message says what was given and what is possible."""


SHORTEST: Final = Distance.from_km(1)
LONGEST: Final = Distance.from_km(50)
# Own limits. The best performances on record come to at most 86.5 (sources.md, 18).
MOST_CAPACITY: Final = 88.0
SLOWEST: Final = Pace.from_s_per_km(15 * 60)

_NAMES: Final = {
    FIVE_K: "5K",
    TEN_K: "10K",
    HALF_MARATHON: "half-marathon",
    MARATHON: "marathon",
    MILE: "mile",
}


def distance_name(distance: Distance, units: Units = "km") -> str:
    """`10K` or `half-marathon` where the trade has a name, else the amount."""
    return _NAMES.get(distance) or show_distance(distance, units)


@dataclass(frozen=True, slots=True)
class Result:
    """A race or time trial that was run: 1 to 50 km, at a speed somebody has reached.

    Raises ResultError otherwise, with a sentence for the person who typed it.
    """

    distance: Distance
    duration: Duration
    day: datetime.date | None = None

    def __post_init__(self) -> None:
        if not SHORTEST <= self.distance <= LONGEST:
            raise ResultError(
                f"Paces come from races of 1 to 50 km, and {distance_name(self.distance)} was given."
            )
        if self.duration.ms == 0:
            raise ResultError("A result needs a time above zero.")
        given = f"{distance_name(self.distance)} in {show_duration(self.duration)}"
        if aerobic_capacity(self.distance, self.duration) > MOST_CAPACITY:
            # A two-field time is minutes and seconds: 3:45 for a marathon is the commonest slip.
            hours = Duration(self.duration.ms * 60)
            hint = f" For hours write {show_duration(hours)}." if Pace(self.distance, hours) > SLOWEST else ""
            raise ResultError(f"{given} is faster than anyone has run.{hint}")
        if self.pace < SLOWEST:
            raise ResultError(f"{given} is slower than walking (15:00 per km). Is it the right distance?")

    @property
    def pace(self) -> Pace:
        return Pace(self.distance, self.duration)

    def told(self, units: Units = "km") -> str:
        """`10K in 40:00 on 1 March 2026`."""
        on = f" on {self.day.day} {self.day:%B %Y}" if self.day else ""
        return f"{distance_name(self.distance, units)} in {show_duration(self.duration)}{on}"


# Daniels J, Gilbert J. Oxygen Power: Performance Tables for Distance Runners. 1979. [seen]


def oxygen_cost(speed: float) -> float:
    """Oxygen uptake in ml/kg/min of running on the level at `speed` in m/min."""
    return -4.60 + 0.182258 * speed + 0.000104 * speed * speed


def speed_at_cost(uptake: float) -> float:
    """The speed in m/min whose oxygen cost is `uptake` in ml/kg/min: the equation above, solved."""
    return (sqrt(0.182258**2 + 4 * 0.000104 * (4.60 + uptake)) - 0.182258) / (2 * 0.000104)


def sustainable_fraction(minutes: float) -> float:
    """The fraction of the aerobic capacity that a race of so many minutes can use; over 1 below 11 minutes."""
    return 0.8 + 0.1894393 * exp(-0.012778 * minutes) + 0.2989558 * exp(-0.1932605 * minutes)


def aerobic_capacity(distance: Distance, duration: Duration) -> float:
    """The estimated aerobic capacity in ml/kg/min that this performance stands for.

    An effective value: the laboratory's may differ. Never shown as a score to compare people by.
    """
    minutes = duration.ms / 60_000
    return oxygen_cost(distance.mm / 1000 / minutes) / sustainable_fraction(minutes)


def capacity_of(result: Result) -> float:
    """`aerobic_capacity` of a result, ml/kg/min."""
    return aerobic_capacity(result.distance, result.duration)


def time_at_capacity(capacity: float, distance: Distance) -> Duration:
    """The time for `distance` whose estimated aerobic capacity is `capacity`, to the millisecond.

    Newton's method from the speed of an hour's race: at most six steps for capacities of 6 to 100 ml/kg/min
    over 0.8 to 100 km (tried), each written so that the two exponentials are computed once.
    """
    metres = distance.mm / 1000
    minutes = metres / speed_at_cost(0.89 * capacity)
    for _ in range(20):
        speed = metres / minutes
        short, long = 0.1894393 * exp(-0.012778 * minutes), 0.2989558 * exp(-0.1932605 * minutes)
        over = oxygen_cost(speed) - capacity * (0.8 + short + long)
        falling = (0.182258 + 2 * 0.000104 * speed) * speed / minutes
        rising = capacity * (0.012778 * short + 0.1932605 * long)
        step = over / (falling - rising)
        minutes += step
        if abs(step) < 1e-9:
            break
    return Duration(round(minutes * 60_000))


# Riegel PS. Athletic records and human endurance. American Scientist 1981;69(3):285-290. [seen]

RIEGEL_EXPONENT: Final = 1.06


def riegel_time(result: Result, distance: Distance, exponent: float = RIEGEL_EXPONENT) -> Duration:
    """T2 = T1 (D2/D1)^k. Published for times of 3.5 to 230 minutes."""
    return Duration(round(result.duration.ms * (distance.mm / result.distance.mm) ** exponent))


def own_exponent(shorter: Result, longer: Result) -> float:
    """k = ln(T2/T1) / ln(D2/D1): how much this athlete fades over the distance. Two different distances."""
    if not shorter.distance < longer.distance:
        raise ResultError("An exponent needs two results, the second over the longer distance.")
    return log(longer.duration.ms / shorter.duration.ms) / log(longer.distance.mm / shorter.distance.mm)


# Vickers AJ, Vertosick EA. An empirical study of race times in recreational endurance runners.
# BMC Sports Sci Med Rehabil 2016;8:26. DOI 10.1186/s13102-016-0052-y. [seen: abstract]
# The coefficients are [seen-code]: eight public re-implementations agree, the additional file was not read.


def marathon_from_one_race(result: Result, weekly_distance: Distance) -> Duration:
    """The one-race model. `weekly_distance` is the usual training week; the model counts miles a week."""
    riegel_speed = MARATHON.mm / (result.duration.ms * (MARATHON.mm / result.distance.mm) ** 1.07)
    tens_of_miles = float(weekly_distance.miles) / 10
    speed = 0.16018617 + 0.83076202 * riegel_speed + 0.06423826 * tens_of_miles
    return Duration(round(MARATHON.mm / speed))


def marathon_from_two_races(shorter: Result, longer: Result, weekly_distance: Distance) -> Duration:
    """The two-race model: the athlete's exponent, drawn towards the average of the survey's marathoners."""
    tens_of_miles = float(weekly_distance.miles) / 10
    exponent = 1.4510756 - 0.23797948 * own_exponent(shorter, longer) - 0.01410023 * tens_of_miles
    return riegel_time(longer, MARATHON, exponent)
