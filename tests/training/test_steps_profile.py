"""The pieces behind a picture of effort over time."""

from hypothesis import given, settings

from plans.training.profile import Piece, profile
from plans.training.shorthand import parse
from tests.training.session_cards import exact_card, wide_card
from tests.training.session_trees import sessions


def of(text):
    return profile(parse(text), exact_card)


def test_a_quality_session_in_order():
    assert of("10 min easy; 2 x 3 min @ 10K, 2 min jog; 5 min easy") == (
        Piece(600, 3),
        Piece(180, 7, True),
        Piece(120, 2),
        Piece(180, 7, True),
        Piece(300, 3),
    )


def test_a_fast_end_comes_last():
    assert of("12 km with last 4 km @ MP") == (Piece(8 * 360, 3), Piece(1200, 5, True))


def test_repeats_inside_a_run_stand_in_its_middle():
    assert of("10 km with 2 x 1 km @ MP, 1 km easy") == (
        Piece(1260, 3),
        Piece(300, 5, True),
        Piece(360, 3),
        Piece(300, 5, True),
        Piece(1260, 3),
    )


def test_rest_is_empty():
    assert of("rest") == ()


@given(sessions)
@settings(max_examples=150, deadline=None)
def test_pieces_are_sound_and_few(session):
    pieces = profile(session, wide_card)
    assert len(pieces) <= 400
    assert all(piece.seconds > 0 and 0 <= piece.effort <= 10 for piece in pieces)
