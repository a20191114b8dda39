"""The plans we ship: the marks of the trade, on the plans as written and measured for the runners they name.

Taper: Bosquet 2007 (volume down by 41-60 %), Smyth & Lawlor 2021 (falling every week). The rest is common
practice, no source: recovery about every fourth week, the marathon's longest run three weeks before, hard days
apart, nothing hard in the last days, strides the day before.
"""

from __future__ import annotations

import itertools
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path

import pytest

from athletes.running.paces import make_card
from athletes.running.performance import Result
from athletes.running.units import TEN_K, Duration
from plans.training import shorthand
from plans.training.fitting import FitAthlete, FitRace, fit
from plans.training.guardrails import Rails
from plans.training.intensity import effort, has_hard
from plans.training.steps import Ladder, RacePace, Repeats, RunWith, Step
from plans.training.template_csv import read_csv, write_csv
from plans.training.template_file import read_template, write_yaml
from plans.training.template_sums import sums_of

KM = 1_000_000
LIBRARY = Path(__file__).parents[2] / "plans" / "library"
# Each plan with 10K times of people it is for, in minutes.
RUNNERS = {
    "marathon-18-weeks-5-days": (38, 42, 46),
    "marathon-18-weeks-4-days": (48, 56, 64),
    "half-marathon-12-weeks-4-days": (38, 46, 54),
    "half-marathon-12-weeks-3-days": (50, 58, 66),
    "10k-10-weeks-4-days": (36, 44, 52),
    "10k-10-weeks-3-days": (50, 58, 68),
    "5k-8-weeks-4-days": (36, 44, 52),
    "5k-8-weeks-3-days": (52, 60, 72),
    "beginner-12-weeks-run-walk": (60, 70, 80),
    "base-8-weeks-5-days": (40, 46, 54),
    "return-after-break-4-weeks": (40, 50, 65),
    "after-a-marathon-2-weeks": (40, 50, 65),
}
PLANS = {name: read_template((LIBRARY / f"{name}.yaml").read_text(encoding="utf-8")) for name in RUNNERS}
RACES = [name for name, plan in PLANS.items() if plan.race_mm]
MARATHONS = [name for name in RACES if name.startswith("marathon")]
LEVELS = (Fraction(0), Fraction(1, 2), Fraction(1))


def card(minutes: int):
    return make_card(Result(TEN_K, Duration.from_min(minutes)))


def sums(plan, paces, units, level):
    return sums_of(plan, paces, units, Rails(), level).weeks


def every_sum(name: str):
    for minutes in RUNNERS[name]:
        for level in LEVELS:
            yield sums(PLANS[name], card(minutes), "km", level)


def test_every_file_of_the_library_is_tested():
    assert sorted(RUNNERS) == sorted(path.stem for path in LIBRARY.glob("*.yaml"))


@pytest.mark.parametrize("name", RUNNERS)
def test_a_file_is_as_the_program_writes_it(name):
    plan = PLANS[name]
    assert write_yaml(plan) == (LIBRARY / f"{name}.yaml").read_text(encoding="utf-8")
    assert read_csv(write_csv(plan)) == plan


@pytest.mark.parametrize("name", RUNNERS)
@pytest.mark.parametrize("level", LEVELS)
def test_a_plan_keeps_the_programs_own_guard_rails(name, level):
    for minutes in RUNNERS[name]:
        assert sums_of(PLANS[name], card(minutes), "km", Rails(), level).broken == ()


@pytest.mark.parametrize("name", RUNNERS)
def test_every_week_and_session_says_what_it_is_for(name):
    for week in PLANS[name].weeks:
        assert week.purpose.endswith((".", "!"))
        for session in week.sessions:
            assert session.purpose.endswith((".", "!"))


@pytest.mark.parametrize("name", RACES)
def test_the_taper_falls_every_week_to_the_published_volume(name):
    kinds = [week.kind for week in PLANS[name].weeks]
    first = kinds.index("taper")
    assert kinds[first:] == ["taper"] * (len(kinds) - first - 1) + ["race"]
    for weeks in every_sum(name):
        peak = max(week.mm for week in weeks)
        falling = [weeks[first - 1].mm, *(week.mm for week in weeks[first:])]
        assert falling == sorted(falling, reverse=True)
        assert len(set(falling)) == len(falling)
        assert Fraction(40, 100) * peak <= weeks[-2].mm <= Fraction(59, 100) * peak
        assert weeks[-1].mm < Fraction(59, 100) * peak


@pytest.mark.parametrize("name", MARATHONS)
def test_the_marathons_longest_run_is_three_weeks_before_the_race(name):
    for weeks in every_sum(name):
        longs = [week.long_mm for week in weeks]
        assert longs.index(max(longs)) == len(longs) - 4


@pytest.mark.parametrize("name", RACES)
def test_a_recovery_week_at_least_every_fifth_and_it_is_a_sixth_to_a_third_smaller(name):
    kinds = [week.kind for week in PLANS[name].weeks]
    loading = "".join("x" if kind in ("base", "build", "peak") else " " for kind in kinds)
    assert max(len(stretch) for stretch in loading.split()) <= 4
    for weeks in every_sum(name):
        for place, kind in enumerate(kinds):
            if kind == "recovery":
                before = weeks[place - 1].mm
                assert Fraction(65, 100) * before <= weeks[place].mm <= Fraction(85, 100) * before


