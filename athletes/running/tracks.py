"""A run as a watch recorded it: GPX 1.1 text in, a frozen track out.

Format: GPX 1.1, https://www.topografix.com/GPX/1/1/ (read by gpxpy; times are UTC by the schema). A file comes from
outside: its XML is read by defusedxml first, which refuses entities and document types; gpxpy alone expands them.
Distances are the sphere's, heights are not in them. Nobody asks for the places, so none leave this file.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any, Final
from xml.etree.ElementTree import ParseError

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import fromstring
from gpxpy import parse as parse_gpx
from gpxpy.gpx import GPXException, GPXTrackPoint

from athletes.running.units import Distance, Duration, Pace, Units

MOST_BYTES: Final = 10_000_000
# Slower than this the watch stands still: gpxpy's own default, 1 km/h.
STOPPED_MM_PER_S: Final = 1_000_000 / 3600
LEAST_MM: Final = 100_000
# Published world records: 10 000 m 26:11.00 and 1000 m 2:11.96 (values from memory). Nothing faster is a run.
FASTEST_LONG: Final = Pace.from_s_per_km(156)
FASTEST_KM: Final = Duration.from_s(131)
LONG_MM: Final = 3_000_000
GAP_BETWEEN_RUNS_MS: Final = 6 * 3_600_000
RIDES: Final = ("cycl", "bik", "ride", "velo", "rad")


class TrackError(ValueError):
    """A file that is no run; the message says what is the matter and what to do."""


@dataclass(frozen=True, slots=True)
class Sample:
    """A moment of the run: ms since its start by the clock, ms moved until then, mm run until then."""

    ms: int
    moving_ms: int
    mm: int


@dataclass(frozen=True, slots=True)
class Split:
    """A piece of the run: how far, and how long it took while moving."""

    distance: Distance
    duration: Duration


@dataclass(frozen=True)
class Track:
    """One run. `breaks` are the indices into `samples` at which the recorder began anew (a lap or a pause)."""

    started: datetime
    samples: tuple[Sample, ...]
    breaks: tuple[int, ...]
    climb_mm: int | None
    kind: str
    mm: int

    @property
    def distance(self) -> Distance:
        return Distance(self.mm)

    @property
    def timed(self) -> Distance:
        """How much of the distance lies between two times."""
        ends = [0, *self.breaks, len(self.samples)]
        pairs = pairwise(ends)
        return Distance(sum(self.samples[b - 1].mm - self.samples[a].mm for a, b in pairs))

    @property
    def moving(self) -> Duration:
        return Duration(self.samples[-1].moving_ms)

    @property
    def elapsed(self) -> Duration:
        return Duration(self.samples[-1].ms)

    def moving_at(self, mm: int) -> int:
        """ms moved when so far had been run, evenly between two samples."""
        at = bisect_left(self.samples, mm, key=lambda sample: sample.mm)
        if at == 0:
            return self.samples[0].moving_ms
        if at == len(self.samples):
            return self.samples[-1].moving_ms
        before, after = self.samples[at - 1], self.samples[at]
        share = (mm - before.mm) / (after.mm - before.mm)
        return round(before.moving_ms + share * (after.moving_ms - before.moving_ms))

    def splits(self, units: Units) -> tuple[Split, ...]:
        """Each kilometre or mile, and what is left at the end if it is more than 10 m."""
        size, whole = (1_609_344 if units == "mi" else 1_000_000), self.distance.mm
        ends = [*range(size, whole + 1, size)]
        if whole - (ends[-1] if ends else 0) > 10_000:
            ends.append(whole)
        found, before, at = [], 0, 0
        for end in ends:
            now = self.moving_at(end)
            found.append(Split(Distance(end - before), Duration(now - at)))
            before, at = end, now
        return tuple(found)

    def pieces(self) -> tuple[Split, ...]:
        """What lies between the recorder's new beginnings; one piece if there were none."""
        ends = [*self.breaks, len(self.samples)]
        found, begin = [], self.samples[0]
        for end in ends:
            last = self.samples[end - 1]
            found.append(Split(Distance(last.mm - begin.mm), Duration(last.moving_ms - begin.moving_ms)))
            begin = self.samples[min(end, len(self.samples) - 1)]
        return tuple(piece for piece in found if piece.distance.mm)


def read_run(content: bytes) -> Track:
    """The run in a GPX file of at most 10 MB. Raises TrackError with a sentence for the person who sent it."""
    track = read_track(content)
    _check(track)
    return track


