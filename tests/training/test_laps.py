"""Planned pieces in a recorded run: found where they stand out, silence where they don't."""

from __future__ import annotations

from athletes.running.tracks import read_run
from plans.training.laps import find_pieces, hard_blocks
from plans.training.profile import Piece
from tests.running.tracks import EASY, REPEATS, gpx

# 5 x 3 min with 2 min jog, ten minutes easy before and after.
PLANNED = [Piece(600, 3), *[Piece(180, 7, True), Piece(120, 2)] * 4, Piece(180, 7, True), Piece(600, 3)]


def test_five_pieces_are_found_with_their_length() -> None:
    found = find_pieces(read_run(gpx(REPEATS)).samples, PLANNED)
    assert len(found) == 5
    for piece in found:
        assert abs(piece.duration.s - 180) <= 15
        assert abs(piece.distance.m - 756) <= 60  # 180 s at 4.2 m/s
        assert piece.planned_s == 180


def test_one_piece_too_few_is_not_told_apart() -> None:
    assert find_pieces(read_run(gpx([*REPEATS[:7], (900.0, 2.6)])).samples, PLANNED) == ()


def test_an_even_run_has_no_pieces() -> None:
    assert find_pieces(read_run(gpx(EASY)).samples, PLANNED) == ()


def test_an_easy_plan_has_none_to_find() -> None:
    assert find_pieces(read_run(gpx(REPEATS)).samples, [Piece(1800, 3)]) == ()


def test_a_tempo_in_the_middle() -> None:
    planned = [Piece(900, 3), Piece(1200, 6, True), Piece(600, 3)]
    (found,) = find_pieces(read_run(gpx([(900, 2.7), (1200, 3.5), (600, 2.7)])).samples, planned)
    assert abs(found.duration.s - 1200) <= 20


def test_pieces_without_a_break_are_one() -> None:
    assert hard_blocks(
        [Piece(60, 3), Piece(100, 6, True), Piece(50, 8, True), Piece(60, 2), Piece(30, 7, True)]
    ) == (150, 30)
