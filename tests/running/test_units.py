from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.running.units import (
    HALF_MARATHON,
    MARATHON,
    MILE,
    Distance,
    Duration,
    Pace,
    UnitError,
    parse_distance,
    parse_duration,
    parse_pace,
    show_distance,
    show_duration,
    show_pace,
)
from tests.running.strategies import distances, durations, units

KM = Distance(1_000_000)


class TestDistance:
    @pytest.mark.parametrize(
        ("text", "mm"),
        [
            ("10 km", 10_000_000), ("10km", 10_000_000), ("10k", 10_000_000), ("10K", 10_000_000),
            ("5,5 km", 5_500_000), ("5.5 KM", 5_500_000), ("13.1 mi", 21_082_406), ("1 mile", 1_609_344),
            ("3 miles", 4_828_032), ("800 m", 800_000), ("400m", 400_000), ("1,500 m", 1_500_000),
            ("1500 metres", 1_500_000), ("half marathon", 21_097_500), ("Half-Marathon", 21_097_500),
            ("marathon", 42_195_000), ("  21.0975   km ", 21_097_500), ("8", 8_000_000),
        ],
    )  # fmt: skip
    def test_reads_what_people_type(self, text, mm):
        assert parse_distance(text) == Distance(mm)

    def test_bare_number_is_in_the_athletes_units(self):
        assert parse_distance("6", "mi").mm == 9_656_064

    @pytest.mark.parametrize(
        ("text", "sentence"),
        [
            ("", "is not a distance. Write it like 10 km"),
            ("far", "“far” is not a distance"),
            ("10 kg", "“10 kg” is not a distance"),
            ("10 km 5 mi", "is not a distance"),
            ("-5 km", "is not a distance"),
            ("0 km", "“0 km” is no distance at all"),
            ("0.0000001 m", "no distance at all"),
            ("5000 km", "“5000 km” is over 1000 km"),
            ("٣ km", "is not a distance"),
            ("10:00", "is not a distance"),
            ("x" * 500, "…” is not a distance"),
        ],
    )
    def test_refuses_in_a_sentence(self, text, sentence):
        with pytest.raises(UnitError) as error:
            parse_distance(text)
        assert sentence in str(error.value)
        assert str(error.value).startswith("“")
        assert len(str(error.value)) < 130

    @pytest.mark.parametrize(
        ("distance", "km", "mi"),
        [
            (MARATHON, "42.2 km", "26.22 mi"),
            (HALF_MARATHON, "21.1 km", "13.11 mi"),
            (KM, "1 km", "1000 m"),
            (MILE, "1.61 km", "1 mi"),
            (Distance(400_000), "400 m", "400 m"),
            (Distance(804_672), "805 m", "0.5 mi"),
            (Distance(999_600), "1 km", "0.62 mi"),
            (Distance(0), "0 km", "0 mi"),
            (Distance(100_000_000), "100 km", "62.14 mi"),
        ],
    )
    def test_prints_in_both_units(self, distance, km, mi):
        assert (show_distance(distance, "km"), show_distance(distance, "mi")) == (km, mi)

    def test_negative_is_refused(self):
        with pytest.raises(UnitError, match="can't be negative"):
            Distance(-1)

    def test_floats_are_read_as_written(self):
        assert Distance.from_km(0.1).mm == 100_000
        assert Distance.from_miles(26.2).mm == 42_164_813

    @given(distances.filter(lambda one: one.mm >= 10_000), units)
    def test_print_and_parse_agree(self, distance, units):
        shown = show_distance(distance, units)
        again = parse_distance(shown, units)
        assert show_distance(again, units) == shown
        # To a metre below a kilometre or mile written in metres, else to half of the second place.
        assert abs(again.mm - distance.mm) <= (500 if shown.endswith(" m") else 8_047)


