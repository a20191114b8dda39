"""Guard rails: their defaults, and which layer's word holds."""

from fractions import Fraction

import pytest

from plans.training.guardrails import LIMITS, Rails, suggested_max_hard


def test_the_defaults_are_those_of_the_table():
    rails = Rails.nearest()
    assert rails == Rails()
    assert (rails.weekly_rise, rails.weekly_return, rails.travel_return) == (
        Fraction(1, 10),
        Fraction(1, 4),
        Fraction(33, 100),
    )
    assert (rails.weekly_rise_mm, rails.long_rise_mm, rails.longest_s) == (3_000_000, 2_000_000, 10_800)
    assert [rails.long_share(n) * 100 for n in (3, 4, 5, 6, 7)] == [55, 50, 42, 38, 35]
    assert (rails.max_hard, rails.gap_days, rails.min_rest) == (3, 2, 1)
    assert (rails.tolerance, rails.credit, rails.credit4) == (
        Fraction(4, 100),
        Fraction(4, 5),
        Fraction(92, 100),
    )


@pytest.mark.parametrize(
    ("days", "share", "calm"),
    [(0, 100, 0), (4, 100, 0), (5, 80, 3), (9, 80, 3), (10, 65, 7), (14, 65, 7), (15, 50, 10), (28, 50, 10), (29, 40, 14)],
)  # fmt: skip
def test_what_a_break_costs(days, share, calm):
    assert Rails().break_share(days) == Fraction(share, 100)
    assert Rails().calm_days(days) == calm


def test_the_nearest_of_athlete_template_practice_wins_limit_by_limit():
    rails = Rails.nearest(
        {"weekly_rise": 5, "max_hard": None},
        {"weekly_rise": 8, "max_hard": 2, "gap_days": None},
        {"weekly_rise": 15, "max_hard": 3, "gap_days": 3},
    )
    assert (rails.weekly_rise, rails.max_hard, rails.gap_days) == (Fraction(5, 100), 2, 3)
    assert rails.long_rise == Fraction(1, 10)


def test_a_zero_is_a_limit_and_not_a_missing_one():
    assert Rails.nearest({"min_rest": 0}, None, {"min_rest": 2}).min_rest == 0


def test_stored_rails_read_back_the_same():
    rails = Rails.nearest({"weekly_rise": 7, "longest_s": 9_900})
    assert Rails.nearest(rails.stored()) == rails


def test_what_is_no_guard_rail_is_named():
    with pytest.raises(ValueError, match="no guard rail called 'speed'"):
        Rails.nearest({"speed": 3})
    with pytest.raises(ValueError, match="cannot be negative; gap_days was given as -1"):
        Rails.nearest(None, None, {"gap_days": -1})


def test_every_limit_has_words_and_a_usual_range_with_its_default_in_it():
    for limit in LIMITS:
        assert limit.words
        assert limit.low <= limit.default <= limit.high, limit.name


def test_two_hard_days_are_suggested_from_sixty_years():
    assert (suggested_max_hard(59), suggested_max_hard(60)) == (3, 2)
