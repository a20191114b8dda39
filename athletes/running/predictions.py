"""Which formulas apply to an athlete's results, how wide their answers are, and which one the paces use.

Law of this file: a formula answers inside its valid range and refuses outside it with a reason; it never
answers quietly. Every answer has a low and a high end. Widths and limits marked "own" are ours.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import log2
from typing import Final, Literal

from athletes.running.performance import (
    RIEGEL_EXPONENT,
    Result,
    capacity_of,
    distance_name,
    marathon_from_one_race,
    marathon_from_two_races,
    own_exponent,
    riegel_time,
    time_at_capacity,
)
from athletes.running.units import (
    MARATHON,
    MM_PER_MILE,
    Distance,
    Duration,
    Units,
    show_distance,
    show_duration,
)

Formula = Literal["vickers_two", "vickers_one", "daniels_gilbert", "riegel", "own_result"]

TITLES: Final[dict[Formula, str]] = {
    "vickers_two": "Vickers & Vertosick 2016, two races",
    "vickers_one": "Vickers & Vertosick 2016, one race",
    "daniels_gilbert": "Daniels & Gilbert 1979",
    "riegel": "Riegel 1981",
    "own_result": "the athlete's own result",
}
VALID: Final[dict[Formula, str]] = {
    "vickers_two": "Marathon only, from two races of 5 to 30 km, 8 to 129 km (5 to 80 miles) a week.",
    "vickers_one": "Marathon only, from a race of 5 to 30 km, 8 to 129 km (5 to 80 miles) a week.",
    "daniels_gilbert": "Races of 3.5 minutes to 4 hours; up to 7 hours it is stretched beyond its data.",
    "riegel": "Races of 3.5 to 230 minutes.",
    "own_result": "The same distance, within 1 %.",
}

SHORTEST_TIME: Final = Duration.from_min(3.5)
DANIELS_DATA_END: Final = Duration.from_min(240)
DANIELS_END: Final = Duration.from_min(420)  # own: the time limit of a long marathon
RIEGEL_END: Final = Duration.from_min(230)
VICKERS_RACES: Final = (Distance.from_km(5), Distance.from_km(30))  # own, from the survey's distances
VICKERS_LEAST_WEEK: Final = Distance.from_km(8)  # own, from what re-implementations accept: 5 to 80 miles
VICKERS_MOST_WEEK: Final = Distance(80 * MM_PER_MILE)
# Root of the published mean squared errors 228 and 208 (in min², unit not confirmed): 15.1 and 14.4 minutes.
VICKERS_WIDTH: Final = Duration.from_min(15)
# The same of the power law at the marathon, 381: 19.5 minutes. It errs on the fast side.
POWER_LAW_MISS: Final = Duration.from_min(20)
NOT_RECREATIONAL: Final = Duration.from_min(150)  # own
DAY_PERCENT: Final = 2  # own: what course, weather and the day make of one fitness
PAIR_RATIO: Final = 1.5  # own: nearer distances make an exponent of noise
EXPONENTS: Final = (1.01, 1.20)  # own: outside, one of the two races was not raced
OWN_EXPONENT_CUTS_BOTH_WAYS: Final = (
    "A faster shorter race alone makes this time slower: it shows more slowing as races grow longer."
)


def show_estimate(time: Duration) -> str:
    """A predicted time no finer than it is known: `3 h 18` from an hour up, else `41:40` to 5 seconds."""
    if time.ms >= 3_600_000:
        minutes = (time.ms + 30_000) // 60_000
        return f"{minutes // 60} h {minutes % 60:02d}"
    return show_duration(Duration((time.ms + 2_500) // 5_000 * 5_000))


class NotApplicable(ValueError):
    """The formula does not cover this; the message is the reason for the page."""


@dataclass(frozen=True, slots=True)
class Prediction:
    """One formula's answer: `time` between `low` (fast end) and `high` (slow end), from the results `basis`."""

    formula: Formula
    time: Duration
    low: Duration
    high: Duration
    basis: tuple[Result, ...]
    detail: str = ""
    caution: str = ""

    @property
    def title(self) -> str:
        return TITLES[self.formula]

    @property
    def valid(self) -> str:
        return VALID[self.formula]


