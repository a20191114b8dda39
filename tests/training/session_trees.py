"""Random session trees, such as `parse` can give: the shared strategies of the property tests."""

from hypothesis import strategies as st

from plans.training.levels import amount_like
from plans.training.steps import (
    BetweenPaces,
    Change,
    Effort,
    Extent,
    Feel,
    FixedPace,
    HeartRate,
    Ladder,
    Other,
    Progression,
    Race,
    RacePace,
    Repeats,
    RunWith,
    Session,
    Shift,
    Step,
    Words,
)

KM, M, MILE = 1_000_000, 1000, 1_609_344
RACES = ("5K", "10K", "HM", "MP", "goal")


def _extent(unit, size, smallest, largest):
    number = st.integers(smallest, largest)
    return st.tuples(number, number | st.just(0)).map(
        lambda pair: Extent(min(pair) * size if min(pair) else max(pair) * size, max(pair) * size, unit)
    )


distances = st.one_of(
    _extent("km", KM // 2, 1, 80),
    _extent("km", KM // 1000, 1, 40_000),
    _extent("m", M, 20, 12_000),
    _extent("mi", MILE // 2, 1, 50),
    _extent("mi", MILE // 4, 1, 100),
)
times = st.one_of(
    _extent("s", 1, 5, 5400),
    _extent("min", 60, 1, 300),
    _extent("min", 1, 1, 5400),
    _extent("h", 60, 60, 600),
    _extent("h", 1, 3600, 20_000),
)
extents = distances | times
exact = extents.map(lambda e: Extent(e.low, e.low, e.unit if not (e.unit == "h" and e.low < 3600) else "min"))
shifts = st.builds(Shift, st.integers(-90, 90).filter(bool), st.sampled_from(("km", "mi")))
race_paces = st.builds(RacePace, st.sampled_from(RACES), st.none() | shifts)


def _ordered(kind, low, high, *rest):
    return st.tuples(st.integers(low, high), st.integers(low, high)).flatmap(
        lambda pair: st.builds(kind, st.just(min(pair)), st.just(max(pair)), *rest)
    )


between = st.permutations(RACES).map(lambda names: BetweenPaces(names[0], names[1]))
targets = st.one_of(
    race_paces,
    between,
    _ordered(FixedPace, 120, 900, st.sampled_from(("km", "mi"))),
    _ordered(Effort, 0, 10),
    _ordered(HeartRate, 60, 200, st.just("bpm")),
    _ordered(HeartRate, 50, 100, st.just("%")),
)
weak = st.sampled_from(("easy", "recovery", "steady", "tempo", "hard", "fast", "float"))
strong = st.sampled_from(
    ("long", "warm-up", "cool-down", "trial", "hill", "jog", "walk", "drills", "strides")
)
feels = st.sampled_from(("steady", "tempo", "hard", "fast", "float")).map(Feel)

steps = st.one_of(
    st.builds(Step, extents, st.tuples(weak), st.none() | targets),
    st.builds(Step, extents, st.tuples(strong), st.none() | targets | feels),
    st.builds(Step, extents, st.just(()), st.none() | targets),
    st.builds(Step, extents, st.just(("walk", "jog")), st.none()),
)
plain_runs = steps.filter(lambda s: "walk" not in s.manners)
no_amount = st.sampled_from([Step(None, (m,)) for m in ("drills", "warm-up", "cool-down")])
recoveries = st.one_of(
    st.builds(
        Step,
        extents | st.none() | st.sampled_from(("equal", "back")),
        st.sampled_from((("jog",), ("walk",), ("rest",), ("walk", "jog"), ("recovery",), ("float",))),
    ),
    st.just(Step("equal", ())),
)
counts = st.tuples(st.integers(1, 40), st.integers(1, 40)).map(sorted)


def _repeats(body):
    return st.tuples(counts, body, st.none() | recoveries).map(
        lambda t: Repeats(t[0][0], t[0][1], tuple(t[1]), t[2])
    )


# A single body of one step must not be read as a count of strides or hills, which needs no "x".
strides = st.tuples(counts, st.none() | distances).map(
    lambda t: Repeats(t[0][0], t[0][1], (Step(t[1], ("strides",)),))
)
ladder_distances = st.lists(st.sampled_from((200, 400, 800, 1200, 1600)), min_size=3, max_size=9)
ladders = st.one_of(
    st.builds(
        lambda rungs, target, rest: Ladder(tuple(Extent(r * M, r * M, "m") for r in rungs), (), target, rest),
        ladder_distances,
        st.none() | targets,
        st.none() | recoveries,
    ),
    st.builds(
        lambda rungs, target, rest: Ladder(tuple(Extent(r, r, "min") for r in rungs), (), target, rest),
        st.lists(st.integers(30, 900), min_size=2, max_size=7),
        st.none() | targets,
        st.none() | recoveries,
    ),
)
everies = st.sampled_from(
    (Extent(KM, KM, "km"), Extent(MILE, MILE, "mi"), Extent(600, 600, "min"), Extent(2 * KM, 2 * KM, "km"))
)
progressions = st.one_of(
    st.builds(
        Progression,
        extents,
        st.none() | race_paces | feels,
        st.none(),
        st.builds(Change, shifts, everies) | st.none(),
    ),
    st.builds(Progression, extents, race_paces | weak.map(Feel), race_paces | feels, st.none()),
)
flat = steps | no_amount | ladders | strides | progressions
simple_repeats = _repeats(st.lists(steps, min_size=1, max_size=3))
repeats = simple_repeats | _repeats(st.lists(flat | simple_repeats, min_size=1, max_size=4))


def _fits(run):
    """What is inside must be shorter than the whole, as far as both are written alike."""
    whole = run.outer.extent
    if isinstance(run.inner, Repeats):
        return amount_like(run.inner, whole) <= whole.low
    end = run.inner.extent
    return whole.is_distance != end.is_distance or end.high < whole.low


run_with = st.one_of(
    st.builds(RunWith, plain_runs, steps).filter(_fits),
    st.builds(RunWith, plain_runs, simple_repeats | strides).filter(_fits),
)
races = st.builds(Race, distances, st.none() | targets)
others = st.one_of(
    st.builds(Other, st.just("cross"), st.none() | extents, st.sampled_from(("", "bike", "swim", "yoga"))),
    st.builds(Other, st.just("strength"), st.none() | extents, st.sampled_from(("", "core", "gym"))),
)
kept_words = st.builds(
    Words,
    st.sampled_from(("as you feel", "fartlek on the beach; don't watch the clock", "6 x whatever (hills)")),
    st.none() | distances,
    st.none() | times,
    st.none() | distances,
    st.none() | times,
)
parts = st.one_of(steps, no_amount, strides, repeats, ladders, run_with, progressions, races, others)
notes = st.sampled_from(("", "", "on grass, relaxed", "meet at the pier; bring water"))
sessions = st.one_of(
    st.builds(Session, st.lists(parts, max_size=5).map(tuple), notes),
    st.builds(Session, st.tuples(kept_words), notes),
)
