"""The forward pass against an oracle by brute force that shares no code with it: 2,000 tiny cases."""

import random
from collections import Counter
from datetime import timedelta
from fractions import Fraction

import pytest

from plans.training.replanning import rebalance
from plans.training.schedule import Inputs, Level, Log, Session, Week
from tests.training.oracle import Oracle
from tests.training.planning import KM, MONDAY

NAMES = {Fraction(1): "full", Fraction(4, 5): "level1", Fraction(3, 5): "level2"}


def tiny(rng):
    """Two or three weeks of two or three runs, some of them gone by, few of those as planned."""
    kinds = [rng.choice(("base", "build", "recovery")) for _ in range(rng.choice((2, 2, 3)))]
    if rng.random() < 0.3:
        kinds[-1] = "taper"
    days = sorted(rng.sample(range(7), rng.choice((2, 3, 3))))
    runs = []
    easy, supporting = rng.randint(4, 9), rng.random() < 0.5
    middle = rng.choice(("easy", "quality"))
    for w, kind in enumerate(kinds):
        factor = Fraction(3, 4) if kind in ("recovery", "taper") else Fraction(1)
        for n, d in enumerate(days):
            role = "long" if n == len(days) - 1 else middle if n == 0 else "easy"
            km = {"long": rng.randint(9, 16), "quality": 8, "easy": easy}[role]
            km = max(4, int(km * factor))
            levels = [(km, km - 3), (km - 1, km - 4), (km - 2, km - 5)] if role == "quality" else []
            runs.append(
                {"week": w, "day": d, "role": role, "km": km, "levels": levels, "supporting": supporting}
            )
    today = rng.randint(0, 7 * (len(kinds) - 1))
    done = {}
    mood = rng.choice((0.2, 0.5, 0.9))
    for r in runs:
        at = 7 * r["week"] + r["day"]
        if at < today:
            done[at] = (
                None if rng.random() < mood else r["km"] if rng.random() < 0.7 else rng.randint(1, r["km"])
            )
    first = sum(r["km"] for r in runs if r["week"] == 0)
    weekly, longest = (
        first + rng.randint(-4, 2),
        max(r["km"] for r in runs if r["week"] == 0) + rng.randint(-4, 1),
    )
    return Oracle(kinds, runs, done, today, weekly, longest)


def told(oracle):
    """The same case in the planner's words."""
    plan, logs = [], []
    for r in oracle.runs:
        at = 7 * r["week"] + r["day"]
        when = MONDAY + timedelta(days=at)
        levels = tuple(
            Level(share, km * KM, km * 300, hard * KM)
            for share, (km, hard) in zip(NAMES, r["levels"], strict=False)
        )
        hard = r["levels"][0][1] * KM if r["levels"] else 0
        plan.append(
            Session(str(at), when, r["role"], r["km"] * KM, r["km"] * 300, levels=levels, hard_mm=hard,
                    supporting=r["supporting"], s_per_km=360)
        )  # fmt: skip
        if at in oracle.done:
            km = oracle.done[at]
            logs.append(
                Log(when, str(at), "part", km * KM, km * 300)
                if km
                else Log(when, str(at), "missed", reason="tired")
            )
    weeks = tuple(Week(MONDAY + timedelta(days=7 * w), kind) for w, kind in enumerate(oracle.kinds))
    return Inputs(
        weeks, tuple(plan), MONDAY + timedelta(days=oracle.today), logs=tuple(logs), weekly_mm=oracle.weekly * KM,
        longest_mm=oracle.longest * KM, signed_silence=True,
    )  # fmt: skip


def states(result):
    found = {}
    for p in result.sessions:
        how = "out" if p.dropped else "easy" if p.turned_easy else NAMES[p.level]
        found[int(p.key)] = (p.mm // KM, how)
    return found


def compare(seed):
    """(agreed, whether anything was changed, both answers)."""
    oracle = tiny(random.Random(seed))
    ours, theirs = states(rebalance(told(oracle))), oracle.answer()
    plan = {7 * r["week"] + r["day"]: r["km"] for r in oracle.runs}
    changed = any(plan[at] != km for at, (km, _) in ours.items())
    return weekly(oracle, ours) == weekly(oracle, theirs), changed, (oracle, ours, theirs)


def weekly(oracle, states):
    """What a coach compares: each week's key sessions, easy kilometres, and runs taken out."""
    roles = {7 * r["week"] + r["day"]: r["role"] for r in oracle.runs}
    found = Counter()
    for at, (km, how) in states.items():
        easy = how == "easy" or roles[at] == "easy"
        found[at // 7, "easy" if easy and how != "out" else (roles[at], how), km if not easy else 0] += (
            km if easy else 1
        )
    return found


def check(seeds):
    changed = 0
    for seed in seeds:
        agreed, different, (_, ours, theirs) = compare(seed)
        assert agreed, f"seed {seed}: planner {ours}, oracle {theirs}"
        changed += different
    return changed


def test_the_oracle_agrees_on_two_thousand_tiny_cases():
    assert check(range(2000)) > 600  # three in ten of them change something


@pytest.mark.long
def test_the_oracle_agrees_on_twenty_thousand_tiny_cases():
    check(range(2000, 22_000))
