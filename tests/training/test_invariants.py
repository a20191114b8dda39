"""The ten invariants of re-balancing, over random athletes.

Each runs 300 examples ordinarily, the same ones every time, and 5,000 fresh ones in `make long`.
"""

import random
from dataclasses import fields, replace
from datetime import timedelta
from fractions import Fraction

from hypothesis import assume
from hypothesis import strategies as st

from plans.training import replanning
from plans.training.caps import recent
from plans.training.guardrails import LIMITS, Rails
from plans.training.ledger import open_ledger
from plans.training.reasons import CUT_ORDER
from plans.training.replanning import rebalance
from plans.training.schedule import HARD, Hold, Log
from tests.training.athletes import athletes, plans
from tests.training.each import each
from tests.training.planning import KM, MONDAY, done_until, issued


def same(a, b):
    return [replace(p, reason=None) for p in a] == [replace(p, reason=None) for p in b]


# -- 1. nothing missed, nothing changed ------------------------------------------------------


def nothing_missed_nothing_changed(plan, today, low):
    now = MONDAY + timedelta(days=today % (7 * len(plan.weeks)))
    if low:  # every range has a low end, and it is what was run
        plan = replace(
            plan, plan=tuple(replace(s, low_mm=s.mm * 9 // 10, low_s=s.s * 9 // 10) for s in plan.plan)
        )
        logs = [Log(s.day, s.key, "done", s.low_mm, s.low_s) for s in plan.plan if s.day < now]
        plan = replace(plan, logs=tuple(logs), today=now)
    else:
        plan = done_until(plan, now)
    result = rebalance(plan)
    assert result.changes == ()
    assert result.departures == ()


TestNothingMissed = each(plans(weeks=st.integers(8, 24)), st.integers(0, 500), st.booleans())(
    nothing_missed_nothing_changed
)


def minutes_in_the_heat(plan, today, slow):
    now = MONDAY + timedelta(days=today % (7 * len(plan.weeks)))
    assume(all(s.written_in == "time" for s in plan.plan if s.role != "race"))
    logs = [Log(s.day, s.key, "done", s.mm * slow // 100, s.s) for s in plan.plan if s.day < now]
    assert rebalance(replace(plan, logs=tuple(logs), today=now)).departures == ()


TestMinutesInTheHeat = each(plans(weeks=st.integers(3, 8)), st.integers(0, 500), st.integers(70, 100))(
    minutes_in_the_heat
)


# -- 2. past and pins untouched, nothing above plan, rails kept --------------------------------


def rails_are_kept(athlete):
    result = rebalance(athlete)
    sessions = {s.key: s for s in athlete.plan}
    by_log = {log.key: log for log in athlete.logs}
    for p in result.sessions:
        s = sessions[p.key]
        assert p.mm <= s.mm or p.turned_easy
        if s.written_in == "distance":
            assert p.mm <= s.mm
        assert p.day >= athlete.today or p.day == s.day
        assert not (p.key in by_log and by_log[p.key].outcome != "missed")
        if s.pinned and not athlete.holds:
            assert p.reason is None
        free = athlete.minutes.get(p.day)
        if free is not None and p.reason is not None and not s.pinned and s.role != "race" and not p.dropped:
            assert p.s <= free * 60
    for week in result.weeks:
        if not any(s.pinned for s in athlete.plan):
            ran_already = _ran(athlete, week.first_day)
            assert week.allowed <= max(week.caps[min(week.caps, key=week.caps.get)], week.cap) + ran_already
            if not ran_already:
                assert week.allowed <= week.cap <= week.planned
    if not result.verdicts or result.verdicts[0].name != "silence":
        _spaced(athlete, result, sessions)


def _ran(athlete, first):
    logs = [x for x in athlete.logs if 0 <= (x.day - first).days < 7 and x.outcome != "missed"]
    return sum(max(x.mm, x.s) for x in logs)


def _spaced(athlete, result, sessions):
    """A moved hard session keeps its distance from every other one that still stands."""
    hard = [
        p for p in result.sessions if sessions[p.key].role in HARD and not p.dropped and not p.turned_easy
    ]
    for p in hard:
        if p.day == sessions[p.key].day or sessions[p.key].pinned:
            continue
        for q in hard:
            assert q is p or abs((p.day - q.day).days) >= athlete.rails.gap_days


TestRails = each(athletes())(rails_are_kept)


# -- 3, 4. the same, whatever the order; and again on its own result ----------------------------


def order_does_not_matter(athlete, seed):
    shuffled = [list(athlete.plan), list(athlete.logs)]
    rng = random.Random(seed)
    for one in shuffled:
        rng.shuffle(one)
    other = replace(athlete, plan=tuple(shuffled[0]), logs=tuple(shuffled[1]))
    assert rebalance(other) == rebalance(athlete)


TestOrder = each(athletes(), st.integers(0, 9))(order_does_not_matter)


def again_changes_nothing(athlete):
    first = rebalance(athlete)
    again = rebalance(issued(athlete, first))
    assert again.changes == ()
    assert same(again.sessions, first.sessions)


TestAgain = each(athletes())(again_changes_nothing)


# -- 5. time consistency -----------------------------------------------------------------------


def told_is_told(athlete):
    first = rebalance(athlete)
    stand = issued(athlete, first)
    monday = athlete.today + timedelta(days=7 - (athlete.today - MONDAY).days % 7)
    later = rebalance(done_until(stand, monday))
    assert same(later.sessions, [p for p in first.sessions if p.day >= monday])
    assert later.changes == ()


TestTime = each(athletes())(told_is_told)


# -- 6. more running never lowers a cap ---------------------------------------------------------


def more_never_lowers_a_cap(athlete, which, extra):
    """Exact as long as no week realises less; and what whole sessions do to that has a bound.

    Whole repetitions, runs of at least 3 km and second runs that go as one can leave a week that has more
    room, or a longer long run, a little emptier than before; so can the tolerance. Only after such a week may a cap be lower: by
    that much, grown as a cap may grow, and the tolerance that lets a week keep its plan.
    """
    assume(athlete.logs)
    log = athlete.logs[which % len(athlete.logs)]
    s = next(s for s in athlete.plan if s.key == log.key)
    if log.outcome == "missed":
        better = Log(log.day, log.key, "done", s.mm, s.s)
    else:
        better = replace(log, mm=log.mm + extra * KM, s=log.s + extra * 360)
    more = replace(athlete, logs=tuple(better if x is log else x for x in athlete.logs))
    before, after = rebalance(athlete), rebalance(more)
    # A run done on its day is not made up for, and leaves other days free: another week, not less running.
    assume(_days(before) == _days(after))
    growth, emptier = _most_growth(athlete), 0
    for a, b in zip(before.weeks, after.weeks, strict=True):
        fall = _cap(a) - _cap(b)
        assert fall <= 0 or emptier
        assert fall <= growth * emptier + Fraction(1, 10) * a.planned
        assert a.run - b.run <= max(0, fall) + _largest(athlete, a.first_day, before.measured_in)
        emptier = max(emptier, a.run - b.run)


def _days(result):
    """Which day each run stands on, or that it found none."""
    gone = ("no_day", "gave_way")
    return {p.key: p.day if not p.dropped or p.reason.rule not in gone else None for p in result.sessions}


def _cap(week):
    """The smallest limit, before the tolerance that leaves a week as it is."""
    return min([week.planned, *week.caps.values()])


def _most_growth(athlete):
    """The most a cap follows what was run: the way back, or the coach's own step."""
    ledger = open_ledger(athlete)
    wished = [
        (ledger.planned[i], recent(ledger, ledger.planned_all, i))
        for i in range(ledger.current, len(ledger.kinds))
    ]
    return max([athlete.rails.travel_return + 1, *(Fraction(plan) / ref for plan, ref in wished if ref)])


def _largest(athlete, first, measured_in):
    """The largest session of a week: what a cut takes in one piece is less."""
    there = [s for s in athlete.plan if 0 <= (s.day - first).days < 7 and s.role != "race"]
    return max((s.s if measured_in == "s" else s.mm for s in there), default=0)


TestMore = each(athletes(holds=False, pins=False), st.integers(0, 99), st.integers(0, 20))(
    more_never_lowers_a_cap
)


# -- 7. it rejoins ------------------------------------------------------------------------------


def it_rejoins(athlete):
    result = rebalance(athlete)
    backs = [b.back for b in result.breaks]
    assume(None not in backs)
    last = max([athlete.today, *backs]) + timedelta(days=31)
    free = next((w for w in reversed(result.weeks) if w.cap < w.planned), None)
    sessions = {s.key: s for s in athlete.plan}
    for p in result.sessions:
        s = sessions[p.key]
        rejoined = (free is None or p.day > free.first_day + timedelta(days=6)) and p.day > last
        if rejoined and p.reason is not None:
            assert (
                p.reason.rule == "long_rise"
                or p.day in athlete.minutes
                or s.day in athlete.minutes
                or _near(athlete, s)
            )


def _near(athlete, s):
    return any(0 <= (d - s.day + timedelta(days=s.day.weekday())).days < 7 for d in athlete.minutes)


TestRejoins = each(athletes(holds=False))(it_rejoins)


# -- 8. reasons ---------------------------------------------------------------------------------


def every_change_has_its_reason(athlete):
    result = rebalance(athlete)
    sessions = {s.key: s for s in athlete.plan}
    for p in result.sessions:
        s = sessions[p.key]
        as_planned = (p.day, p.mm, p.s, p.level) == (s.day, s.mm, s.s, 1) and not (p.turned_easy or p.eased)
        assert (p.reason is None) == (as_planned and not p.dropped)
        if p.reason is not None:
            assert p.reason.sentence.endswith(".")
            assert "None" not in p.reason.sentence
            assert p.reason.rule


TestReasons = each(athletes())(every_change_has_its_reason)


def relaxing_the_rail_changes_the_week(athlete):
    result = rebalance(athlete)
    sessions = {s.key: s for s in athlete.plan}
    by_week = {w.first_day: w for w in result.weeks}
    for p in result.sessions:
        if p.reason is None or p.reason.rule not in CUT_ORDER:
            continue
        first = p.day - timedelta(days=p.day.weekday())
        if _ran(athlete, first) or not by_week[first].binding:
            continue
        least = min(
            s.mm if result.measured_in == "mm" else s.s for s in sessions.values() if s.role != "race"
        )
        relaxed = _with_cap(athlete, first, least)
        week = [q for q in result.sessions if 0 <= (q.day - first).days < 7]
        other = [q for q in relaxed.sessions if 0 <= (q.day - first).days < 7]
        assert not same(week, other)
        return


def _with_cap(athlete, first, more):
    real = replanning.week_cap

    def wider(ledger, credited, index, breaks, parts):
        cap = real(ledger, credited, index, breaks, parts)
        if ledger.start(index) == first.toordinal():
            cap.above_plan += more
        return cap

    replanning.week_cap = wider
    try:
        return rebalance(athlete)
    finally:
        replanning.week_cap = real


TestRelaxing = each(athletes(pins=False))(relaxing_the_rail_changes_the_week)


# -- 9. an open hold ----------------------------------------------------------------------------


def a_hold_holds(athlete, stops, ago):
    opened = athlete.today - timedelta(days=ago)
    held = replace(athlete, holds=(Hold(opened, stops),))
    result = rebalance(held)
    assume(not any(v.name == "silence" for v in result.verdicts))
    sessions = {s.key: s for s in athlete.plan}
    before = [x.mm for x in athlete.logs if 0 < (opened - x.day).days <= 30 and x.outcome != "missed"]
    declared = max(s.mm for s in athlete.plan if s.day < MONDAY + timedelta(days=7))
    for p in result.sessions:
        s = sessions[p.key]
        if s.role == "race" or p.dropped:
            continue
        assert not stops
        assert s.role != "quality" or p.turned_easy
        assert not s.hard_mm or p.eased or p.turned_easy
        if s.role == "long" and not s.pinned:
            assert p.mm <= max([*before, declared])


TestHold = each(athletes(holds=False), st.booleans(), st.integers(0, 5))(a_hold_holds)


# -- 10. scale ----------------------------------------------------------------------------------


def scale_scales(athlete, k):
    big = _scaled(athlete, k)
    small, large = rebalance(athlete), rebalance(big)
    for p, q in zip(small.sessions, large.sessions, strict=True):
        assert (q.key, q.day, q.level, q.turned_easy, q.dropped) == (
            p.key,
            p.day,
            p.level,
            p.turned_easy,
            p.dropped,
        )
        assert q.mm == k * p.mm


def _scaled(athlete, k):
    def run(s):
        levels = tuple(replace(x, mm=k * x.mm, s=k * x.s, hard_mm=k * x.hard_mm) for x in s.levels)
        return replace(s, mm=k * s.mm, s=k * s.s, hard_mm=k * s.hard_mm, levels=levels)

    measured = {limit.name for limit in LIMITS if limit.measured in ("mm", "s")}
    rails = Rails(
        **{f.name: getattr(Rails(), f.name) * (k if f.name in measured else 1) for f in fields(Rails)}
    )
    return replace(
        athlete,
        plan=tuple(run(s) for s in athlete.plan),
        logs=tuple(replace(x, mm=k * x.mm, s=k * x.s) if x.mm else x for x in athlete.logs),
        minutes={d: k * m for d, m in athlete.minutes.items()},
        rails=rails,
        step_mm=k * KM,
        step_s=k * 300,
    )


TestScale = each(athletes(minutes=False), st.integers(2, 7))(scale_scales)


def test_the_ledger_credits_nothing_before_it_was_run():
    """A guard for the tests above: an empty life has no actual running in it."""
    plan = replace(done_until(replace(_one(), logs=()), MONDAY), today=MONDAY)
    ledger = open_ledger(plan)
    assert sum(ledger.actual[12:]) == 0
    assert Fraction(sum(ledger.planned[12:])) > 0


def _one():
    from tests.training.planning import write

    return write("2x build: Tue E8 Thu E8 Sun L12")
