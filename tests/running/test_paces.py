import json
from itertools import pairwise

import pytest
from hypothesis import given

from athletes.running.paces import (
    RACES,
    CardError,
    PaceCard,
    PaceRange,
    make_card,
    show_range,
    span,
)
from athletes.running.performance import Result, ResultError
from athletes.running.units import (
    FIVE_K,
    HALF_MARATHON,
    MARATHON,
    TEN_K,
    Distance,
    Pace,
    parse_distance,
    parse_duration,
    show_pace,
)
from tests.running.strategies import faster_and_slower, results, weekly_distances

WEEK = Distance.from_km(64)


def result(distance, clock):
    return Result(distance, parse_duration(clock))


def card_of(clock="40:00", **options):
    return make_card(result(TEN_K, clock), weekly_distance=WEEK, **options)


class TestCard:
    def test_it_works(self):
        # 10K 40:00 is a capacity of 51.944; equivalents by Daniels & Gilbert 1979, solved beforehand:
        # 5K 19:17.6, half 1:28:20; marathon by Vickers & Vertosick from 10K 40:00 and 39.77 miles: 3:18:22.
        card = card_of()
        assert {name: show_pace(ends.mid, "km") for name, ends in card.ranges.items() if name in RACES} == {
            "5K": "3:52/km", "10K": "4:00/km", "HM": "4:12/km", "MP": "4:42/km",
        }  # fmt: skip
        assert card.capacity == 51.94
        assert card.formula == "Daniels & Gilbert 1979; marathon pace: Vickers & Vertosick 2016, one race"
        assert card.origin == "10K in 40:00"

    def test_easy_and_recovery_are_our_bands_of_the_oxygen_cost(self):
        # 0.72 and 0.60 of 51.944 are 37.40 and 31.17 ml/kg/min: 206.2 and 178.1 m/min; 0.52: 159.0 m/min.
        # Without a weekly distance marathon pace is fast enough not to push the easy band down.
        card = make_card(result(TEN_K, "40:00"))
        assert show_range(card.ranges["easy"], "km") == "4:51–5:37/km"
        assert show_range(card.ranges["recovery"], "km") == "5:37–6:17/km"

    def test_widths(self):
        # 1 % for the raced 10K, 1 % more for the halving to 5K, 1.1 % more to the half-marathon.
        card = card_of(goal=(MARATHON, parse_duration("3:10:00")))
        percents = {name: round(float(ends.width_percent), 1) for name, ends in card.ranges.items()}
        assert {name: percents[name] for name in ("5K", "10K", "HM", "MP", "goal")} == {
            "5K": 2.0, "10K": 1.0, "HM": 2.1, "MP": 2.0, "goal": 1.0,
        }  # fmt: skip

    def test_widths_stop_at_four_percent(self):
        card = make_card(result(MARATHON, "3:30:00"), weekly_distance=WEEK)
        assert float(card.ranges["5K"].width_percent) == pytest.approx(4, abs=0.001)

    def test_goal_pace_only_with_a_goal(self):
        assert "goal" not in card_of().ranges
        goal = card_of(goal=(MARATHON, parse_duration("3:10:00"))).ranges["goal"]
        assert show_pace(goal.mid, "km") == "4:30/km"

    def test_absurd_goal_is_refused(self):
        with pytest.raises(ResultError, match="For hours write 3:10:00"):
            card_of(goal=(MARATHON, parse_duration("3:10")))

    def test_note_says_what_marathon_pace_stands_on(self):
        assert card_of().notes == (
            "Marathon pace stands on a predicted 3 h 18, likely between 3 h 03 and 3 h 33.",
        )

    def test_without_weekly_distance_it_asks_for_it(self):
        notes = make_card(result(TEN_K, "40:00")).notes
        assert any("usual weekly distance" in note for note in notes)

    def test_best_of_several_results_sets_it(self):
        both = make_card([result(TEN_K, "50:00"), result(FIVE_K, "19:00")], weekly_distance=WEEK)
        assert both.origin == "5K in 19:00"

    def test_easy_stays_clear_of_a_slow_marathon_pace(self):
        card = make_card(result(TEN_K, "40:00"), weekly_distance=Distance.from_km(10))
        marathon, easy = card.ranges["MP"].mid.s_per_km, card.ranges["easy"].fast.s_per_km
        assert float(easy / marathon) == pytest.approx(1.05, abs=1e-5)

    def test_results_that_contradict_each_other_still_leave_a_range(self):
        # 5K 19:00 alone: easy 4:38 to 5:22. The 10K makes marathon pace 5:48, and 5 % below is 6:05.
        card = make_card([result(TEN_K, "50:00"), result(FIVE_K, "19:00")], weekly_distance=WEEK)
        easy, recovery = card.ranges["easy"], card.ranges["recovery"]
        assert float(easy.fast.s_per_km / card.ranges["MP"].mid.s_per_km) == pytest.approx(1.05, abs=1e-5)
        assert float(easy.slow.s_per_km / easy.fast.s_per_km) == pytest.approx(1.06, abs=1e-5)
        assert recovery.fast == easy.slow

    def test_very_slow_easy_pace_allows_walking(self):
        card = make_card(result(FIVE_K, "38:00"), weekly_distance=Distance.from_km(20))
        assert "Easy and recovery running may include walking breaks." in card.notes
        assert "Easy and recovery running may include walking breaks." not in card_of().notes

    def test_marathon_out_of_every_range_is_called_a_guess(self):
        card = make_card(result(FIVE_K, "55:00"))
        assert "Marathon pace is a guess outside every formula's range." in card.notes[0]

    def test_own_origin_is_kept(self):
        assert card_of(origin="The coach's estimate").origin == "The coach's estimate"

    @pytest.mark.parametrize("given", [[], [Result(parse_distance("1 km"), parse_duration("2:50"))]])
    def test_nothing_to_go_by_is_told(self, given):
        with pytest.raises(CardError, match=r"(needs a race result|come from a result)"):
            make_card(given)


