"""A set of changes in one line."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from plans.issuing import Content
from plans.telling import Difference, summary

KM = 1_000_000
SUNDAY = date(2026, 3, 8)


def run(role, km, day, text=None, **values):
    words = text or (f"long run {km} km" if role == "long" else f"{km} km easy")
    return Content(day, 0, role, False, words, "", km * KM, km * 340, **values)


def shorter(role, was, now, day):
    return Difference(run(role, was, day), run(role, now, day))


@pytest.mark.parametrize(
    ("differences", "line"),
    [
        ([], ""),
        ([shorter("long", 26, 14, SUNDAY)], "Long run 14 km instead of 26 km on Sun 8 Mar"),
        (
            [shorter("long", 26, 14, SUNDAY), shorter("long", 28, 18, SUNDAY + timedelta(7))],
            "2 long runs shorter, first 14 km instead of 26 km on Sun 8 Mar",
        ),
        (
            [shorter("easy", 8, 6, SUNDAY - timedelta(n)) for n in (1, 3)],
            "Easy runs shorter in the week of Mon 2 Mar",
        ),
        (
            [shorter("easy", 8, 6, SUNDAY + timedelta(7 * n)) for n in range(3)]
            + [shorter("long", 26, 14, SUNDAY)],
            "Long run 14 km instead of 26 km on Sun 8 Mar; easy runs shorter in 3 weeks",
        ),
        ([shorter("easy", 6, 8, SUNDAY)], "Easy run 8 km instead of 6 km on Sun 8 Mar"),
    ],
)
def test_like_with_like_key_sessions_first(differences, line):
    assert summary(differences, "km") == line


def test_out_moved_and_run_easy():
    tuesday = date(2026, 3, 3)
    quality = run("quality", 10, tuesday, "2 km easy; 5 x 1 km @ 10K, 2 min jog; 2 km easy")
    out = Difference(quality, replace(quality, removed=True))
    moved = Difference(quality, replace(quality, day=tuesday + timedelta(2)))
    easy = Difference(quality, run("easy", 8, tuesday))
    assert summary([out], "km") == "Quality session on Tue 3 Mar taken out"
    assert summary([moved], "km") == "Quality session moved from Tue 3 Mar to Thu 5 Mar"
    assert summary([easy], "km") == "Quality session on Tue 3 Mar run easy"


def test_nothing_different_says_nothing():
    same = run("easy", 8, SUNDAY)
    assert summary([Difference(same, replace(same, slot=1))], "km") == ""


def test_in_miles():
    mile = 1_609_344
    before, after = (replace(run("long", 20, SUNDAY), planned_mm=n * mile) for n in (13, 8))
    assert summary([Difference(before, after)], "mi") == "Long run 8 mi instead of 13 mi on Sun 8 Mar"


def test_what_is_too_much_for_a_phone_is_counted():
    many = [shorter("long", 26, 14, SUNDAY)] + [
        Difference(
            run(role, 8, SUNDAY - timedelta(n)), replace(run(role, 8, SUNDAY - timedelta(n)), removed=True)
        )
        for n, role in ((1, "easy"), (2, "quality"), (3, "easy"))
    ]
    line = summary(many, "km", longest=90)
    assert line == "Long run 14 km instead of 26 km on Sun 8 Mar; and 3 more changes"
