"""Silence: from three run days on nothing is proposed, the coach is told, the athlete is asked."""

from datetime import date, timedelta
from uuid import uuid4

import pytest

from plans.attention import words_for
from plans.models import Log
from plans.reading import Item, Week

MONDAY = date(2026, 3, 2)


def week(run_days):
    items = tuple(
        Item(
            uuid4(),
            MONDAY + timedelta(n),
            0,
            "easy",
            False,
            "8 km easy",
            "8 km easy",
            "",
            8_000_000,
            2900,
            False,
            None,
        )
        for n in run_days
    )
    return Week(MONDAY, 1, 1, "base", "Keep it even.", items)


def said(run_days, today, last=None):
    logs = [Log(day=last)] if last else []
    words = words_for([week(run_days)], logs, [], today, None, "km")
    return [word.words for word in words if word.rule == "silent"]


def test_three_run_days_in_a_row_are_told_though_the_days_are_few():
    assert said([0, 1, 2], MONDAY + timedelta(3)) == ["for 3 days, 3 run days; asked, nothing proposed"]


def test_two_are_not_yet():
    assert said([0, 1], MONDAY + timedelta(2)) == []


def test_four_days_are_told_though_the_runs_are_few():
    assert said([0, 3], MONDAY + timedelta(4)) == ["for 4 days"]


@pytest.mark.parametrize("last", [MONDAY + timedelta(2), MONDAY + timedelta(3)])
def test_a_word_ends_it(last):
    assert said([0, 1, 2], MONDAY + timedelta(3), last) == []