@dataclass(frozen=True, slots=True)
class Refusal:
    """A formula that does not apply, and why."""

    formula: Formula
    reason: str

    @property
    def title(self) -> str:
        return TITLES[self.formula]


@dataclass(frozen=True, slots=True)
class Predictions:
    """All that the results say about one distance. `chosen` is what the paces use, for `reason`."""

    distance: Distance
    given: tuple[Prediction, ...]
    refused: tuple[Refusal, ...]
    chosen: Prediction | None
    reason: str

    @property
    def spread(self) -> tuple[Duration, Duration] | None:
        """The fastest and the slowest of the predicted times."""
        times = [prediction.time for prediction in self.given]
        return (min(times), max(times)) if times else None


@dataclass(frozen=True, slots=True)
class _Case:
    results: tuple[Result, ...]
    distance: Distance
    weekly: Distance | None
    units: Units


def best_result(results: Sequence[Result]) -> Result | None:
    """The result with the highest estimated aerobic capacity among those the equation covers."""
    covered = [result for result in results if SHORTEST_TIME <= result.duration <= DANIELS_END]
    return max(covered, key=capacity_of, default=None)


def _nearest(results: Sequence[Result], distance: Distance) -> Result:
    """The result nearest in distance by ratio; of two over the same, the faster."""
    return min(results, key=lambda one: (abs(log2(distance.mm / one.distance.mm)), one.duration))


def _pair(results: Sequence[Result], units: Units) -> tuple[Result, Result]:
    """The shortest and the longest result, the faster where two share a distance, if far enough apart."""
    ordered = sorted(results, key=lambda one: (one.distance, one.duration))
    if not ordered or ordered[-1].distance.mm < PAIR_RATIO * ordered[0].distance.mm:
        raise NotApplicable("It needs two results, the longer at least half as long again as the shorter.")
    shorter, longest = ordered[0], ordered[-1].distance
    longer = next(one for one in ordered if one.distance == longest)
    exponent = own_exponent(shorter, longer)
    if not EXPONENTS[0] <= exponent <= EXPONENTS[1]:
        raise NotApplicable(
            f"{shorter.told(units)} and {longer.told(units)} don't fit together (exponent {exponent:.2f}, usual 1.03 to "
            f"1.15). One may not have been raced hard: set it aside."
        )
    return shorter, longer


def _within(time: Duration, less: float, more: float) -> tuple[Duration, Duration]:
    """A time less and more so many per cent."""
    return Duration(round(time.ms * (1 - less / 100))), Duration(round(time.ms * (1 + more / 100)))


def _equivalence_ends(time: Duration, base: Result, distance: Distance) -> tuple[Duration, Duration]:
    """Own widths: the day's 2 %, and 1 % a doubling of the distance; at the marathon the slow side is wide."""
    percent = DAY_PERCENT + abs(log2(distance.mm / base.distance.mm))
    low, high = _within(time, percent, percent)
    if distance >= MARATHON and base.distance < MARATHON:
        high = max(high, time + POWER_LAW_MISS)
    return low, high


_TOO_FAST: Final = "At the marathon it is more than ten minutes too fast for half of recreational runners."


def _cautions(time: Duration, base: Result, distance: Distance, *, stretched: bool) -> str:
    cautions = []
    if distance >= MARATHON and base.distance < MARATHON:
        cautions.append(_TOO_FAST)
    if stretched:
        cautions.append("Beyond 4 hours there is no data behind it.")
    return " ".join(cautions)


