"""Courses as they come: right, short, long, without heights, with spikes, in two parts, out and back, and huge."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import gpxpy
import pytest

from athletes.running.course import Course, CourseError, clean, flat_course, read_course
from athletes.running.tracks import TrackError
from athletes.running.units import HALF_MARATHON, MARATHON, Distance, Duration, show_distance
from plans.training.raceday import make_plan
from tests.gpx_samples import samples

__all__ = ["samples"]

DEGREE_M = 111_319.4908  # of latitude on the sphere of 6,378,137 m: by hand, 2 pi r / 360


def north(metres, height, east=8.0):
    """A point so many metres north of 50 degrees."""
    return (50 + metres / DEGREE_M, east, height)


def line(length_m, *, step=20.0, height=lambda m: 100.0):
    count = round(length_m / step)
    return [north(length_m * n / count, height(length_m * n / count)) for n in range(count + 1)]


def gpx(*parts, kind="trk"):
    def point(lat, lon, height, name):
        inner = f"<ele>{height:.2f}</ele>" if height is not None else ""
        return f'<{name} lat="{lat:.7f}" lon="{lon:.7f}">{inner}</{name}>'

    if kind == "rte":
        inside = "".join(f"<rte>{''.join(point(*p, 'rtept') for p in part)}</rte>" for part in parts)
    else:
        inside = (
            "<trk>"
            + "".join(f"<trkseg>{''.join(point(*p, 'trkpt') for p in part)}</trkseg>" for part in parts)
            + "</trk>"
        )
    return f'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1">{inside}</gpx>'.encode()


def hill(m):
    """18 km: 100 m up to 6 km, 20 m down to 9 km, 170 m up to 15 km, 250 m down to 18 km: 270 up, 270 down."""
    places, heights = (0, 6000, 9000, 15000, 18000), (50, 150, 130, 300, 50)
    at = max(n for n in range(4) if m >= places[n]) if m < 18000 else 3
    share = (m - places[at]) / (places[at + 1] - places[at])
    return heights[at] + share * (heights[at + 1] - heights[at])


def test_an_18_km_hill_with_known_climb():
    course = read_course(gpx(line(18_000, height=hill)))
    up, down = course.climb_mm
    assert course.measured.m == pytest.approx(18_000, abs=5)
    assert up / 1000 == pytest.approx(270, rel=0.02)
    assert down / 1000 == pytest.approx(270, rel=0.02)
    assert course.notes == ()


def test_noise_of_a_satellite_is_no_hill():
    # Heights off by 1.5 m up and down, point by point, on a level road.
    flat = line(10_000, step=10, height=lambda m: 100 + (1.5 if round(m / 10) % 2 else -1.5))
    assert read_course(gpx(flat)).climb_mm == (0, 0)


@pytest.mark.parametrize("metres", [41_900, 42_195, 42_600])
def test_a_course_a_little_short_or_long_is_spread_over_the_race(metres):
    course = read_course(gpx(line(metres, height=lambda m: 100 + m / 1000))).fitted(MARATHON)
    assert course.distance == MARATHON
    told = f"The file measures {show_distance(course.measured, 'km')}, the race is 42.2 km"
    assert any(told in note for note in course.notes) == (metres != 42_195)
    plan = make_plan(Duration(4 * 3600 * 1000), MARATHON, course=course)
    assert sum(s.duration.ms for s in plan.splits) == 4 * 3600 * 1000


@pytest.mark.parametrize("metres", [40_000, 44_000, 21_097])
def test_the_course_of_another_distance_is_told(metres):
    with pytest.raises(CourseError, match=r"The file measures .* km, the race is 42.2 km. Is it the course"):
        read_course(gpx(line(metres, step=50))).fitted(MARATHON)


def test_without_heights_it_counts_as_flat():
    course = read_course(gpx(line(21_097.5, height=lambda m: None)))
    assert course.notes == ("There are no heights in this file, so the course counts as flat.",)
    assert course.fitted(HALF_MARATHON).is_flat
    assert not course.known


def test_a_few_missing_heights_are_filled_in_between():
    points = line(18_000, height=hill)
    holes = [(lat, lon, None if 300 <= n < 340 else h) for n, (lat, lon, h) in enumerate(points)]
    course = read_course(gpx(holes))
    assert course.notes == ("40 of 901 heights are missing and were filled in between.",)
    assert course.climb_mm[0] / 1000 == pytest.approx(270, rel=0.02)


def test_spikes_in_height_and_place_are_left_out_and_said():
    points = line(18_000, height=hill)
    lat, lon, height = points[400]
    points[200] = (*points[200][:2], 900.0)
    points[400] = (lat, lon + 0.05, height)
    course = read_course(gpx(points))
    assert course.notes == (
        "1 point far off the way was left out.",
        "1 height that no runner could climb was left out.",
    )
    assert course.measured.m == pytest.approx(18_000, abs=5)
    assert course.climb_mm[0] / 1000 == pytest.approx(270, rel=0.02)


def test_two_parts_are_one_way_and_a_wide_gap_is_said():
    points = line(18_000, height=hill)
    near = read_course(gpx(points[:450], points[450:]))
    assert (near.measured.m, near.notes) == (pytest.approx(18_000, abs=5), ())
    wide = read_course(gpx(points[:400], points[430:]))
    assert wide.measured.m == pytest.approx(18_000, abs=5)
    assert "There is a gap of 620 m between its parts; a straight line was taken there." in wide.notes
    apart = read_course(gpx(points[:400], points[500:]))
    assert apart.measured.m == pytest.approx(18_000 - 101 * 20, abs=5)
    assert "Two of its parts lie 2.02 km apart; the ground between them was not counted." in apart.notes


@pytest.mark.parametrize("step", [20, 500])
def test_out_and_back_keeps_its_turn(step):
    out = line(9_000, step=step, height=hill)
    course = read_course(gpx(out + out[-2::-1]))
    assert course.measured.m == pytest.approx(18_000, abs=10)
    assert course.height_at(0) == pytest.approx(course.height_at(course.distance.mm), abs=1000)


def test_a_route_is_a_course_too():
    assert read_course(gpx(line(10_000), kind="rte")).measured.m == pytest.approx(10_000, abs=5)


def test_a_hundred_thousand_points_are_read():
    course = read_course(gpx(line(42_195, step=0.42195, height=lambda m: 100 + m / 500)))
    assert course.measured.m == pytest.approx(42_195, rel=0.002)
    assert len(course.points) < 2_000
    assert course.climb_mm[0] / 1000 == pytest.approx(84.4, rel=0.02)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"%PDF-1.7", "can't be read as XML"),
        (b"<html/>", "no GPX"),
        (gpx(), "no track and no route"),
        (gpx(line(300)), "shorter than 400 m"),
        (gpx([(95.0, 8.0, 1.0), (96.0, 8.0, 1.0)]), "nowhere on earth"),
        (gpx(line(5000)).replace(b'lat="50.0000000"', b'lat="here"'), "damaged"),
        (gpx(line(5000)).replace(b'lat="50.0000000"', b""), "damaged"),
        (b'<!DOCTYPE gpx [<!ENTITY x "y">]><gpx>&x;</gpx>', "entities"),
    ],
)
def test_what_is_no_course_gets_a_sentence(content, said):
    with pytest.raises((CourseError, TrackError), match=said):
        read_course(content)


def test_kept_and_read_again_it_is_the_same():
    course = read_course(gpx(line(18_000, height=hill)))
    assert Course.from_values(course.to_values()) == course
    assert flat_course(MARATHON).distance == MARATHON


def test_numbers_that_are_none_are_missing_heights():
    points = line(5_000)
    content = gpx(points).replace(b"<ele>100.00</ele>", b"<ele>NaN</ele>", 3)
    assert read_course(content).notes == ("3 of 251 heights are missing and were filled in between.",)
    assert clean([points]).is_flat


# gpxpy's own samples (source distribution 1.6.2, Apache-2.0), fetched by pip at test time, not kept with the
# program. Lengths in m by gpxpy itself.
SAMPLES = {
    "korita-zbevnica.gpx": 14913.7,
    "cerknicko-jezero.gpx": 4580.1,
    "around-visnjan-with-car.gpx": 2736.3,
    "Mojstrovka.gpx": 2700.6,
}


def joined(path: Path) -> float:
    """Metres between parts of a file that lie within a kilometre, by gpxpy: it counts none of them, a course does."""
    parts = [s.points for t in gpxpy.parse(path.read_text()).tracks for s in t.segments if s.points]
    gaps = [a[-1].distance_2d(b[0]) for a, b in pairwise(parts)]
    return sum(gap for gap in gaps if gap <= 1000)


@pytest.mark.parametrize(("name", "metres"), SAMPLES.items())
def test_samples_of_gpxpy_measure_as_gpxpy_says(samples, name, metres):
    course = read_course((samples / name).read_bytes())
    assert course.measured.m == pytest.approx(metres + joined(samples / name), rel=0.005)
    assert course.distance == Distance(course.points[-1].mm)
