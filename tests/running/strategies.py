"""Amounts as they occur in running, for property tests."""

from hypothesis import strategies as st

from athletes.running.performance import Result, ResultError
from athletes.running.units import FIVE_K, HALF_MARATHON, MARATHON, TEN_K, Distance, Duration

units = st.sampled_from(["km", "mi"])
distances = st.integers(1, 1_000_000_000).map(Distance)
durations = st.integers(1, 360_000_000).map(Duration)
race_distances = st.sampled_from([FIVE_K, TEN_K, Distance.from_miles(10), HALF_MARATHON, MARATHON])
COVERED = Duration.from_min(420)
weekly_distances = st.integers(0, 200).map(Distance.from_km)


@st.composite
def faster_and_slower(draw):
    """Two results over one distance, the first faster, both covered by the formulas."""
    slow = draw(results())
    hundredths = draw(st.integers(1, 30))
    try:
        return Result(slow.distance, Duration(slow.duration.ms * (100 - hundredths) // 100)), slow
    except ResultError:
        return slow, Result(slow.distance, Duration(slow.duration.ms * (100 + hundredths) // 100))


@st.composite
def results(draw, distances=race_distances):
    """A result at 2:50 to 13:00 per km, up to 7 h, that somebody may have run."""
    distance = draw(distances)
    slowest = min(780_000, COVERED.ms * 1_000_000 // distance.mm)
    per_km = draw(st.integers(170_000, slowest))
    try:
        return Result(distance, Duration(per_km * distance.mm // 1_000_000))
    except ResultError:
        return Result(distance, Duration(240_000 * distance.mm // 1_000_000))
