"""GPX files written by hand for tests: along a meridian, where a degree of latitude has a known length."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

# One degree of a great circle on gpxpy's sphere (radius 6 378 137 m, the GRS 80 equator): 2 pi r / 360.
METRES_A_DEGREE = 111_319.49
START = datetime(2026, 11, 20, 7, 0, tzinfo=UTC)


def gpx(
    pieces: Iterable[tuple[float, float]],
    *,
    start: datetime = START,
    step_s: int = 5,
    heights: bool = False,
    kind: str = "",
    breaks: bool = False,
    times: bool = True,
) -> bytes:
    """A file of pieces (seconds, metres a second), a point every `step_s`; `breaks`: a segment a piece."""
    metres, seconds = 0.0, 0
    segments: list[list[str]] = [[]]

    def add() -> None:
        height = f"<ele>{metres / 50:.2f}</ele>" if heights else ""
        when = (
            f"<time>{(start + timedelta(seconds=seconds)).isoformat().replace('+00:00', 'Z')}</time>"
            if times
            else ""
        )
        segments[-1].append(
            f'<trkpt lat="{50 + metres / METRES_A_DEGREE:.8f}" lon="7.0">{height}{when}</trkpt>'
        )

    add()
    for number, (long, speed) in enumerate(pieces):
        if breaks and number:
            segments.append([])
            add()
        for _ in range(round(long / step_s)):
            metres += speed * step_s
            seconds += step_s
            add()
    body = "".join(f"<trkseg>{''.join(points)}</trkseg>" for points in segments)
    named = f"<type>{kind}</type>" if kind else ""
    return (
        '<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="by hand" '
        f'xmlns="http://www.topografix.com/GPX/1/1"><trk>{named}{body}</trk></gpx>'
    ).encode()


EASY = [(1800.0, 3.0)]  # half an hour at 3 m/s: 5400 m, 5:33 a kilometre
REPEATS = [(600.0, 2.6), *[(180.0, 4.2), (120.0, 2.0)] * 4, (180.0, 4.2), (600.0, 2.6)]
RIDE = [(3600.0, 8.5)]  # an hour at 30.6 km/h
