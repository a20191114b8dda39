"""The pace card: an athlete's paces as ranges, with where they come from.

5K, 10K and half-marathon pace are equivalents of the best result by Daniels & Gilbert 1979; marathon pace is
the prediction chosen in `predictions`; goal pace is the goal. Easy and recovery are our own bands on the
published oxygen-cost equation. All widths are our own (common practice, no source) and stand on the card.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import log2
from typing import Any, Final, Literal, get_args

from athletes.running.performance import (
    Result,
    capacity_of,
    speed_at_cost,
    time_at_capacity,
)
from athletes.running.predictions import Prediction, best_result, predictions, show_estimate
from athletes.running.units import (
    FIVE_K,
    HALF_MARATHON,
    MARATHON,
    TEN_K,
    Distance,
    Duration,
    Pace,
    Units,
    show_pace,
)

PaceName = Literal["5K", "10K", "HM", "MP", "goal", "easy", "recovery"]
PACE_NAMES: Final[tuple[PaceName, ...]] = get_args(PaceName)
RACES: Final[Mapping[PaceName, Distance]] = {"5K": FIVE_K, "10K": TEN_K, "HM": HALF_MARATHON, "MP": MARATHON}

# Share of the estimated aerobic capacity whose oxygen cost is the pace: fast end, slow end. Our own bands.
EASY: Final = (0.72, 0.60)
RECOVERY: Final = (0.60, 0.52)
# Half-widths of a pace in thousandths of its time: 1 % for the raced distance, and 1 % more for each
# doubling or halving between it and the distance asked for, up to 4 %.
NARROWEST, PER_DOUBLING, WIDEST = 10, 10, 40
MARATHON_WIDTH: Final = 20
GOAL_WIDTH: Final = 10
# Easy running begins at least so many thousandths slower than marathon pace; easy and recovery are at least
# so many wide.
EASY_BELOW_MARATHON: Final = 50
LEAST_BAND: Final = 60
WALKING_HELPS: Final = Pace.from_s_per_km(8 * 60 + 30)


class CardError(ValueError):
    """No card can be made, or stored values are not a card; the message says why."""


@dataclass(frozen=True, slots=True)
class PaceRange:
    """From the fast end to the slow end of a pace; the ends may be equal."""

    fast: Pace
    slow: Pace

    def __post_init__(self) -> None:
        if self.fast < self.slow:
            raise CardError("A pace range runs from its fast end to its slow end.")

    @property
    def mid(self) -> Pace:
        """The pace half-way between the ends in time per distance."""
        return Pace.from_s_per_km((self.fast.s_per_km + self.slow.s_per_km) / 2)

    @property
    def width_percent(self) -> Fraction:
        """Half the range in per cent of its middle: 2 means give or take 2 %."""
        fast, slow = self.fast.s_per_km, self.slow.s_per_km
        return 100 * (slow - fast) / (slow + fast)


@dataclass(frozen=True, slots=True)
class PaceCard:
    """An athlete's paces as they were issued. Never changed: a new result makes a new card.

    `formula` names the publications, `origin` the result or decision behind it, `notes` what to know when
    reading it. `capacity` is the estimated aerobic capacity in ml/kg/min. A card has no goal pace without a
    goal; the other six are always there.
    """

    ranges: Mapping[PaceName, PaceRange]
    formula: str
    origin: str
    capacity: float
    notes: tuple[str, ...] = field(default=())

    def to_values(self) -> dict[str, Any]:
        """As plain JSON values: a pace is [mm, ms]."""
        return {
            "ranges": {
                name: {"fast": _stored(ends.fast), "slow": _stored(ends.slow)}
                for name, ends in self.ranges.items()
            },
            "formula": self.formula,
            "origin": self.origin,
            "capacity": self.capacity,
            "notes": list(self.notes),
        }

    @classmethod
    def from_values(cls, values: Mapping[str, Any]) -> "PaceCard":
        """The card that `to_values` stored. Raises CardError when the values are no card."""
        try:
            ranges = {
                name: PaceRange(_restored(ends["fast"]), _restored(ends["slow"]))
                for name in PACE_NAMES
                if (ends := values["ranges"].get(name)) is not None
            }
            card = cls(
                ranges,
                str(values["formula"]),
                str(values["origin"]),
                float(values["capacity"]),
                tuple(str(note) for note in values["notes"]),
            )
        except (KeyError, TypeError, AttributeError, ValueError) as error:
            raise CardError(f"These values are not a pace card: {error!r}.") from error
        if missing := [name for name in PACE_NAMES if name not in ranges and name != "goal"]:
            raise CardError(f"These values are not a pace card: no {', '.join(missing)} pace.")
        return card


def _stored(pace: Pace) -> list[int]:
    return [pace.distance.mm, pace.duration.ms]


def _restored(pair: Sequence[int]) -> Pace:
    mm, ms = pair
    return Pace(Distance(int(mm)), Duration(int(ms)))


def show_range(ends: PaceRange, units: Units) -> str:
    """`4:50–5:10/km`, or one pace where both ends print the same."""
    fast, slow = show_pace(ends.fast, units), show_pace(ends.slow, units)
    return fast if fast == slow else f"{fast.partition('/')[0]}–{slow}"


def span(one: PaceCard, other: PaceCard, origin: str) -> PaceCard:
    """A card from the faster of the fast ends to the slower of the slow ends: when fitness is itself a range."""
    ranges = {
        name: PaceRange(max(ends.fast, other.ranges[name].fast), min(ends.slow, other.ranges[name].slow))
        for name, ends in one.ranges.items()
        if name in other.ranges
    }
    notes = tuple(dict.fromkeys(one.notes + other.notes))
    return PaceCard(ranges, one.formula, origin, min(one.capacity, other.capacity), notes)


def around(distance: Distance, duration: Duration, thousandths: int) -> PaceRange:
    """The pace of a time over a distance, give or take so many thousandths of the time."""
    less, more = duration.ms * (1000 - thousandths) // 1000, -(-duration.ms * (1000 + thousandths) // 1000)
    return PaceRange(Pace(distance, Duration(less)), Pace(distance, Duration(more)))


def _race_width(base: Distance, distance: Distance) -> int:
    return min(WIDEST, NARROWEST + round(PER_DOUBLING * abs(log2(distance.mm / base.mm))))


def _band(capacity: float, shares: tuple[float, float]) -> PaceRange:
    """The range of paces whose oxygen cost is so large a share of the capacity."""
    fast, slow = (Pace.from_s_per_km(60_000 / speed_at_cost(share * capacity)) for share in shares)
    return PaceRange(fast, slow)


def _slower(pace: Pace, thousandths: int) -> Pace:
    return Pace(pace.distance, Duration(pace.duration.ms * (1000 + thousandths) // 1000))


def _below(band: PaceRange, limit: Pace) -> PaceRange:
    """The band with its fast end no faster than the limit, and never narrower than a runner can hold."""
    fast = min(band.fast, limit)
    return PaceRange(fast, min(band.slow, _slower(fast, LEAST_BAND)))


def _marathon(chosen: Prediction | None, capacity: float) -> tuple[Duration, str, str]:
    """Marathon time for the card, the formula it follows, and what to say about it."""
    if chosen is None:
        time, formula = time_at_capacity(capacity, MARATHON), "Daniels & Gilbert 1979"
        note = "Marathon pace is a guess outside every formula's range."
    else:
        time, formula = chosen.time, chosen.title
        note = (
            f"Marathon pace stands on a predicted {show_estimate(chosen.time)}, "
            f"likely between {show_estimate(chosen.low)} and {show_estimate(chosen.high)}. {chosen.caution}"
        )
    return time, formula, note.strip()


def make_card(
    results: Result | Sequence[Result],
    *,
    weekly_distance: Distance | None = None,
    goal: tuple[Distance, Duration] | None = None,
    origin: str | None = None,
    units: Units = "km",
) -> PaceCard:
    """The pace card that these results give.

    `results` are those that count (recent, not set aside); the best of them sets the card. `weekly_distance`
    is the usual training week, which the marathon models need; `goal` is a distance and a time. `units` are
    those of the sentences. Raises CardError when no formula covers the results, ResultError for a goal that
    nobody runs.
    """
    given = (results,) if isinstance(results, Result) else tuple(results)
    if not given:
        raise CardError("A pace card needs a race result or a time trial.")
    base = best_result(given)
    if base is None:
        raise CardError("Paces come from a result of 3.5 minutes to 7 hours. Add one, a 5K for example.")
    capacity = capacity_of(base)
    times = {name: time_at_capacity(capacity, distance) for name, distance in RACES.items()}
    chosen = predictions(given, MARATHON, weekly_distance, units=units).chosen
    times["MP"], formula, note = _marathon(chosen, capacity)
    ranges: dict[PaceName, PaceRange] = {
        name: around(RACES[name], times[name], _race_width(base.distance, RACES[name]))
        for name in ("5K", "10K", "HM")
    }
    ranges["MP"] = around(MARATHON, times["MP"], MARATHON_WIDTH)
    if goal is not None:
        aim = Result(*goal)  # refuses what nobody runs, in its own words
        ranges["goal"] = around(aim.distance, aim.duration, GOAL_WIDTH)
    # A low weekly distance or a weak longer race makes marathon pace slow: easy running stays below it.
    limit = _slower(Pace(MARATHON, times["MP"]), EASY_BELOW_MARATHON)
    ranges["easy"] = _below(_band(capacity, EASY), limit)
    ranges["recovery"] = _below(_band(capacity, RECOVERY), ranges["easy"].slow)
    notes = [note]
    if weekly_distance is None:
        notes.append("With the usual weekly distance, marathon pace can come from recreational marathoners.")
    if ranges["easy"].slow < WALKING_HELPS:
        notes.append("Easy and recovery running may include walking breaks.")
    return PaceCard(
        ranges,
        f"Daniels & Gilbert 1979; marathon pace: {formula}",
        origin or base.told(units),
        round(capacity, 2),
        tuple(notes),
    )
