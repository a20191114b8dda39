"""Looking back after a race: what was planned and run, and what the race made of it; for one, and over many.

Law of this file: it counts and compares, it explains nothing. What held and what did not stands side by side; no
sentence says that one is the cause of the other. A number over several athletes comes with how many it is of, and
none is given for fewer than `LEAST`.

The limits are our own (common practice, no source), except where a source stands beside them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median, quantiles
from typing import Final

from athletes.running.units import Duration, show_duration
from plans.training.raceday_target import USUAL_SLOWING

LEAST: Final = 8  # own: of fewer no number is given
MOST_OF_IT: Final = Fraction(85, 100)  # own: of the distance, the long runs or the quality sessions
NEAR_TARGET: Final = Fraction(1, 100)  # own
EVEN: Final = Fraction(5, 100)  # own: a second half no slower than that was evenly run


@dataclass(frozen=True, slots=True)
class Training:
    """The weeks up to a race, in mm: as first written, as it stood in the end, as run. Pairs are (done, planned)."""

    weeks: int
    first_mm: int
    stood_mm: int
    run_mm: int
    long: tuple[int, int]
    quality: tuple[int, int]
    longest_mm: int = 0

    @property
    def share(self) -> Fraction | None:
        """Run of what stood."""
        return Fraction(self.run_mm, self.stood_mm) if self.stood_mm else None


@dataclass(frozen=True, slots=True)
class Raced:
    """A result beside what was foretold (low, middle, high) and aimed at; `second_half` slower by that share."""

    time: Duration
    foretold: tuple[Duration, Duration, Duration] | None = None
    target: Duration | None = None
    second_half: Fraction | None = None

    @property
    def off(self) -> Fraction | None:
        """Slower than the middle of what was foretold by that share; negative is faster."""
        return Fraction(self.time.ms, self.foretold[1].ms) - 1 if self.foretold else None

    @property
    def inside(self) -> bool | None:
        return self.foretold[0] <= self.time <= self.foretold[2] if self.foretold else None


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that held, or did not; `held` is None where nothing can be said."""

    head: str
    held: bool | None
    words: str


def findings(training: Training | None, raced: Raced) -> tuple[Finding, ...]:
    """What held and what did not, the race first."""
    made = [_foretold(raced)]
    if raced.target is not None:
        made.append(_target(raced, raced.target))
    if raced.second_half is not None:
        made.append(_halves(raced.second_half))
    if training is not None:
        made += [
            _distance(training),
            _kept("Long runs", training.long),
            _kept("Quality sessions", training.quality),
        ]
    return tuple(made)


def _foretold(raced: Raced) -> Finding:
    if raced.foretold is None:
        return Finding("Prediction", None, "No result from before the race counted, so nothing was foretold.")
    low, _, high = (show_duration(one) for one in raced.foretold)
    off = raced.off or Fraction(0)
    how = (
        "just in the middle"
        if not round(1000 * off)
        else f"{_percent(abs(off))} {'slower' if off > 0 else 'faster'} than its middle"
    )
    where = "inside" if raced.inside else "outside"
    return Finding("Prediction", raced.inside, f"Foretold {low} to {high}; the result is {where}, {how}.")


def _target(raced: Raced, target: Duration) -> Finding:
    off = Fraction(raced.time.ms, target.ms) - 1
    late = (
        "to the second"
        if raced.time == target
        else (
            f"{show_duration(Duration(abs(raced.time.ms - target.ms)))} {'slower' if off > 0 else 'faster'}"
        )
    )
    return Finding("Target", off <= NEAR_TARGET, f"{show_duration(target)} was the target; run {late}.")


def _halves(change: Fraction) -> Finding:
    women, men = (round(100 * one) for one in USUAL_SLOWING)
    words = "The second half was as fast as the first."
    if round(1000 * change):
        words = f"The second half was {_percent(abs(change))} {'slower' if change > 0 else 'faster'} than the first."
    return Finding(
        "Even running",
        change <= EVEN,
        f"{words} Usual in marathons: {women} to {men} % slower (Deaner 2015).",
    )


def _distance(training: Training) -> Finding:
    if training.share is None:
        return Finding("Distance", None, "Nothing was planned before the race.")
    words = f"{_percent(training.share, digits=0)} of what was planned in {training.weeks} weeks was run."
    return Finding("Distance", training.share >= MOST_OF_IT, words)


def _kept(head: str, pair: tuple[int, int]) -> Finding:
    done, planned = pair
    if not planned:
        return Finding(head, None, "None were planned.")
    return Finding(head, done >= MOST_OF_IT * planned, f"{done} of {planned} run.")


def _percent(share: Fraction, digits: int = 1) -> str:
    return f"{float(100 * share):.{digits}f} %"


# Over many


@dataclass(frozen=True, slots=True)
class Case:
    """One athlete's race."""

    raced: Raced
    training: Training | None = None


@dataclass(frozen=True, slots=True)
class Number:
    """One line over many races; `words` is empty where `n` is too small to say anything."""

    head: str
    n: int
    words: str

    @property
    def left_out(self) -> str:
        return "" if self.words else f"{self.n} of at least {LEAST}: too few to say anything."


def over_many(cases: Sequence[Case]) -> tuple[Number, ...]:
    """The few numbers that can be told honestly, each with how many races it is of."""
    foretold = [case for case in cases if case.raced.off is not None]
    trained = [case for case in foretold if case.training and case.training.share is not None]
    most = [case for case in trained if ((case.training and case.training.share) or 0) >= MOST_OF_IT]
    less = [case for case in trained if case not in most]
    split = [case for case in cases if case.raced.second_half is not None]
    limit = _percent(MOST_OF_IT, digits=0)
    return (
        _number("Results inside what was foretold", foretold, _inside),
        _number("Result beside the middle of the prediction", foretold, _off),
        _number(f"The same, of those who ran {limit} or more of their plan", most, _off),
        _number("The same, of those who ran less", less, _off),
        _number("Second half beside the first", split, _slowing),
        _number("Long runs done", [case for case in cases if case.training and case.training.long[1]], _long),
    )


def _number(head: str, cases: Sequence[Case], say: Callable[[Sequence[Case]], str]) -> Number:
    return Number(head, len(cases), say(cases) if len(cases) >= LEAST else "")


def _inside(cases: Sequence[Case]) -> str:
    return f"{sum(bool(case.raced.inside) for case in cases)} of {len(cases)}."


def _off(cases: Sequence[Case]) -> str:
    return _spread([case.raced.off for case in cases if case.raced.off is not None])


def _slowing(cases: Sequence[Case]) -> str:
    return _spread([case.raced.second_half for case in cases if case.raced.second_half is not None])


def _long(cases: Sequence[Case]) -> str:
    pairs = [case.training.long for case in cases if case.training]
    done, planned = sum(pair[0] for pair in pairs), sum(pair[1] for pair in pairs)
    return f"{done} of {planned}."


def _spread(shares: Sequence[Fraction]) -> str:
    low, _, high = quantiles(shares, n=4, method="inclusive")
    return f"{_slower(median(shares))}; half of them between {_slower(low)} and {_slower(high)}."


def _slower(share: Fraction) -> str:
    if not round(1000 * share):
        return "as fast"
    return f"{_percent(abs(share))} {'slower' if share > 0 else 'faster'}"
