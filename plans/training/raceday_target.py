"""Which time to run for: a few choices out of the predicted range, with what speaks for and against each.

The coach decides. Steps and limits marked "own" are ours (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from athletes.running.goals import USUAL_GAIN_PERCENT
from athletes.running.heat import slowed
from athletes.running.predictions import Predictions, show_estimate
from athletes.running.units import Distance, Duration, show_duration

TargetKey = Literal["likely", "careful", "brave", "goal", "heat"]
LONG_RACE: Final = Distance.from_km(30)  # own: where a start too fast is paid for late
# Deaner 2015, DOI 10.1249/MSS.0000000000000432 [seen]: 91 929 marathons; the second half slower by so much.
USUAL_SLOWING: Final = (Fraction(117, 1000), Fraction(156, 1000))
DEANER: Final = "In 91,929 marathons of 14 races women ran the second half 12 % slower than the first, men 16 % (Deaner 2015)."
CARELESS: Final = 3  # own: per cent slower than predicted that leaves a reserve


@dataclass(frozen=True, slots=True)
class Choice:
    """One time to run for, to a sensible step, with its reasons."""

    key: TargetKey
    title: str
    time: Duration
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]


def rounded(time: Duration) -> Duration:
    """To the minute from 90 minutes up, to 10 seconds from 30, else to 5: no finer than it is known."""
    step = 60_000 if time.ms >= 5_400_000 else 10_000 if time.ms >= 1_800_000 else 5_000
    return Duration((time.ms + step // 2) // step * step)


def choices(
    outlook: Predictions | None, distance: Distance, goal: Duration | None = None, wbgt: float | None = None
) -> tuple[Choice, ...]:
    """What can be run for, the one that we would take first.

    Empty without a prediction and a goal. The goal comes first when the results carry it; in heat, what heat
    leaves of the first comes before all.
    """
    predicted = outlook.chosen if outlook else None
    made = [_goal(goal, outlook)] if goal else []
    if predicted is not None:
        likely, careful, brave = _likely(outlook), _careful(outlook, distance), _brave(outlook, distance)
        carried = goal is not None and 100 * goal.ms >= (100 - USUAL_GAIN_PERCENT) * predicted.time.ms
        made = [*made, likely, careful, brave] if carried else [likely, *made, careful, brave]
    if wbgt is not None and made and slowed(made[0].time, wbgt)[1] > made[0].time:
        made.insert(0, _hot(made[0], wbgt))
    return _once(made)


def _once(made: Sequence[Choice]) -> tuple[Choice, ...]:
    """Two names for one time are one choice: the first."""
    found: dict[int, Choice] = {}
    for choice in made:
        found.setdefault(choice.time.ms, choice)
    return tuple(found.values())


def _likely(outlook: Predictions | None) -> Choice:
    one = outlook.chosen if outlook else None
    assert one is not None
    words = f"The middle of what the results say: {one.title}, {show_estimate(one.low)} to {show_estimate(one.high)}."
    against = ["An average: with the same results about as many run slower as faster."]
    if one.caution:
        against.append(one.caution)
    return Choice("likely", "What the results say", rounded(one.time), (words,), tuple(against))


def _careful(outlook: Predictions | None, distance: Distance) -> Choice:
    one = outlook.chosen if outlook else None
    assert one is not None
    time = rounded(Duration(min(one.high.ms, round(one.time.ms * (1 + CARELESS / 100)))))
    speaks_for = [
        "A reserve for wind, crowds and a day that is not the best; it can be spent in the last third."
    ]
    if distance >= LONG_RACE:
        speaks_for.append(DEANER)
    return Choice(
        "careful", "With a reserve", time, tuple(speaks_for), ("On a perfect day a little may be left over.",)
    )


def _brave(outlook: Predictions | None, distance: Distance) -> Choice:
    one = outlook.chosen if outlook else None
    assert one is not None
    time = rounded(Duration(max(one.low.ms, round(one.time.ms * (1 - USUAL_GAIN_PERCENT / 100)))))
    against = ["A brave start costs more than it gains."]
    if distance >= LONG_RACE:
        first = time.ms // 2
        ends = [rounded(Duration(round(first * (2 + p)))) for p in USUAL_SLOWING]
        against += [
            DEANER,
            f"Half-way in {show_duration(Duration(first // 1000 * 1000))} and then slowing by so much comes to "
            f"{show_duration(ends[0])} to {show_duration(ends[1])}.",
        ]
    words = "Inside the range, for a flat course, a cool day, and long runs that went as planned."
    return Choice("brave", "Brave", time, (words,), tuple(against))


def _goal(goal: Duration, outlook: Predictions | None) -> Choice:
    time = Duration(-(-goal.ms // 1000) * 1000)
    one = outlook.chosen if outlook else None
    if one is None:
        return Choice(
            "goal",
            "The goal",
            time,
            ("It is what the training led to.",),
            ("No result says whether it fits.",),
        )
    percent = 100 * (one.time.ms - goal.ms) / one.time.ms
    if percent <= USUAL_GAIN_PERCENT:
        words = "The results carry it." if percent > 0 else "The results say it is there, and more."
        return Choice("goal", "The goal", time, (words,), ("A goal is not a floor: the day has its say.",))
    inside = goal >= one.low
    against = (
        f"It is {percent:.1f} % faster than the results say"
        f"{', inside the range at its fast end' if inside else ', beyond the range'}.",
        "A brave start costs more than it gains.",
    )
    return Choice("goal", "The goal", time, ("It is what the training led to.",), against)


def _hot(first: Choice, wbgt: float) -> Choice:
    least, most = slowed(first.time, wbgt)
    words = (
        f"{show_duration(first.time)} on a cool day becomes {show_duration(rounded(least))} to "
        f"{show_duration(rounded(most))} or slower at about {wbgt:.0f} °C WBGT (Mantzios 2022: 0.3 to 0.4 % a degree over 15, "
        f"from elite fields)."
    )
    against = ("Weather changes: look again on the morning, and go by effort.",)
    return Choice("heat", "For this heat", rounded(most), (words,), against)
