from athletes.running.effort import EFFORT_WORDS, PACE_EFFORTS, effort_at
from athletes.running.paces import make_card
from athletes.running.performance import Result
from athletes.running.units import FIVE_K, MARATHON, TEN_K, Distance, parse_duration

TEN = Result(TEN_K, parse_duration("40:00"))


def card_with(distance, clock):
    return make_card(TEN, weekly_distance=Distance.from_km(64), goal=(distance, parse_duration(clock)))


def test_words_for_0_to_10():
    assert len(EFFORT_WORDS) == len(set(EFFORT_WORDS)) == 11


def test_faster_paces_are_harder():
    order = [PACE_EFFORTS[name] for name in ("recovery", "easy", "MP", "HM", "10K", "5K")]
    assert order == [2, 3, 5, 6, 7, 8]


def test_goal_pace_is_as_hard_as_the_pace_beside_it():
    assert effort_at(card_with(MARATHON, "3:16:00"), "goal") == 5
    assert effort_at(card_with(FIVE_K, "19:00"), "goal") == 8
    assert effort_at(card_with(FIVE_K, "19:00"), "easy") == 3
