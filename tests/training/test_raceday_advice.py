"""Targets with their reasons, heat, fuel and fluid."""

from __future__ import annotations

import pytest

from athletes.running.heat import HeatError
from athletes.running.performance import Result
from athletes.running.predictions import predictions
from athletes.running.units import HALF_MARATHON, MARATHON, TEN_K, Distance, parse_duration, show_duration
from plans.training.raceday_advice import fuel, grams, weather
from plans.training.raceday_target import choices

TEN_IN_40 = Result(TEN_K, parse_duration("40:00"))
# Vickers & Vertosick, one race, 40 miles a week: 3:18:17 (sources: seen-code), give or take 15 minutes.
MARATHON_OUTLOOK = predictions(TEN_IN_40, MARATHON, Distance.from_miles(40))


def told(found):
    return [(one.key, show_duration(one.time)) for one in found]


def test_without_a_goal_what_the_results_say_comes_first():
    found = choices(MARATHON_OUTLOOK, MARATHON)
    # 3:18:17 to the minute; 3 % slower 3:24:14; 2 % faster 3:14:19.
    assert told(found) == [("likely", "3:18:00"), ("careful", "3:24:00"), ("brave", "3:14:00")]
    assert all(one.speaks_for and one.speaks_against for one in found)


def test_a_goal_that_the_results_carry_comes_first():
    found = choices(MARATHON_OUTLOOK, MARATHON, parse_duration("3:20:00"))
    assert told(found)[0] == ("goal", "3:20:00")
    assert found[0].speaks_for == ("The results say it is there, and more.",)


def test_a_goal_beyond_the_range_is_shown_second_with_what_speaks_against_it():
    found = choices(MARATHON_OUTLOOK, MARATHON, parse_duration("2:59:59"))
    assert told(found)[:2] == [("likely", "3:18:00"), ("goal", "2:59:59")]
    assert "beyond the range" in found[1].speaks_against[0]


def test_a_brave_start_is_counted_out():
    brave = choices(MARATHON_OUTLOOK, MARATHON)[2]
    words = " ".join(brave.speaks_against)
    assert "Deaner 2015" in words
    # 1:37:00 and then 11.7 or 15.6 % slower: 3:25:21 and 3:29:08, to the minute.
    assert "Half-way in 1:37:00 and then slowing by so much comes to 3:25:00 to 3:29:00." in words


def test_short_races_are_not_scared_with_marathons():
    short = choices(predictions(TEN_IN_40, HALF_MARATHON), HALF_MARATHON)
    assert not any("Deaner" in words for one in short for words in one.speaks_against)


def test_in_heat_what_heat_leaves_comes_first():
    found = choices(MARATHON_OUTLOOK, MARATHON, parse_duration("3:30:00"), wbgt=25.0)
    # Mantzios 2022 [seen]: 0.3 to 0.4 % a degree over 15: 3:36:18 to 3:38:24, to the minute.
    assert told(found)[:2] == [("heat", "3:38:00"), ("goal", "3:30:00")]
    assert "3:36:00 to 3:38:00 or slower" in found[0].speaks_for[0]
    assert told(choices(MARATHON_OUTLOOK, MARATHON, wbgt=12.0))[0][0] == "likely"


def test_nothing_known_no_choice():
    assert choices(None, MARATHON) == ()
    assert told(choices(None, MARATHON, parse_duration("4:00:00"))) == [("goal", "4:00:00")]


@pytest.mark.parametrize(
    ("wbgt", "flag"),
    [
        (9.9, "white"),
        (10, "green"),
        (17.9, "green"),
        (18, "yellow"),
        (22.9, "yellow"),
        (23, "red"),
        (28, "red"),
        (28.1, "black"),
    ],
)
def test_flags_of_the_acsm(wbgt, flag):
    # Thresholds [seen in three texts], half-open, since the source's rounding leaves gaps.
    found = weather(parse_duration("3:30:00"), wbgt=wbgt)
    assert found.flag.name == flag
    assert "The race doctor decides" in found.cautions[-1]


def test_heat_from_air_and_humidity_names_its_estimate():
    found = weather(parse_duration("3:30:00"), air=30, humidity=50)
    # By hand: e = 0.5 * 6.105 * exp(17.27*30/267.7) = 21.16 hPa; 0.567*30 + 0.393*21.16 + 3.94 = 29.3.
    assert found.wbgt == pytest.approx(29.3, abs=0.1)
    assert found.flag.name == "black"
    assert "Australian Bureau of Meteorology" in found.limits
    assert any("emergency" in words for words in found.cautions)
    assert weather(parse_duration("3:30:00")) is None


@pytest.mark.parametrize(
    "given", [{"air": 30}, {"air": 80, "humidity": 50}, {"air": 20, "humidity": 130}, {"wbgt": 99}]
)
def test_weather_that_cannot_be(given):
    with pytest.raises(HeatError):
        weather(parse_duration("3:30:00"), **given)


def test_fuel_by_hand():
    # 3:30 at 60 g/h is 210 g, at 30 g/h 105 g; 90 g/h for 4:00 is 360 g.
    assert (grams(60, parse_duration("3:30:00")), grams(30, parse_duration("3:30:00"))) == (210, 105)
    assert fuel(parse_duration("4:00:00"), MARATHON).total == (120, 360)
    assert fuel(parse_duration("1:40:00"), HALF_MARATHON).hourly == (30, 60)
    assert fuel(parse_duration("50:00"), TEN_K).hourly is None
    assert fuel(parse_duration("20:00"), TEN_K).total is None


def test_fluid_is_a_range_that_bends_to_thirst_and_only_for_long_races():
    # 0.4 to 0.8 L an hour: the joint position of 2016 (Thomas, Erdman, Burke), figures from memory.
    long, short = fuel(parse_duration("3:30:00"), MARATHON).fluid, fuel(parse_duration("22:00"), TEN_K).fluid
    assert "0.4 to 0.8 litres an hour" in long[1]
    assert "thirst decides" in long[1]
    assert not any("litres" in words for words in short)


def test_drink_to_thirst_and_no_medicine_is_suggested():
    found = fuel(parse_duration("4:30:00"), MARATHON)
    words = " ".join((*found.words, *found.fluid))
    assert "Drink to thirst" in words
    assert "practised in training" in words
    assert "No anti-inflammatory painkillers" in words
    assert "ibuprofen" not in words.lower()
