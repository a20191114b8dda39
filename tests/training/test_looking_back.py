"""What held and what did not, for one race and over many; expected sentences and numbers by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from athletes.running.units import Duration
from plans.training.looking_back import LEAST, Case, Raced, Training, findings, over_many

KM = 1_000_000


def minutes(number: float) -> Duration:
    return Duration(round(number * 60_000))


FORETOLD = (minutes(235), minutes(240), minutes(250))
TRAINED = Training(
    weeks=16, first_mm=900 * KM, stood_mm=800 * KM, run_mm=680 * KM, long=(10, 12), quality=(13, 16)
)


def told(training: Training | None, raced: Raced) -> dict[str, tuple[bool | None, str]]:
    return {one.head: (one.held, one.words) for one in findings(training, raced)}


def test_a_race_that_held() -> None:
    raced = Raced(minutes(242.4), FORETOLD, target=minutes(240), second_half=Fraction(5, 100))
    assert told(TRAINED, raced) == {
        "Prediction": (
            True,
            "Foretold 3:55:00 to 4:10:00; the result is inside, 1.0 % slower than its middle.",
        ),
        "Target": (True, "4:00:00 was the target; run 2:24 slower."),
        "Even running": (
            True,
            "The second half was 5.0 % slower than the first. Usual in marathons: 12 to 16 % slower (Deaner 2015).",
        ),
        # 680 of 800 km is 85 %; 10 of 12 is 83 %, 13 of 16 is 81 %.
        "Distance": (True, "85 % of what was planned in 16 weeks was run."),
        "Long runs": (False, "10 of 12 run."),
        "Quality sessions": (False, "13 of 16 run."),
    }


def test_a_race_that_did_not() -> None:
    raced = Raced(minutes(264), FORETOLD, target=minutes(240), second_half=Fraction(14, 100))
    found = told(None, raced)
    assert found["Prediction"] == (
        False,
        "Foretold 3:55:00 to 4:10:00; the result is outside, 10.0 % slower than its middle.",
    )
    assert found["Target"] == (False, "4:00:00 was the target; run 24:00 slower.")
    assert found["Even running"][0] is False
    assert set(found) == {"Prediction", "Target", "Even running"}


@pytest.mark.parametrize(
    ("training", "head"),
    [
        (Training(0, 0, 0, 0, (0, 0), (0, 0)), "Distance"),
        (Training(4, KM, KM, KM, (0, 0), (1, 1)), "Long runs"),
        (None, "Prediction"),
    ],
)
def test_what_is_not_known_is_not_judged(training: Training | None, head: str) -> None:
    assert told(training, Raced(minutes(240)))[head][0] is None


def case(slower: int, share: int = 90, half: int | None = None) -> Case:
    """A race so many per mille slower than foretold, after so many per cent of its plan."""
    time = Duration(10_000_000 + slower * 10_000)
    foretold = (Duration(9_900_000), Duration(10_000_000), Duration(10_100_000))
    training = Training(10, 100 * KM, 100 * KM, share * KM, long=(8, 10), quality=(5, 5))
    return Case(Raced(time, foretold, second_half=None if half is None else Fraction(half, 1000)), training)


def numbers(cases: list[Case]) -> dict[str, tuple[int, str, str]]:
    return {one.head: (one.n, one.words, one.left_out) for one in over_many(cases)}


def test_too_few_say_nothing() -> None:
    found = numbers([case(5)] * (LEAST - 1))
    assert all(words == "" and left for _, words, left in found.values())
    assert found["Results inside what was foretold"] == (7, "", "7 of at least 8: too few to say anything.")
    assert all(n == 0 for n, _, _ in numbers([]).values())


def test_few_honest_numbers() -> None:
    # Per mille off the middle: -20, -10, 0, 10 after 90 % of the plan; 20, 30, 40, 50 after 60 %.
    cases = [case(-20), case(-10), case(0), case(10), case(20, 60), case(30, 60), case(40, 60), case(50, 60)]
    found = numbers(cases)
    # Inside: from -10 to 10 per mille of the middle, ends included.
    assert found["Results inside what was foretold"] == (8, "3 of 8.", "")
    # Median of the eight: between 10 and 20. Quartiles (inclusive): at 1.75 and 5.25 of the row 0 to 7.
    assert found["Result beside the middle of the prediction"] == (
        8,
        "1.5 % slower; half of them between 0.2 % faster and 3.2 % slower.",
        "",
    )
    assert found["The same, of those who ran 85 % or more of their plan"][:2] == (4, "")
    assert found["The same, of those who ran less"][:2] == (4, "")
    assert found["Second half beside the first"][:2] == (0, "")
    assert found["Long runs done"] == (8, "64 of 80.", "")


def test_halves_over_many() -> None:
    found = numbers([case(0, half=n) for n in (0, 0, 0, 100, 100, 100, 100, 100)])
    assert found["Second half beside the first"][1] == (
        "10.0 % slower; half of them between as fast and 10.0 % slower."
    )
