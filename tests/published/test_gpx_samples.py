"""Our distance, climb and moving time beside the figures of files that others recorded.

Files: `test_files/` of the source distribution of gpxpy 1.6.2 (PyPI, Apache-2.0), fetched for the test, not kept in
this repository. Figures: gpxpy's own two-dimensional length, climb and moving time, written down in sources.md 19.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from athletes.running.tracks import TrackError, read_run, read_track
from tests.gpx_samples import ARCHIVE, KEPT, samples

__all__ = ["samples"]

# name, length in m, climb in m, moving in s (None: the times in the file are of no use)
FIGURES = [
    ("korita-zbevnica", 14913.7, 703.8, 7084),
    ("cerknicko-jezero", 4580.1, 223.5, 2425),
    ("around-visnjan-with-car", 2736.3, 49.7, 308),
    ("Mojstrovka", 2700.6, 446.5, None),
]


@pytest.mark.parametrize(("name", "metres", "climb", "moving"), FIGURES)
def test_lengths_agree(samples: Path, name: str, metres: float, climb: float, moving: int | None) -> None:
    track = read_track((samples / f"{name}.gpx").read_bytes())
    assert track.distance.mm / 1000 == pytest.approx(metres, rel=0.005)
    assert track.climb_mm is not None
    assert track.climb_mm / 1000 == pytest.approx(climb, rel=0.005)
    if moving:
        # gpxpy's own lines leave out its fastest intervals and take the height in: a twentieth apart at most.
        assert float(track.moving.s) == pytest.approx(moving, rel=0.05)


def test_a_car_is_no_run(samples: Path) -> None:
    with pytest.raises(TrackError, match="no run"):
        read_run((samples / "around-visnjan-with-car.gpx").read_bytes())


def test_no_file_of_the_collection_is_more_than_a_sentence(samples: Path) -> None:
    """Thirty odd files: each is a run or a sentence, never a crash."""
    files = sorted(samples.glob("*.gpx"))
    assert len(files) >= 25
    said = [_said(file) for file in files]
    assert [words for words in said if words and not words.endswith(".")] == []


def _said(file: Path) -> str:
    """Empty for a run."""
    try:
        read_run(file.read_bytes())
    except TrackError as error:
        return str(error)
    return ""


def test_the_archive_is_the_one_that_was_read(samples: Path) -> None:
    content = (KEPT / ARCHIVE).read_bytes()
    assert (
        hashlib.sha256(content).hexdigest()
        == "a72c484b97ec42b80834353b029cc8ee1b79f0ffca1179b2210bb3baf26c01ae"
    )