def _daniels_gilbert(case: _Case) -> Prediction:
    base = best_result(case.results)
    if base is None:
        raise NotApplicable("It needs a result of 3.5 minutes to 7 hours.")
    time = time_at_capacity(capacity_of(base), case.distance)
    if not SHORTEST_TIME <= time <= DANIELS_END:
        raise NotApplicable(f"It covers 3.5 minutes to 7 hours, and this comes to {show_estimate(time)}.")
    stretched = max(time, base.duration) > DANIELS_DATA_END
    low, high = _equivalence_ends(time, base, case.distance)
    if stretched:
        _, high = _within(high, 0, 4)
    detail = f"Estimated aerobic capacity {capacity_of(base):.1f} ml/kg/min, from {base.told(case.units)}."
    caution = _cautions(time, base, case.distance, stretched=stretched)
    return Prediction("daniels_gilbert", time, low, high, (base,), detail, caution)


def _riegel(case: _Case) -> Prediction:
    """The power law, with the athlete's own exponent where two results give a sound one."""
    covered = [one for one in case.results if SHORTEST_TIME <= one.duration <= RIEGEL_END]
    if not covered:
        raise NotApplicable("It needs a result of 3.5 to 230 minutes.")
    base = _nearest(covered, case.distance)
    try:
        pair = _pair(covered, case.units)
        exponent, basis = own_exponent(*pair), tuple(dict.fromkeys((*pair, base)))
        told = " and ".join(one.told(case.units) for one in pair)
        detail = f"The athlete's own exponent {exponent:.3f}, from {told}."
        if case.distance > pair[1].distance:
            detail += f" {OWN_EXPONENT_CUTS_BOTH_WAYS}"
    except NotApplicable:
        exponent, basis = RIEGEL_EXPONENT, (base,)
        detail = f"The general exponent {RIEGEL_EXPONENT}, from {base.told(case.units)}."
    time = riegel_time(base, case.distance, exponent)
    if not SHORTEST_TIME <= time <= RIEGEL_END:
        raise NotApplicable(f"It covers 3.5 to 230 minutes, and this comes to {show_estimate(time)}.")
    low, high = _equivalence_ends(time, base, case.distance)
    return Prediction(
        "riegel", time, low, high, basis, detail, _cautions(time, base, case.distance, stretched=False)
    )


def _survey_input(case: _Case) -> tuple[list[Result], Distance]:
    """The results and the weekly distance that the recreational models may use."""
    if case.distance != MARATHON:
        raise NotApplicable("It predicts the marathon only.")
    races = [one for one in case.results if VICKERS_RACES[0] <= one.distance <= VICKERS_RACES[1]]
    if not races:
        raise NotApplicable("It needs a race of 5 to 30 km.")
    if case.weekly is None:
        raise NotApplicable("It needs the usual weekly distance.")
    return races, min(case.weekly, VICKERS_MOST_WEEK)


def _survey_answer(formula: Formula, case: _Case, time: Duration, basis: tuple[Result, ...]) -> Prediction:
    """Give the model's time its width; never faster than the power law, which is itself too fast for most."""
    bound = riegel_time(basis[-1], MARATHON)
    cautions = []
    if time < bound:
        cautions.append(f"The model says {show_estimate(time)}, faster than the power law: its time is used.")
        time = bound
    assert case.weekly is not None
    if case.weekly > VICKERS_MOST_WEEK:
        cautions.append("Weeks over 129 km (80 miles) count as that.")
    # Refusing here would hand a runner who hardly trains the faster answer of another formula.
    if case.weekly < VICKERS_LEAST_WEEK:
        cautions.append("So short a week (under 8 km, 5 miles) lies outside the survey.")
    low = Duration(max(0, time.ms - VICKERS_WIDTH.ms))
    told = " and ".join(one.told(case.units) for one in basis)
    detail = f"From {told}, and {show_distance(case.weekly, case.units)} a week."
    return Prediction(formula, time, low, time + VICKERS_WIDTH, basis, detail, " ".join(cautions))


