"""What stands is not proposed anew for a trifle, over random athletes who accepted one proposal already."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import assume
from hypothesis import strategies as st

from plans.training.replanning import rebalance
from plans.training.schedule import Log
from tests.training.athletes import athletes
from tests.training.each import each
from tests.training.planning import MONDAY, done_until, issued


def _ran(athlete, first):
    return any(0 <= (x.day - first).days < 7 and x.outcome != "missed" for x in athlete.logs)


def trifles_are_left_standing(athlete, days, lost):
    """One proposal accepted, then some days as told but for one run: what is proposed now is worth a line."""
    stand = issued(athlete, rebalance(athlete))
    until = athlete.today + timedelta(days=days)
    due = [s for s in stand.plan if athlete.today <= stand.standing.get(s.key, s).day < until]
    assume(due)
    gone = due[lost % len(due)]
    gone_log = Log(stand.standing.get(gone.key, gone).day, gone.key, "missed", reason="tired")
    later = done_until(replace(stand, logs=(*stand.logs, gone_log)), until)
    result = rebalance(later)
    sessions, rails = {s.key: s for s in later.plan}, later.rails
    for c in result.changes:
        s, now = sessions[c.key], c.after
        alike = c.before.day == now.day and not (c.before.dropped_by or now.dropped)
        cut = max(c.before.mm, now.mm) < s.mm and c.before.turned_easy == now.turned_easy
        if alike and cut and c.before.eased == now.eased and now.level == c.before.level == 1:
            small = max(rails.small_mm, s.mm * rails.small_share)
            assert now.mm - c.before.mm > small or now.mm < c.before.mm or s.written_in == "time"
    for week in result.weeks:
        if not _ran(later, week.first_day) and week.caps:
            assert week.allowed * (1 - rails.tolerance) <= min(week.caps.values()) + 1
            assert week.allowed <= week.cap <= week.planned
    assert rebalance(issued(later, result)).changes == ()
    monday = until + timedelta(days=7 - (until - MONDAY).days % 7)
    again = rebalance(done_until(issued(later, result), monday))
    assert again.changes == ()


TestTrifles = each(athletes(pins=False), st.integers(1, 9), st.integers(0, 9))(trifles_are_left_standing)
