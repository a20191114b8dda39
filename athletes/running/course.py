"""A race's course: its heights along the way, cleaned of what satellites and recorders add.

GPX 1.0 or 1.1 in (its XML read by defusedxml: `tracks.gpx_root`), a frozen profile out; the places themselves are not
kept. Only places and heights are asked for, so the elements are read as they stand: with 100,000 points a model of
every tag takes ten seconds. Rules for cleaning are our own (common practice, no source) and every one that was used is said in `notes`.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import asin, cos, isfinite, radians, sin, sqrt
from statistics import median
from typing import Any, Final

from athletes.running.tracks import gpx_root
from athletes.running.units import Distance, Units, show_distance

EARTH_MM: Final = 6_378_137_000  # WGS 84, equatorial: what gpxpy takes
STEP_MM: Final = 25_000  # between the places of a cleaned profile
SMOOTH_MM: Final = 100_000  # heights are averaged over so much to each side
MOST_OFF_PERCENT: Final = 3
WIDE_GAP_MM: Final = 200_000
WIDEST_GAP_MM: Final = 1_000_000  # a lost signal; farther apart they are parts of something else
JUMP: Final = 10  # times the usual spacing, out and back again: a satellite's jump, not a turn
LEAST_JUMP_MM: Final = 100_000
MANY: Final = 20_000  # points; beyond, those nearer than 2 m to the last say nothing new
NEAR_MM: Final = 2_000
FEWEST_HEIGHTS: Final = 0.5
RIPPLE_MM: Final = 2_000  # rises less than 2 m are ripples, not hills
STEEPEST: Final = 0.45


Row = tuple[float, float, float | None]


class CourseError(ValueError):
    """A file that is no course of this race; the message says what is the matter and what to do."""


@dataclass(frozen=True, slots=True)
class Place:
    """So far from the start, so high, both in mm."""

    mm: int
    height_mm: int


@dataclass(frozen=True)
class Course:
    """Heights along the way. `measured` is what the file itself measures; `notes` what was done to it."""

    points: tuple[Place, ...]
    measured: Distance
    notes: tuple[str, ...] = ()
    known: bool = True

    @property
    def distance(self) -> Distance:
        return Distance(self.points[-1].mm)

    def height_at(self, mm: int) -> float:
        at = bisect_left(self.points, mm, key=lambda place: place.mm)
        if at == 0:
            return float(self.points[0].height_mm)
        if at == len(self.points):
            return float(self.points[-1].height_mm)
        a, b = self.points[at - 1], self.points[at]
        return a.height_mm + (b.height_mm - a.height_mm) * (mm - a.mm) / (b.mm - a.mm)

    def hills(self, start_mm: int, end_mm: int) -> tuple[int, int]:
        """Metres up and down between two places, in mm, every rise counted: what stands beside a split."""
        inside = [p.height_mm for p in self.points if start_mm < p.mm < end_mm]
        heights = [self.height_at(start_mm), *inside, self.height_at(end_mm)]
        steps = [b - a for a, b in pairwise(heights)]
        return round(sum(s for s in steps if s > 0)), round(-sum(s for s in steps if s < 0))

    @property
    def climb_mm(self) -> tuple[int, int]:
        """Up and down over the whole way, ripples under 2 m left out."""
        return _climb([place.height_mm for place in self.points])

    @property
    def is_flat(self) -> bool:
        return len({place.height_mm for place in self.points}) == 1

    def fitted(self, race: Distance, units: Units = "km") -> Course:
        """The course stretched or shrunk to the race's own distance.

        Raises CourseError when the two differ by more than 3 %.
        """
        off = 100 * abs(self.measured.mm - race.mm) / race.mm
        told = f"The file measures {show_distance(self.measured, units)}, the race is {show_distance(race, units)}"
        if off > MOST_OFF_PERCENT:
            raise CourseError(
                f"{told}. Is it the course of another distance, or a part of it? A file may be 3 % off."
            )
        notes = self.notes
        if off > 0.1:
            notes = (*notes, f"{told}: the heights were spread over the race's distance.")
        scale = race.mm / self.distance.mm
        inner = [Place(round(p.mm * scale), p.height_mm) for p in self.points[1:-1]]
        ends = [p for p in inner if 0 < p.mm < race.mm]
        points = (self.points[0], *ends, Place(race.mm, self.points[-1].height_mm))
        return replace(self, points=points, notes=notes)

    def to_values(self) -> dict[str, Any]:
        """As plain JSON values: a place is [mm, height in mm]."""
        return {
            "points": [[p.mm, p.height_mm] for p in self.points],
            "measured": self.measured.mm,
            "notes": list(self.notes),
            "known": self.known,
        }

    @classmethod
    def from_values(cls, values: Mapping[str, Any]) -> Course:
        points = tuple(Place(mm, height) for mm, height in values["points"])
        return cls(points, Distance(values["measured"]), tuple(values["notes"]), values["known"])


def flat_course(distance: Distance) -> Course:
    """The course of a race without a file."""
    return Course((Place(0, 0), Place(distance.mm, 0)), distance, (), known=False)


def read_course(content: bytes) -> Course:
    """The course in a GPX file of at most 10 MB, from its track or, without one, its route.

    Raises CourseError (or tracks.TrackError) with a sentence for the person who sent it.
    """
    root = gpx_root(content)
    parts = [list(segment) for segment in _all(root, "trkseg")] or [
        list(route) for route in _all(root, "rte")
    ]
    try:
        rows = [[_row(point) for point in part if _name(point) in ("trkpt", "rtept")] for part in parts]
    except (TypeError, ValueError) as error:
        raise CourseError(
            "This GPX file is damaged: a place or a height in it is none. Save it once more."
        ) from error
    rows = [part for part in rows if part]
    if sum(map(len, rows)) < 2:
        raise CourseError("There is no way in this file: it has no track and no route of two points.")
    if any(not (abs(lat) <= 90 and abs(lon) <= 180) for part in rows for lat, lon, _ in part):
        raise CourseError("A point in this file is nowhere on earth. Save it once more.")
    return clean(rows)


def _name(element: Any) -> str:
    return str(element.tag).rpartition("}")[2]


def _all(root: Any, name: str) -> list[Any]:
    return [element for element in root.iter() if _name(element) == name]


def _row(point: Any) -> Row:
    """Latitude, longitude, height in m or None. Raises TypeError or ValueError for what is no number."""
    text = next((child.text for child in point if _name(child) == "ele"), None)
    height = float(text) if text and text.strip() else None
    return (
        float(point.get("lat")),
        float(point.get("lon")),
        height if height is None or isfinite(height) else None,
    )


def clean(parts: Sequence[Sequence[Row]]) -> Course:
    """Parts of (latitude, longitude, height in m or None) as one profile."""
    notes: list[str] = []
    jumps = 0
    rows: list[Row] = []
    along: list[float] = []
    for part in parts:
        kept, left_out = _without_jumps(_thinned(list(part)))
        jumps += left_out
        if rows:
            gap = _mm(rows[-1], kept[0])
            along.append(along[-1] + (gap if gap <= WIDEST_GAP_MM else 0))
            notes += _told_gap(gap)
        else:
            along.append(0.0)
        for a, b in pairwise(kept):
            along.append(along[-1] + _mm(a, b))
        rows += kept
    if jumps:
        notes.append(
            f"{jumps} point{'s' if jumps > 1 else ''} far off the way {'were' if jumps > 1 else 'was'} left out."
        )
    if along[-1] < 400_000:
        raise CourseError("This file is shorter than 400 m: it is not the course of a race.")
    measured = Distance(round(along[-1]))
    heights, told = _heights(along, [row[2] for row in rows])
    notes += told
    if heights is None:
        return Course((Place(0, 0), Place(measured.mm, 0)), measured, tuple(notes), known=False)
    return Course(_profile(along, heights, measured.mm), measured, tuple(notes))


def _told_gap(gap: float) -> list[str]:
    if gap <= WIDE_GAP_MM:
        return []
    apart = show_distance(Distance(round(gap)), "km")
    if gap <= WIDEST_GAP_MM:
        return [f"There is a gap of {apart} between its parts; a straight line was taken there."]
    return [f"Two of its parts lie {apart} apart; the ground between them was not counted."]


def _mm(a: Row, b: Row) -> float:
    """On the sphere, by the haversine."""
    lat_a, lat_b = radians(a[0]), radians(b[0])
    h = sin((lat_b - lat_a) / 2) ** 2 + cos(lat_a) * cos(lat_b) * sin(radians(b[1] - a[1]) / 2) ** 2
    return 2 * EARTH_MM * asin(sqrt(min(1.0, h)))


def _thinned(rows: list[Row]) -> list[Row]:
    if len(rows) <= MANY:
        return rows
    kept = rows[:1]
    for row in rows[1:-1]:
        if _mm(kept[-1], row) >= NEAR_MM:
            kept.append(row)
    return [*kept, rows[-1]]


def _without_jumps(rows: list[Row]) -> tuple[list[Row], int]:
    """Leave out single points that lie far off while their neighbours lie together."""
    spacing = [_mm(a, b) for a, b in pairwise(rows)]
    usual = median([s for s in spacing if s > 0] or [0.0])
    limit = max(LEAST_JUMP_MM, JUMP * usual)
    kept, jumps = rows[:1], 0
    for n in range(1, len(rows) - 1):
        off = _mm(kept[-1], rows[n])
        if off > limit and spacing[n] > limit and _mm(kept[-1], rows[n + 1]) < off / 2:
            jumps += 1
        else:
            kept.append(rows[n])
    return [*kept, *rows[1:][-1:]], jumps


def _heights(along: list[float], raw: list[float | None]) -> tuple[list[float] | None, list[str]]:
    """Heights in mm for every point: gaps filled, spikes cut; None where too few are known."""
    known = [(mm, height) for mm, height in zip(along, raw, strict=True) if height is not None]
    if len(known) < 2 or len(known) < FEWEST_HEIGHTS * len(raw):
        few = "no heights" if not known else "too few heights"
        return None, [f"There are {few} in this file, so the course counts as flat."]
    if any(not -500 <= height <= 9000 for _, height in known):
        known = [(mm, height) for mm, height in known if -500 <= height <= 9000]
    notes = []
    if len(known) < len(raw):
        notes.append(f"{len(raw) - len(known)} of {len(raw)} heights are missing and were filled in between.")
    good, cut = _without_spikes(known)
    if cut:
        notes.append(
            f"{cut} height{'s' if cut > 1 else ''} that no runner could climb {'were' if cut > 1 else 'was'} left out."
        )
    places, values = [mm for mm, _ in good], [1000 * height for _, height in good]
    return [_at(places, values, mm) for mm in along], notes


def _without_spikes(known: list[tuple[float, float]]) -> tuple[list[tuple[float, float]], int]:
    """Cut heights that stand out from the median of the five around them more steeply than anyone runs."""
    kept, cut = [], 0
    for n, (mm, height) in enumerate(known):
        around = known[max(0, n - 2) : n + 3]
        middle = sorted(h for _, h in around)[len(around) // 2]
        reach = max(around[-1][0] - mm, mm - around[0][0], 10_000) / 1000
        if abs(height - middle) > max(5.0, STEEPEST * reach):
            cut += 1
        else:
            kept.append((mm, height))
    return (kept, cut) if len(kept) >= 2 else (known, 0)


def _at(places: Sequence[float], values: Sequence[float], mm: float) -> float:
    at = bisect_left(places, mm)
    if at == 0:
        return values[0]
    if at == len(places):
        return values[-1]
    a, b = places[at - 1], places[at]
    return values[at] if b <= a else values[at - 1] + (values[at] - values[at - 1]) * (mm - a) / (b - a)


def _profile(along: list[float], heights: list[float], whole: int) -> tuple[Place, ...]:
    """Heights at even steps, each the mean of what lies within 100 m, less near the ends."""
    steps = max(2, round(whole / STEP_MM))
    places = [whole * n / steps for n in range(steps + 1)]
    even = [_at(along, heights, mm) for mm in places]
    sums = [0.0]
    for height in even:
        sums.append(sums[-1] + height)
    reach = max(1, round(SMOOTH_MM / (whole / steps)))
    smooth = []
    for n in range(steps + 1):
        side = min(reach, n, steps - n)
        smooth.append((sums[n + side + 1] - sums[n - side]) / (2 * side + 1))
    return tuple(Place(round(mm), round(height)) for mm, height in zip(places, smooth, strict=True))


def _climb(heights: Sequence[int]) -> tuple[int, int]:
    """Up and down with ripples left out: a turn counts once the way is 2 m from it."""
    total = {1: 0, -1: 0}
    way, base, turn = 0, heights[0], heights[0]
    low = high = heights[0]
    for height in heights:
        low, high = min(low, height), max(high, height)
        if way == 0 and high - low >= RIPPLE_MM:
            way = 1 if height == high else -1
            base, turn = (low, high) if way == 1 else (high, low)
        elif way * (height - turn) > 0:
            turn = height
        elif way * (turn - height) >= RIPPLE_MM:
            total[way] += way * (turn - base)
            way, base, turn = -way, turn, height
    if way:
        total[way] += way * (turn - base)
    return total[1], total[-1]
