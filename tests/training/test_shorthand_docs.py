"""Every line that the docs show is understood, and means what it meant when written again."""

import re
from pathlib import Path

import pytest

from plans.training.shorthand import parse, write

PAGE = Path(__file__).parents[2] / "docs" / "shorthand.md"
EXAMPLES = re.findall(r"^\| `([^`]+)` \|", PAGE.read_text(encoding="utf-8"), re.MULTILINE)


def test_the_page_has_examples():
    assert len(EXAMPLES) >= 20


@pytest.mark.parametrize("text", EXAMPLES)
def test_an_example_is_understood(text):
    assert parse(write(parse(text))) == parse(text)


@pytest.mark.parametrize(
    "pace",
    [
        "5K-10K",
        "MP+20 s/km",
        "10K-5 s/mi",
        "4:30/km",
        "7:15-7:30/mi",
        "effort 6-7",
        "150-160 bpm",
        "80-85 % HR",
        "steady",
    ],
)
def test_a_pace_is_understood(pace):
    assert f"`{pace}`" in PAGE.read_text(encoding="utf-8")
    (step,) = parse(f"5 km @ {pace}").parts
    assert step.target or step.manners