class TestDuration:
    @pytest.mark.parametrize(
        ("text", "ms"),
        [
            ("3:45:10", 13_510_000), ("45:10", 2_710_000), ("4'50\"", 290_000), ("4’50”", 290_000),
            ("4'5", 245_000), ("19:57.3", 1_197_300), ("12:35,36", 755_360), ("75:10", 4_510_000),
            ("1 h 30", 5_400_000), ("1h30", 5_400_000), ("1 h 30 min", 5_400_000), ("45 min", 2_700_000),
            ("45min", 2_700_000), ("90 s", 90_000), ("1.5 h", 5_400_000), ("2h5min3s", 7_503_000),
            ("40'", 2_400_000), ("0:48", 48_000), ("10:05:00", 36_300_000),
        ],
    )  # fmt: skip
    def test_reads_what_people_type(self, text, ms):
        assert parse_duration(text) == Duration(ms)

    @pytest.mark.parametrize(
        ("text", "sentence"),
        [
            ("45", "“45” could be minutes or hours. Write 45:10"),
            ("3.45", "could be minutes or hours"),
            ("4:75", "“4:75” has 60 or more where 0 to 59 belongs"),
            ("1:60:00", "has 60 or more"),
            ("4'75\"", "has 60 or more"),
            ("0:00", "“0:00” is no time at all"),
            ("0 min", "no time at all"),
            ("-4:50", "is not a time"),
            ("fast", "“fast” is not a time. Write it like 45:10"),
            ("", "is not a time"),
            ("3:4:5:6", "is not a time"),
            ("999:00:00", "is over 100 hours"),
        ],
    )
    def test_refuses_in_a_sentence(self, text, sentence):
        with pytest.raises(UnitError) as error:
            parse_duration(text)
        assert sentence in str(error.value)

    @pytest.mark.parametrize(
        ("ms", "shown"),
        [
            (239_600, "4:00"), (239_499, "3:59"), (3_599_500, "1:00:00"), (13_510_000, "3:45:10"),
            (48_000, "0:48"), (0, "0:00"), (7_235_000, "2:00:35"),
        ],
    )  # fmt: skip
    def test_prints_without_a_sixtieth_second(self, ms, shown):
        assert show_duration(Duration(ms)) == shown

    def test_prints_parts_of_a_second(self):
        assert show_duration(Duration(755_360), 2) == "12:35.36"
        assert show_duration(Duration(59_960), 1) == "1:00.0"

    @given(durations)
    def test_print_and_parse_agree(self, duration):
        shown = show_duration(duration, 3)
        assert parse_duration(shown) == duration

    @given(durations.filter(lambda one: 500 <= one.ms < 359_999_500))
    def test_print_and_parse_agree_to_the_second(self, duration):
        again = parse_duration(show_duration(duration))
        assert abs(again.ms - duration.ms) <= 500
        assert show_duration(again) == show_duration(duration)


class TestPace:
    @pytest.mark.parametrize(
        ("text", "s_per_km"),
        [
            ("4:50/km", 290), ("4:50 / km", 290), ("4'50\"", 290), ("4:50 min/km", 290), ("4:50 per km", 290),
            ("4:50", 290), ("12 km/h", 300), ("12,5 km/h", 288),
            ("7:45/mi", Fraction(465_000_000, 1_609_344)), ("7:45 per mile", Fraction(465_000_000, 1_609_344)),
            ("7.5 mph", Fraction(480_000_000, 1_609_344)),
        ],
    )  # fmt: skip
    def test_reads_what_people_type(self, text, s_per_km):
        assert parse_pace(text).s_per_km == s_per_km

    def test_bare_time_is_per_the_athletes_unit(self):
        assert parse_pace("7:45", "mi") == parse_pace("7:45/mi")

    @pytest.mark.parametrize(
        ("text", "sentence"),
        [
            ("4:50/kg", "“4:50/kg” is not a pace"),
            ("4:50/m", "is not a pace"),
            ("4:50/km/mi", "is not a pace"),
            ("4:75/km", "has 60 or more"),
            ("0 km/h", "is not a pace"),
            ("1:00/km", "1:30 to 40:00 per km is possible"),
            ("50:00", "1:30 to 40:00 per km is possible"),
            ("5", "is not a pace. Write it like 4:50/km"),
            ("", "is not a pace"),
        ],
    )
    def test_refuses_in_a_sentence(self, text, sentence):
        with pytest.raises(UnitError) as error:
            parse_pace(text)
        assert sentence in str(error.value)

    def test_rounding_never_reaches_sixty(self):
        assert show_pace(Pace.from_s_per_km(239.6), "km") == "4:00/km"
        assert show_pace(Pace(KM, Duration(239_400)), "km") == "3:59/km"

    def test_same_pace_in_both_units(self):
        pace = Pace.from_s_per_km(300)
        assert (show_pace(pace, "km"), show_pace(pace, "mi")) == ("5:00/km", "8:03/mi")

    def test_time_and_distance(self):
        pace = Pace.from_s_per_km(300)
        assert pace.time_for(MARATHON) == Duration(12_658_500)
        assert pace.distance_in(Duration(600_000)) == Distance(2_000_000)

    def test_compared_by_speed(self):
        fast, slow = Pace.from_s_per_km(240), Pace.from_s_per_km(300)
        assert slow < fast
        assert max(slow, fast) is fast
        assert Pace(KM, Duration(300_000)) == Pace(Distance(2_000_000), Duration(600_000))
        assert len({Pace(KM, Duration(300_000)), slow}) == 1

    def test_of_nothing_is_refused(self):
        with pytest.raises(UnitError, match="above zero"):
            Pace(Distance(0), Duration(1000))

    @given(st.integers(90_500, 2_399_000), units)
    def test_print_and_parse_agree(self, ms, units):
        pace = Pace(KM, Duration(ms))
        shown = show_pace(pace, units)
        again = parse_pace(shown, units)
        assert show_pace(again, units) == shown
        assert abs(again.s_per_km - pace.s_per_km) <= Fraction(1, 2)

    @given(st.integers(120_000, 900_000), distances)
    def test_time_for_a_distance_gives_the_distance_back(self, ms, distance):
        pace = Pace(KM, Duration(ms))
        # A millisecond is up to 8.4 mm at the fastest of these paces.
        back = pace.distance_in(pace.time_for(distance)).mm if pace.time_for(distance).ms else distance.mm
        assert abs(back - distance.mm) <= 5
