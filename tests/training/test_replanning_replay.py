"""Five years of a real log, day by day against a fitted plan: no crash, the invariants every day."""

from datetime import timedelta

import pytest

from plans.training.replanning import rebalance
from tests.training.planning import issued
from tests.training.replaying import BLOCKS, real_log, replay, week_as_told


def same(a, b):
    def plain(p):
        return (p.key, p.day, p.mm, p.s, p.level, p.turned_easy, p.eased, p.dropped)

    return [plain(p) for p in a] == [plain(p) for p in b]


def every_day(inputs, result):
    sessions = {s.key: s for s in inputs.plan}
    for p in result.sessions:
        s = sessions[p.key]
        assert p.day >= inputs.today
        assert p.mm <= s.mm
        as_planned = (p.day, p.mm, p.s, p.level) == (s.day, s.mm, s.s, 1) and not (
            p.turned_easy or p.eased or p.dropped
        )
        assert (p.reason is None) == as_planned
    for week in result.weeks:
        assert week.cap <= week.planned
    again = rebalance(issued(inputs, result))
    assert again.changes == ()
    if (inputs.today - inputs.weeks[0].first_day).days % 7 == 0:
        monday = week_as_told(inputs, result)
        after = [p for p in result.sessions if p.day >= inputs.today + timedelta(days=7)]
        assert same(monday.sessions, after)
        assert monday.changes == ()


def test_the_log_is_the_one_described():
    assert len(real_log()) > 1_100
    assert sum(mm for mm, _ in real_log().values()) // 1_609_344 > 6_000


@pytest.mark.parametrize("block", BLOCKS[::2], ids=str)
def test_a_season_of_each_year(block):
    made = replay(block, every_day)
    assert made.days == 126
    assert made.changes > 0


@pytest.mark.long
@pytest.mark.parametrize("block", BLOCKS[1::2], ids=str)
def test_the_other_season_of_each_year(block):
    assert replay(block, every_day).days == 126