class TestStored:
    def test_round_trip_through_json(self):
        card = card_of(goal=(MARATHON, parse_duration("3:10:00")))
        assert PaceCard.from_values(json.loads(json.dumps(card.to_values()))) == card

    @pytest.mark.parametrize(
        "spoil",
        [
            lambda values: values.pop("ranges"),
            lambda values: values["ranges"].pop("MP"),
            lambda values: values["ranges"]["5K"].pop("fast"),
            lambda values: values["ranges"]["5K"].update(fast=[0, 0]),
            lambda values: values["ranges"]["5K"].update(fast=None),
            lambda values: values["ranges"]["5K"].update(fast=[1]),
            lambda values: values.update(capacity="many"),
            lambda values: values.update(ranges=[]),
        ],
    )
    def test_what_is_no_card_is_refused(self, spoil):
        values = card_of().to_values()
        spoil(values)
        with pytest.raises(CardError, match="not a pace card"):
            PaceCard.from_values(values)


class TestRange:
    def test_ends_in_order(self):
        fast, slow = Pace.from_s_per_km(290), Pace.from_s_per_km(310)
        assert show_pace(PaceRange(fast, slow).mid, "km") == "5:00/km"
        with pytest.raises(CardError, match="fast end"):
            PaceRange(slow, fast)

    def test_printed(self):
        ends = PaceRange(Pace.from_s_per_km(290), Pace.from_s_per_km(310))
        assert show_range(ends, "km") == "4:50–5:10/km"
        assert show_range(ends, "mi") == "7:47–8:19/mi"
        assert show_range(PaceRange(ends.fast, ends.fast), "km") == "4:50/km"

    def test_span_goes_from_the_fastest_to_the_slowest(self):
        both = span(card_of("40:00"), card_of("42:00"), "a range")
        assert both.ranges["10K"].fast == card_of("40:00").ranges["10K"].fast
        assert both.ranges["10K"].slow == card_of("42:00").ranges["10K"].slow
        assert both.origin == "a range"
        assert both.capacity == card_of("42:00").capacity


@given(results(), weekly_distances)
def test_every_card_is_in_order(given_result, weekly):
    """A longer distance never has a faster pace, at either end; easy and recovery lie below marathon pace."""
    ranges = make_card(given_result, weekly_distance=weekly).ranges
    order = [ranges[name] for name in ("5K", "10K", "HM", "MP", "easy", "recovery")]
    for faster, slower in pairwise(order):
        assert faster.mid >= slower.mid
        assert faster.fast >= slower.fast
        assert faster.slow >= slower.slow


@given(results(), results(), weekly_distances)
def test_two_results_give_a_card_in_order_too(one, other, weekly):
    ranges = make_card([one, other], weekly_distance=weekly).ranges
    order = [ranges[name].mid for name in ("5K", "10K", "HM", "MP", "easy", "recovery")]
    assert order == sorted(order, reverse=True)


@given(faster_and_slower(), weekly_distances)
def test_a_faster_result_never_gives_a_slower_pace(pair, weekly):
    faster, slower = (make_card(one, weekly_distance=weekly).ranges for one in pair)
    for name in slower:
        assert faster[name].fast >= slower[name].fast
        assert faster[name].slow >= slower[name].slow


@given(results(), weekly_distances)
def test_every_card_survives_storing(given_result, weekly):
    card = make_card(given_result, weekly_distance=weekly, goal=(HALF_MARATHON, parse_duration("1:45:00")))
    assert PaceCard.from_values(json.loads(json.dumps(card.to_values()))) == card