def _vickers_one(case: _Case) -> Prediction:
    races, weekly = _survey_input(case)
    base = _nearest(races, MARATHON)
    return _survey_answer("vickers_one", case, marathon_from_one_race(base, weekly), (base,))


def _vickers_two(case: _Case) -> Prediction:
    races, weekly = _survey_input(case)
    shorter, longer = _pair(races, case.units)
    # Own limit: below it, a faster longer race could give a slower marathon.
    if longer.distance < Distance.from_km(10):
        raise NotApplicable("It needs the longer race to be at least 10 km.")
    time = marathon_from_two_races(shorter, longer, weekly)
    return _survey_answer("vickers_two", case, time, (shorter, longer))


def _own_result(case: _Case) -> Prediction:
    """The newest result over this very distance; the faster where the days are unknown."""
    same = [one for one in case.results if abs(one.distance.mm - case.distance.mm) * 100 <= case.distance.mm]
    if not same:
        raise NotApplicable(f"There is no result over a {distance_name(case.distance, case.units)}.")
    newest = min(same, key=lambda one: (-(one.day.toordinal() if one.day else 0), one.duration))
    time = newest.pace.time_for(case.distance)
    return Prediction(
        "own_result", time, *_within(time, DAY_PERCENT, DAY_PERCENT), (newest,), newest.told(case.units)
    )


_FORMULAS: Final[dict[Formula, Callable[[_Case], Prediction]]] = {
    "vickers_two": _vickers_two,
    "vickers_one": _vickers_one,
    "daniels_gilbert": _daniels_gilbert,
    "riegel": _riegel,
    "own_result": _own_result,
}


def _choose(case: _Case, given: dict[Formula, Prediction]) -> tuple[Prediction | None, str]:
    """The prediction that the paces follow, and the sentence that says why."""
    own = given.get("own_result")
    if own and all(_not_newer(other, own.basis[0]) for other in case.results):
        return own, "The newest result is over this very distance."
    if case.distance == MARATHON:
        fast = any(riegel_time(one, MARATHON) < NOT_RECREATIONAL for one in case.results)
        if fast and (equation := given.get("daniels_gilbert")):
            return (
                equation,
                "A marathon under 2:30 is no longer recreational running, which the survey models.",
            )
        for formula in ("vickers_two", "vickers_one"):
            if survey := given.get(formula):
                return survey, (
                    "It was made from recreational marathoners; the power law is more than ten minutes too fast "
                    "for half of them."
                )
        if own:
            return own, "The models of recreational marathoners don't apply; this is a race really run."
    if equation := given.get("daniels_gilbert"):
        if case.distance == MARATHON:
            return equation, "The models of recreational marathoners don't apply."
        return equation, "It takes the best of the results, and the card's other paces come from it too."
    if rest := own or given.get("riegel"):
        return rest, "No formula that would come first applies."
    return None, "No formula applies to these results."


def _not_newer(other: Result, result: Result) -> bool:
    """Whether `other` is the result itself or was surely run no later."""
    if other == result:
        return True
    return other.day is not None and result.day is not None and other.day <= result.day


def predictions(
    results: Result | Sequence[Result],
    distance: Distance,
    weekly_distance: Distance | None = None,
    *,
    units: Units = "km",
) -> Predictions:
    """Every formula's answer or refusal for `distance`, and the one to use.

    `results` are those that count; `weekly_distance` is the usual training week, asked for by the marathon
    models; `units` are those of the sentences.
    """
    given_results = (results,) if isinstance(results, Result) else tuple(results)
    case = _Case(given_results, distance, weekly_distance, units)
    given: dict[Formula, Prediction] = {}
    refused = []
    for formula, predict in _FORMULAS.items():
        try:
            given[formula] = predict(case)
        except NotApplicable as reason:
            refused.append(Refusal(formula, str(reason)))
    chosen, reason_text = _choose(case, given)
    return Predictions(distance, tuple(given.values()), tuple(refused), chosen, reason_text)
