"""Placing is exact: a plain search over every arrangement, sharing no code, never finds a better one."""

from __future__ import annotations

from itertools import pairwise, product

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plans.training.fitting_placing import NOWHERE, Item, Spot, place_weeks

ANY = (0,) * 7


def item(role="easy", wished=None, short=ANY, key=False, easy_short=(), minutes=30):
    return Item(role, key, wished, short, easy_short, minutes)


def days(weeks, max_hard=3, gap=2):
    spots, merit = place_weeks(weeks, max_hard, gap)
    return [[spot.day for spot in week] for week in spots], merit


def test_everything_goes_where_it_wishes_when_it_can():
    week = (item("quality", 1, key=True, easy_short=ANY), item("easy", 3), item("long", 6, key=True))
    found, merit = days((week, week))
    assert found == [[1, 3, 6], [1, 3, 6]]
    assert merit.as_tuple() == (0,) * 7


def test_the_long_run_keeps_its_day_and_quality_gives_way_across_the_border():
    """Sunday's long run and Monday's quality wished for: quality moves to Tuesday, two days after."""
    week = (item("quality", 0, key=True, easy_short=ANY), item("long", 6, key=True))
    found, merit = days((week, week))
    assert found == [[0, 6], [1, 6]]
    assert (merit.long_days_off, merit.days_off) == (0, 3)


def test_a_race_outweighs_any_number_of_key_sessions():
    """Two key long runs fit only where the race, on Wednesday, is not; the race stays and both go."""
    race = item("race", 2, short=(NOWHERE,) * 2 + (0,) + (NOWHERE,) * 4, key=True)
    beside = (NOWHERE, 0, NOWHERE, 0, NOWHERE, NOWHERE, NOWHERE)
    longs = (item("long", 1, short=beside, key=True), item("long", 3, short=beside, key=True))
    found, merit = days(((*longs, race),))
    assert found == [[None, None, 2]]
    assert merit.key_lost == 2


def test_the_last_week_is_seen_from_the_first():
    """The second week's race can't move, so the first week's long run does: greedy search would lose the race."""
    race = tuple(0 if day == 0 else NOWHERE for day in range(7))
    found, merit = days(((item("long", 6, key=True),), (item("race", 0, race, key=True),)))
    assert found == [[5], [0]]
    assert merit.key_lost == 0


def test_quality_is_run_easy_where_no_day_is_far_enough():
    only = tuple(0 if day in (5, 6) else NOWHERE for day in range(7))
    week = (item("quality", 5, only, True, only), item("long", 6, only, key=True))
    spots, merit = place_weeks((week,), 3, 2)
    assert spots == ((Spot(5, True), Spot(6)),)
    assert (merit.key_eased, merit.key_lost) == (1, 0)


def test_of_two_easy_runs_the_shorter_is_left_out():
    only = tuple(0 if day == 2 else NOWHERE for day in range(7))
    found, merit = days(((item(short=only, minutes=60), item(short=only, minutes=30)),))
    assert found == [[2, None]]
    assert (merit.lost, merit.minutes_short) == (1, 30)


def test_at_most_so_many_hard_days():
    week = tuple(item("quality", day, easy_short=ANY) for day in (0, 2, 4, 6))
    spots, merit = place_weeks((week,), 3, 2)
    assert sum(not spot.eased for spot in spots[0]) == 3
    assert merit.eased == 1


# The oracle: every day, easing and leaving out of every item of two weeks, costs as tuples of their own.


def oracle(weeks, max_hard, gap):
    choices = []
    for week in weeks:
        ways = []
        for one in week:
            options = [(day, False) for day in range(7) if one.short[day] != NOWHERE]
            options += [(day, True) for day in range(7) if one.easy_short and one.easy_short[day] != NOWHERE]
            options += [(None, False), (None, True)] if one.easy_short else [(None, False)]
            ways.append(options)
        choices.append([pick for pick in product(*ways) if legal_week(week, pick, max_hard, gap)])
    best = None
    for season in product(*choices):
        hard = sorted(
            7 * number + day
            for number, (week, picks) in enumerate(zip(weeks, season, strict=True))
            for one, (day, eased) in zip(week, picks, strict=True)
            if one.role != "easy" and day is not None and not eased
        )
        if any(b - a < gap for a, b in pairwise(hard)):
            continue
        cost = [0] * 7
        for week, picks in zip(weeks, season, strict=True):
            for one, (day, eased) in zip(week, picks, strict=True):
                add_cost(cost, one, day, eased)
        if best is None or tuple(cost) < best:
            best = tuple(cost)
    return best


def legal_week(week, picks, max_hard, gap):
    used = [day for day, _ in picks if day is not None]
    hard = [
        d
        for one, (d, eased) in zip(week, picks, strict=True)
        if one.role != "easy" and d is not None and not eased
    ]
    return len(set(used)) == len(used) and len(hard) <= max_hard


def add_cost(cost, one, day, eased):
    if eased:
        cost[1 if one.key else 3] += 1
    if day is None:
        cost[0 if one.key else 2] += 1
        cost[4] += one.minutes
        return
    cost[4] += (one.easy_short if eased else one.short)[day]
    away = 0 if one.wished is None else abs(day - one.wished)
    if one.role == "long":
        cost[5] += away
    else:
        cost[6] += away * (3 if one.role == "quality" else 2 if one.key else 1)


shorts = st.lists(st.sampled_from((NOWHERE, NOWHERE, 0, 0, 15)), min_size=7, max_size=7).map(tuple)


@st.composite
def items(draw):
    role = draw(st.sampled_from(("easy", "long", "quality")))
    short = draw(shorts)
    easy = draw(shorts) if role == "quality" else ()
    return Item(
        role,
        draw(st.booleans()),
        draw(st.none() | st.integers(0, 6)),
        short,
        easy,
        draw(st.sampled_from((30, 60))),
    )


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.lists(st.lists(items(), min_size=1, max_size=2).map(tuple), min_size=2, max_size=2).map(tuple),
    st.integers(1, 3),
    st.integers(2, 3),
)
def test_no_arrangement_is_better(weeks, max_hard, gap):
    _, merit = place_weeks(weeks, max_hard, gap)
    assert merit.as_tuple() == oracle(weeks, max_hard, gap)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(items(), min_size=3, max_size=3).map(tuple), st.integers(1, 3), st.integers(2, 3))
def test_no_arrangement_of_a_fuller_week_is_better(week, max_hard, gap):
    _, merit = place_weeks((week,), max_hard, gap)
    assert merit.as_tuple() == oracle((week,), max_hard, gap)