@pytest.mark.parametrize("name", RUNNERS)
def test_hard_days_are_few_apart_and_of_two_kinds(name):
    days = []
    for number, week in enumerate(PLANS[name].weeks):
        hard = [s for s in week.sessions if s.role in ("long", "quality")]
        assert len(hard) <= 3
        assert len({s.role for s in hard}) <= 2
        days += [7 * number + s.day for s in week.sessions if s.role in ("long", "quality", "race")]
    days.sort()
    assert all(later - day >= 2 for day, later in itertools.pairwise(days))


@pytest.mark.parametrize("name", RACES)
def test_nothing_hard_in_the_last_days_and_strides_the_day_before(name):
    week = PLANS[name].weeks[-1]
    race = next(s for s in week.sessions if s.role == "race")
    assert race.day == 6
    for session in week.sessions:
        if session.day in (3, 4, 5):
            assert session.role == "easy"
            assert not any(has_hard(part) for part in shorthand.parse(session.text).parts)
    before = next(s for s in week.sessions if s.day == 5)
    assert "strides" in before.text
    assert before.priority == "key"


def hardest(name: str) -> list[int | None]:
    """The hardest effort of each week's key quality session, None without one."""

    def efforts(part, working=False):
        match part:
            case Step() | Ladder():
                yield effort(part, working=working)
            case Repeats(body=body):
                for inner in body:
                    yield from efforts(inner, True)
            case RunWith(outer, inner):
                yield from efforts(outer)
                yield from efforts(inner)

    found = []
    for week in PLANS[name].weeks:
        sessions = [s for s in week.sessions if s.role == "quality" and s.priority == "key"]
        efforts_here = [e for s in sessions for part in shorthand.parse(s.text).parts for e in efforts(part)]
        found.append(max(efforts_here, default=None))
    return found


@pytest.mark.parametrize("name", MARATHONS)
def test_faster_and_shorter_first_longer_and_nearer_goal_pace_later(name):
    kinds = [week.kind for week in PLANS[name].weeks]
    efforts = hardest(name)
    early = [e for e, kind in zip(efforts, kinds, strict=True) if kind == "base" and e]
    late = [e for e, kind in zip(efforts, kinds, strict=True) if kind == "peak" and e]
    assert min(early) > max(late)


@pytest.mark.parametrize("name", MARATHONS)
def test_the_peak_holds_running_at_marathon_pace(name):
    parts = [
        part
        for week in PLANS[name].weeks
        if week.kind == "peak"
        for session in week.sessions
        for part in shorthand.parse(session.text).parts
    ]
    targets = [
        getattr(step, "target", None) for part in parts for step in [part, getattr(part, "inner", None)]
    ]
    targets += [step.target for part in parts if isinstance(part, Repeats) for step in part.body]
    assert targets.count(RacePace("MP")) >= 2


def test_beginners_walk_in_minutes_less_and_less():
    plan = PLANS["beginner-12-weeks-run-walk"]
    texts = [session.text for week in plan.weeks for session in week.sessions]
    assert texts[0] == "6 x (1 min easy, 2 min walk)"
    assert texts[-1] == "30 min easy"
    walked = []
    for week in plan.weeks:
        repeats = [p for s in week.sessions for p in shorthand.parse(s.text).parts if isinstance(p, Repeats)]
        walk = sum(r.low * r.body[1].extent.low for r in repeats)
        run = sum(r.low * r.body[0].extent.low for r in repeats)
        walked.append(Fraction(walk, walk + run))
    assert walked == sorted(walked, reverse=True)


@pytest.mark.parametrize(
    "name", ["return-after-break-4-weeks", "after-a-marathon-2-weeks", "beginner-12-weeks-run-walk"]
)
def test_blocks_of_return_hold_nothing_hard(name):
    for weeks in every_sum(name):
        assert [week.hard_percent for week in weeks] == [0] * len(weeks)


@pytest.mark.parametrize("name", RUNNERS)
def test_somebody_it_is_for_gets_the_plan_unbent(name):
    plan = PLANS[name]
    today = date(2026, 11, 30)
    last = today + timedelta(weeks=len(plan.weeks), days=-1)
    race = FitRace(last, plan.race_mm) if plan.race_mm else None
    for minutes in RUNNERS[name]:
        first = sums(plan, card(minutes), "km", Fraction(1, 2))[0]
        athlete = FitAthlete(
            week_mm=plan.from_week_mm or first.mm,
            long_mm=plan.from_long_mm or first.long_mm or first.mm // 3,
            minutes=(240,) * 7,
            card=card(minutes),
            level=Fraction(1, 2),
        )
        fitted = fit(plan, athlete, race, Rails(), today)
        assert fitted.bent == ()
        assert fitted.broken == ()
        assert fitted.merit.as_tuple() == (0,) * 7
        sessions = [s for week in plan.weeks for s in week.sessions]
        assert {s.template_key for s in fitted.sessions} == {s.key for s in sessions}
        assert all(s.repeat == 0 for s in fitted.sessions)
