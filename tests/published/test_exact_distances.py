"""Distances of the sport (sources.md, 17) and real split times (14) through our units."""

from fractions import Fraction

from athletes.running.units import HALF_MARATHON, MARATHON, MILE, Distance, parse_distance, parse_duration


def test_half_marathon():
    # [seen] 21.0975 km.
    assert HALF_MARATHON == parse_distance("21.0975 km") == Distance.from_m(21097.5)


def test_half_marathon_in_miles_and_yards():
    # [seen] 13 miles 192.5 yards; a yard is 0.9144 m. The metric distance is its rounding.
    imperial = 13 * Fraction("1609.344") + Fraction("192.5") * Fraction("0.9144")
    assert abs(imperial - HALF_MARATHON.m) < Fraction("0.01")


def test_mile_and_marathon():
    # [memory, definition] 5280 ft of 0.3048 m; 42 195 m, which 26 miles 385 yards miss by 12 mm.
    assert MILE.mm == 5280 * 3048 // 10 == 1_609_344
    assert MARATHON.m == 42195
    assert MARATHON.mm - (26 * 1_609_344 + 385 * 9144 // 10) == 12


def test_in_miles():
    # [own]
    assert round(float(MARATHON.miles), 6) == 26.218757
    assert round(float(HALF_MARATHON.miles), 6) == 13.109379


def test_five_and_ten_miles_are_not_rounded():
    # Some public code has 8045 m and 16 090 m.
    assert parse_distance("5 mi").m == Fraction("8046.72")
    assert parse_distance("10 mi").m == Fraction("16093.44")


def test_splits_of_a_real_marathon():
    # [seen] Chicago 2023-10-08, 2:00:35: the source's own derived splits.
    at = {
        place: parse_duration(clock).ms
        for place, clock in {
            "half": "1:00:48", "30": "1:26:31", "35": "1:40:22", "40": "1:54:23", "finish": "2:00:35",
        }.items()
    }  # fmt: skip
    assert at["35"] - at["30"] == parse_duration("13:51").ms == 831_000
    assert at["40"] - at["30"] == parse_duration("27:52").ms == 1_672_000
    assert at["finish"] - at["half"] == parse_duration("59:47").ms
