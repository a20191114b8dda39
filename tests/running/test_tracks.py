"""GPX in, a run out. Lengths by hand: so many seconds at so many metres a second."""

from __future__ import annotations

import pytest

from athletes.running.tracks import MOST_BYTES, TrackError, read_run, read_track
from athletes.running.units import Distance, Duration
from tests.running.tracks import EASY, RIDE, gpx


def near(distance: Distance, metres: float) -> bool:
    return abs(distance.mm - metres * 1000) < metres * 2  # 0.2 %


def test_an_even_run() -> None:
    track = read_run(gpx(EASY))
    assert near(track.distance, 5400)
    assert track.moving == track.elapsed == Duration.from_s(1800)
    assert track.climb_mm is None


def test_splits_per_kilometre_and_mile() -> None:
    track = read_run(gpx(EASY))
    km = track.splits("km")
    assert len(km) == 6
    assert all(abs(split.duration.ms - 333_333) < 800 for split in km[:5])
    assert near(km[5].distance, 400) or abs(km[5].distance.mm - 400_000) < 11_000
    assert sum(split.distance.mm for split in km) == track.distance.mm
    miles = track.splits("mi")
    assert len(miles) == 4
    assert abs(miles[0].duration.ms - 536_448) < 1_500


def test_standing_still_is_not_moving() -> None:
    track = read_run(gpx([(600, 3.0), (300, 0.0), (600, 3.0)]))
    assert track.elapsed == Duration.from_s(1500)
    assert track.moving == Duration.from_s(1200)
    assert near(track.distance, 3600)


def test_climb_is_gpxpys() -> None:
    track = read_run(gpx(EASY, heights=True))  # a fiftieth of 5400 m
    assert track.climb_mm is not None
    assert abs(track.climb_mm - 108_000) < 1_500


def test_laps_are_the_recorders_new_beginnings() -> None:
    pieces = read_run(gpx([(300, 3.0), (600, 3.5), (300, 3.0)], breaks=True)).pieces()
    assert [round(piece.duration.s) for piece in pieces] == [300, 600, 300]
    assert near(pieces[1].distance, 2100)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"  \n", "empty"),
        (b"x" * (MOST_BYTES + 1), "10 MB"),
        (b"not xml at all", "not a GPX file"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not a GPX file"),
        (b'<?xml version="1.0"?><kml/>', "no GPX"),
        (b'<!DOCTYPE gpx [<!ENTITY a "aaaa">]><gpx>&a;</gpx>', "entities"),
        (b'<!DOCTYPE gpx SYSTEM "file:///etc/passwd"><gpx/>', "entities"),
        (b"<gpx/>", "no points"),
        (b'<gpx version="1.1"><wpt lat="1" lon="2"/></gpx>', "no points"),
        (gpx(EASY, times=False), "no time"),
        (gpx(EASY).replace(b'lat="50.0', b'lat="950.0'), "nowhere on earth"),
        (gpx(EASY).replace(b'lat="50.00000000"', b'lat="nan"'), "nowhere on earth"),
        (gpx(EASY).replace(b'lat="50.00000000"', b'lat="here"'), "damaged"),
        (gpx(EASY).replace(b"T07:00:05Z", b"T06:00:05Z"), "backwards"),
        (gpx(RIDE), "31 km/h"),
        (gpx(EASY, kind="cycling"), "ride"),
        (gpx([(600, 0.05)]), "hardly moved"),
        (gpx([(600, 3.0)]).replace(b"T07:10:00Z", b"T19:10:00Z"), "hours apart"),
    ],
)
def test_what_is_no_run_is_said_in_a_sentence(content: bytes, said: str) -> None:
    with pytest.raises(TrackError, match=said) as caught:
        read_run(content)
    assert str(caught.value).endswith(".")


def test_a_billion_laughs_are_not_expanded() -> None:
    levels = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
    with pytest.raises(TrackError, match="entities"):
        read_run(f'<!DOCTYPE gpx [<!ENTITY l0 "ha">{levels}]><gpx>&l9;</gpx>'.encode())


def test_a_truncated_file_is_not_read() -> None:
    content = gpx(EASY)
    with pytest.raises(TrackError, match="XML"):
        read_track(content[: len(content) // 2])