def read_track(content: bytes) -> Track:
    """Whatever moved in a GPX file, whether it was a run or not. Raises TrackError for what can't be read."""
    gpx = _parsed(content)
    runs = [(track, segment) for track in gpx.tracks for segment in track.segments if segment.points]
    points = [segment.points for _, segment in runs]
    if not points:
        raise TrackError("There are no points in this file: it holds a route or a place, not a run.")
    if any(not (abs(p.latitude) <= 90 and abs(p.longitude) <= 180) for segment in points for p in segment):
        raise TrackError("A point in this file is nowhere on earth. Save it from the watch once more.")
    if sum(point.time is not None for segment in points for point in segment) < 2:
        raise TrackError("The points in this file have no time, so nobody can tell how long it took.")
    kind = next((track.type for track, _ in runs if track.type), "") or ""
    climb = sum(segment.get_uphill_downhill().uphill for _, segment in runs)
    has_heights = any(point.elevation is not None for segment in points for point in segment)
    return _track(points, round(climb * 1000) if has_heights else None, kind)


def gpx_root(content: bytes) -> Any:
    """The outermost element of a GPX file of at most 10 MB, safely read. Raises TrackError with a sentence."""
    if not content.strip():
        raise TrackError("This file is empty. Save it from the watch once more.")
    if len(content) > MOST_BYTES:
        raise TrackError(f"This file has {len(content) // 1_000_000} MB; a run has less than 10.")
    try:
        root = fromstring(content, forbid_dtd=True)
    except DefusedXmlException as error:
        raise TrackError(
            "This file defines entities or a document type, which no watch writes. It was not read."
        ) from error
    except (ParseError, ValueError, LookupError) as error:
        raise TrackError("This is not a GPX file: it can't be read as XML.") from error
    if root.tag.rpartition("}")[2] != "gpx":
        raise TrackError("This is XML, but no GPX: ask the watch for a GPX file of one run.")
    return root


def _parsed(content: bytes) -> Any:
    gpx_root(content)
    try:
        return parse_gpx(_text(content))
    except (GPXException, ValueError, UnicodeError, AttributeError, TypeError) as error:
        raise TrackError(
            "This GPX file is damaged: a place or a time in it is none. Save it once more."
        ) from error


def _text(content: bytes) -> str:
    """Its letters; the declaration at the head names them, and UTF-8 is the rule."""
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return content.decode("utf-16")
    head = content[:200].lower()
    return content.decode("latin-1" if b"iso-8859-1" in head or b"latin" in head else "utf-8-sig")


def _track(segments: Sequence[Sequence[GPXTrackPoint]], climb_mm: int | None, kind: str) -> Track:
    """Every point counts for the distance; where the time is missing, only the points around it for the time."""
    start = next(_when(point) for segment in segments for point in segment if point.time)
    samples: list[Sample] = []
    breaks: list[int] = []
    mm = moving = 0.0
    for segment in segments:
        before, timed_mm, fresh = None, mm, True
        for point in segment:
            mm += (point.distance_2d(before) or 0.0) * 1000 if before is not None else 0
            before = point
            if point.time is None:
                continue
            ms = round((_when(point) - start).total_seconds() * 1000)
            if samples and ms < samples[-1].ms:
                raise TrackError("The times in this file run backwards. Save it from the watch once more.")
            if fresh and samples:
                breaks.append(len(samples))
            elif samples:
                took = ms - samples[-1].ms
                moving += took if (mm - timed_mm) * 1000 > STOPPED_MM_PER_S * took else 0
            samples.append(Sample(ms, round(moving), round(mm)))
            timed_mm, fresh = mm, False
    return Track(start, tuple(samples), tuple(breaks), climb_mm, kind, round(mm))


def _when(point: GPXTrackPoint) -> datetime:
    assert point.time is not None
    return point.time.astimezone(UTC) if point.time.tzinfo else point.time.replace(tzinfo=UTC)


def _check(track: Track) -> None:
    far, long = track.distance, track.moving
    gaps = [b.ms - a.ms for a, b in pairwise(track.samples)]
    if max(gaps, default=0) > GAP_BETWEEN_RUNS_MS:
        raise TrackError("There are several runs in this file, hours apart. Send each as a file of its own.")
    if far.mm < LEAST_MM or not long.ms:
        raise TrackError("Whoever wore this watch hardly moved: less than 100 m in the whole file.")
    if any(word in track.kind.lower() for word in RIDES):
        raise TrackError(f"This file says it is “{track.kind[:40]}”: a ride is not counted as a run.")
    if track.timed.mm < 0.98 * far.mm:
        raise TrackError("Part of this file has no time, so nobody can tell how long it took.")
    fast = [s for s in track.splits("km") if s.distance.mm == 1_000_000 and s.duration.ms < FASTEST_KM.ms]
    if len(fast) > 1 or (far.mm >= LONG_MM and Pace(far, long).s_per_km < FASTEST_LONG.s_per_km):
        raise TrackError(
            f"At {_speed(far, long)} km/h this was no run: faster than a world record. A ride is not counted."
        )


def _speed(far: Distance, long: Duration) -> str:
    return f"{float(far.km / long.s * 3600):.0f}"
