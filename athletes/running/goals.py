"""Is the goal sensible? The goal time against the prediction, in plain words. It never blocks anything.

The three verdicts are our own (common practice, no source): a season's work commonly brings a few per cent,
so up to 2 % faster than predicted is inside; faster, but not past the fast end of the range, is brave.
"""

from dataclasses import dataclass
from typing import Final, Literal

from athletes.running.performance import Result, ResultError, distance_name
from athletes.running.predictions import Prediction, Predictions, predictions, show_estimate
from athletes.running.units import Distance, Duration, Units, show_distance, show_duration

Verdict = Literal["inside", "brave", "beyond", "unknown"]
USUAL_GAIN_PERCENT: Final = 2


@dataclass(frozen=True, slots=True)
class Judgement:
    """The verdict, the sentences with its numbers, and what a coach might do."""

    verdict: Verdict
    words: str
    might: tuple[str, ...]


def _verdict(goal: Duration, prediction: Prediction) -> Verdict:
    if 100 * goal.ms >= (100 - USUAL_GAIN_PERCENT) * prediction.time.ms:
        return "inside"
    return "brave" if goal >= prediction.low else "beyond"


def _gap(goal: Duration, time: Duration) -> str:
    """`The goal is 8 min (4.2 %) faster`, in seconds below two minutes."""
    seconds = round(abs(goal.ms - time.ms) / 1000)
    if seconds == 0:
        return "The goal is just that."
    amount = f"{seconds} s" if seconds < 120 else f"{round(seconds / 60)} min"
    percent = 100 * abs(goal.ms - time.ms) / time.ms
    return f"The goal is {amount} ({percent:.1f} %) {'faster' if goal < time else 'slower'}."


def result_needed(
    goal: Duration, distance: Distance, over: Distance, weekly_distance: Distance | None
) -> Duration | None:
    """The slowest time over the shorter distance `over` that would put the goal inside, to 5 s below.

    None when no believable time does, or none is needed for the question (`over` not shorter).
    """
    if over >= distance:
        return None

    def enough(seconds: int) -> bool:
        try:
            chosen = predictions(Result(over, Duration(seconds * 1000)), distance, weekly_distance).chosen
        except ResultError:
            return False
        return chosen is not None and _verdict(goal, chosen) == "inside"

    # At equal pace it is surely too slow; every faster time helps, so halving finds the border.
    slow = goal.ms * over.mm // distance.mm // 1000 + 1
    fast = slow // 2
    while not enough(fast) and fast < slow:
        fast += max(1, slow // 50)
    if fast >= slow:
        return None
    while slow - fast > 1:
        middle = (slow + fast) // 2
        fast, slow = (middle, slow) if enough(middle) else (fast, middle)
    return Duration((fast - fast % 5) * 1000)


def _might(verdict: Verdict, prediction: Prediction, goal: Duration, case: "_Asked") -> tuple[str, ...]:
    """What a coach might do about it, with this athlete's numbers."""
    if verdict == "inside":
        return ("Keep it, and look again after the next race or time trial.",)
    advice = []
    over = prediction.basis[-1].distance
    if needed := result_needed(goal, case.distance, over, case.weekly_distance):
        advice.append(
            f"Ask for a {distance_name(over, case.units)} in about {show_duration(needed)} on the way: "
            f"that would put the goal inside."
        )
    advice.append("Train by the present paces; goal pace comes in once a result supports it.")
    if verdict == "brave":
        advice.append(f"Agree on a second goal for the day, about {show_estimate(prediction.time)}.")
    else:
        advice.append(
            f"Agree on a goal nearer {show_estimate(prediction.time)}, or keep this one for a later race."
        )
    return tuple(advice)


@dataclass(frozen=True, slots=True)
class _Asked:
    distance: Distance
    weekly_distance: Distance | None
    units: Units


def judge_goal(
    goal: Duration, outlook: Predictions, weekly_distance: Distance | None = None, *, units: Units = "km"
) -> Judgement:
    """The goal over `outlook.distance` against the chosen prediction.

    Raises ResultError for a goal that nobody runs. Without a prediction the verdict is "unknown".
    """
    aim = Result(outlook.distance, goal)
    named = f"{distance_name(aim.distance, units)} in {show_duration(goal)}"
    prediction = outlook.chosen
    if prediction is None:
        return Judgement(
            "unknown", f"The goal: {named}. {outlook.reason}", ("Add a race result or a time trial.",)
        )
    verdict = _verdict(goal, prediction)
    told = {
        "inside": "That is inside what the results say.",
        "brave": "That is brave: inside the range, at its fast end.",
        "beyond": "That is beyond the range.",
    }
    on = " and ".join(result.told(units) for result in prediction.basis)
    surveyed = prediction.formula in ("vickers_one", "vickers_two")
    week = f" and {show_distance(weekly_distance, units)} a week" if surveyed and weekly_distance else ""
    words = (
        f"The goal: {named}. From {on}{week}, {prediction.title} expects about {show_estimate(prediction.time)}, "
        f"likely between {show_estimate(prediction.low)} and {show_estimate(prediction.high)}. "
        f"{_gap(goal, prediction.time)} {told[verdict]}"
    )
    return Judgement(
        verdict, words, _might(verdict, prediction, goal, _Asked(aim.distance, weekly_distance, units))
    )
