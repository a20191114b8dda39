"""What effort a session asks for. The numbers of the parts are the house's own (common practice, no source)."""

from __future__ import annotations

import pytest

from plans.training.asking import asked_of, effort_asked, is_hard_asked
from plans.training.profile import Piece
from plans.training.shorthand import parse
from tests.training.session_cards import exact_card


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("8 km easy", 3),
        ("30 min recovery", 2),
        ("8 km easy with 6 x 20 s strides", 3),  # strides are quick, not hard
        ("2 km easy; 5 x 3 min @ 10K, 2 min jog; 2 km easy", 7),
        ("2 km easy; 20 min tempo; 2 km easy", 6),
        ("2 km easy; 6 x 800 m @ 5K, 90 s jog; 2 km easy", 8),
        ("long run 30 km", 4),  # easy running, and one more for lasting so long
        ("long run 26 km, last 8 km @ MP", 6),  # marathon pace is 5, and one more
        ("race 10 km", 9),
        ("rest", None),
    ],
)
def test_what_a_session_asks_for(text, asked):
    assert effort_asked(parse(text), exact_card) == asked


def test_a_short_hard_part_counts_with_the_next_below_it():
    # A minute at 9 and three at 7: three minutes or more in all were run at 7 or above.
    assert asked_of((Piece(1200, 3), Piece(60, 9, True), Piece(180, 7, True))) == 7


def test_marathon_pace_is_where_hard_begins():
    assert [is_hard_asked(n) for n in (3, 4, 5, 6)] == [False, False, True, True]
