"""What must hold for every fitted schedule, on random athletes, calendars and plans of the library.

The guard rails are computed here again from replanning.md, in plain loops, and share no code with the planner.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from functools import cache
from pathlib import Path
from uuid import UUID

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from athletes.running.paces import PaceCard, make_card
from athletes.running.performance import Result
from athletes.running.units import TEN_K, Duration
from plans.training import shorthand
from plans.training.fitting import CannotFit, FitAthlete, FitRace, Fitted, fit
from plans.training.fitting_types import FitTimeOff
from plans.training.guardrails import Rails
from plans.training.measuring import measure
from plans.training.template import Amount, Template, TemplateSession, TemplateWeek, problems
from plans.training.template_file import read_template

KM = 1_000_000
LIBRARY = Path(__file__).parents[2] / "plans" / "library"
PLANS = sorted(path.stem for path in LIBRARY.glob("*.yaml"))


@cache
def plan(name: str) -> Template:
    return read_template((LIBRARY / f"{name}.yaml").read_text(encoding="utf-8"))


@cache
def card(minutes: int) -> PaceCard:
    return make_card(Result(TEN_K, Duration.from_min(minutes)))


free_minutes = st.sampled_from((0, 0, 30, 45, 60, 60, 75, 90, 120, 180, 240))


class Case(tuple):
    """(template, athlete, race, rails, today) that prints as something to read."""

    def __repr__(self) -> str:
        template, athlete, race, rails, today = self
        seen = replace(athlete, card=None)
        changed = {k: v for k, v in rails.stored().items() if v != Rails().stored()[k]}
        written = [[(s.role, s.day, s.text) for s in week.sessions] for week in template.weeks]
        plan = written if template.name == "Wild" else repr(template.name)
        return f"Case({plan}, {athlete.card.origin}, {seen}, {race}, {changed}, {today})"


TEXTS = {
    "easy": ("8 km easy", "5 mi easy", "45-60 min easy", "8-10 km easy + 6 strides", "6 x (4 min easy, 1 min walk)",
             "free: as you feel = 40 min", "12 km with last 3 km steady"),
    "long": ("long 18 km easy", "long 2 h easy", "20 km with last 5 km @ MP", "16 km progression from easy to MP",
             "12 x (8 min easy, 1 min walk)"),
    "quality": ("6 x 800 m @ 10K, 90 s jog", "15 min easy; 20-30 min tempo @ HM; 10 min easy", "5 km @ 10K",
                "ladder 2-4-6-4-2 min @ 10K, equal jog", "2 km easy; 4-5 x (2 min @ HM, 1 min @ 10K), 2 min jog",
                "free: fartlek = 50 min, 20 min hard", "8 x 30 s hill, jog back"),
    "strength": ("strength 30 min",),
    "cross": ("cross-train 45 min bike",),
    "rest": ("rest",),
}  # fmt: skip


@st.composite
def templates(draw) -> Template:
    """A plan no coach would sign: any kinds in any order, any sessions on any days, seconds, shares, gaps."""
    weeks, number = [], 0
    count = draw(st.integers(1, 8))
    has_race = draw(st.booleans())
    for index in range(count):
        sessions: list[TemplateSession] = []
        for day in draw(st.lists(st.integers(0, 6), unique=True, max_size=7)):
            number += 1
            role = draw(
                st.sampled_from(("easy", "easy", "easy", "long", "quality", "strength", "cross", "rest"))
            )
            is_share = role == "easy" and not any(s.amount for s in sessions) and draw(st.integers(0, 5)) == 0
            sessions.append(
                TemplateSession(
                    key=str(UUID(int=number)),
                    day=None if draw(st.integers(0, 9)) == 0 else day,
                    role=role,
                    text=draw(st.sampled_from(TEXTS[role])),
                    priority=draw(st.sampled_from(("key", "supporting"))),
                    amount=Amount(20, 25, "percent") if is_share else None,
                )
            )
            if role == "easy" and draw(st.integers(0, 7)) == 0:
                number += 1
                key = str(UUID(int=number))
                sessions.append(TemplateSession(key, day, "easy", "30 min easy", second=True))
        kind = draw(st.sampled_from(("base", "build", "recovery", "peak", "taper")))
        if has_race and index == count - 1:
            kind, number = "race", number + 1
            race = TemplateSession(str(UUID(int=number)), 6, "race", "race 10 km", priority="key")
            sessions = [*(s for s in sessions if s.day != 6), race]
        weeks.append(TemplateWeek(kind, "What for.", tuple(sessions)))
    return Template("Wild", tuple(weeks), race_mm=10 * KM if has_race else None)


shipped = st.sampled_from(PLANS).map(plan)


@st.composite
def cases(draw, plans=shipped):
    """A template, an athlete, a race and a day to begin."""
    template = draw(plans)
    today = date(2026, 11, 30) + timedelta(days=draw(st.integers(0, 13)))
    weeks = len(template.weeks) + draw(st.integers(-8, 6))
    race = None
    if template.race_mm:
        race = FitRace(today + timedelta(days=7 * max(2, weeks) + draw(st.integers(-3, 3))), template.race_mm)
    week_km = draw(st.integers(0, 90))
    days_ahead = 7 * max(2, weeks)
    off = []
    if draw(st.booleans()):
        first = today + timedelta(days=draw(st.integers(0, days_ahead)))
        last = first + timedelta(days=draw(st.integers(0, 20)))
        off.append(FitTimeOff(first, last, draw(st.sampled_from((0, 0, 40)))))
    tune_ups = []
    if race and draw(st.booleans()):
        day = today + timedelta(days=draw(st.integers(7, days_ahead)))
        tune_ups.append(FitRace(day, draw(st.sampled_from((5 * KM, 10 * KM, 21_097_500))), "tune-up"))
    athlete = FitAthlete(
        week_mm=week_km * KM,
        long_mm=draw(st.integers(0, min(30, week_km))) * KM,
        minutes=tuple(draw(st.lists(free_minutes, min_size=7, max_size=7))),
        card=card(draw(st.sampled_from((34, 42, 50, 58, 70)))),
        units=draw(st.sampled_from(("km", "km", "mi"))),
        long_day=draw(st.sampled_from((None, None, 5, 6, 2))),
        time_off=tuple(off),
        tune_ups=tuple(tune_ups),
    )
    rails = Rails.nearest(
        athlete={
            "weekly_rise": draw(st.sampled_from((5, 10, 15))),
            "gap_days": draw(st.sampled_from((2, 2, 3))),
            "max_hard": draw(st.sampled_from((2, 3, 3))),
            "longest_s": draw(st.sampled_from((9_000, 10_800))),
        }
    )
    return Case((template, athlete, race, rails, today))


def fitted(case, **changes) -> Fitted:
    template, athlete, race, rails, today = case
    try:
        return fit(template, replace(athlete, **changes), race, rails, today)
    except CannotFit:
        assume(False)
        raise


def runs_of(result: Fitted):
    return [s for s in result.sessions if s.role in ("easy", "long", "quality", "race")]


def minutes_on(athlete: FitAthlete, day: date) -> int:
    found = athlete.minutes[day.weekday()]
    for off in athlete.time_off:
        if off.first_day <= day <= off.last_day:
            found = min(found, off.minutes)
    return found


def check_calendar(case, result: Fitted) -> None:
    """Days, minutes, order, identity."""
    seconds = {s.key for week in case[0].weeks for s in week.sessions if s.second}
    _, athlete, race, _, today = case
    assert len({(s.day, s.slot) for s in result.sessions}) == len(result.sessions)
    keys = [(s.template_key, s.repeat) for s in result.sessions if s.template_key]
    assert len(set(keys)) == len(keys)
    races = {s.day for s in result.sessions if s.role == "race"}
    if race:
        assert race.day in races
        assert result.last_day == race.day
        assert [s.mm for s in result.sessions if s.day == race.day] == [race.mm]
    for day in {s.day for s in result.sessions} - races:
        there = [s for s in result.sessions if s.day == day]
        assert day >= today
        assert sum(s.s for s in there) <= minutes_on(athlete, day) * 60 + 60 * len(there)
        runs = [s for s in there if s.role in ("easy", "long", "quality")]
        assert len([s for s in runs if s.template_key not in seconds]) <= 1
        assert len(runs) <= 2
        assert len(runs) < 2 or there[0].template_key not in seconds


def check_spacing(case, result: Fitted) -> None:
    """Hard days apart and not too many, none near a race."""
    rails = case[3]
    hard = sorted({s.day for s in result.sessions if s.role in ("long", "quality", "race")})
    races = [(s.day, s.mm) for s in result.sessions if s.role == "race"]
    race_days = {day for day, _ in races}
    for one, other in itertools.pairwise(hard):
        assert (other - one).days >= rails.gap_days or {one, other} <= race_days
    for week in result.weeks:
        here = [d for d in hard if 0 <= (d - week.first_day).days < 7]
        assert len(here) <= rails.max_hard
    for s in result.sessions:
        for day, mm in races:
            if s.role == "quality":
                assert not -3 <= (s.day - day).days <= mm // rails.race_day_mm
            if s.role == "long":
                assert abs((s.day - day).days) > 2


def named(result: Fitted, week, *words: str) -> bool:
    day = f"{week.first_day:%-d %B}:"
    return any(day in text and any(word in text for word in words) for text in result.broken)


def check_volume(case, result: Fitted) -> None:
    """Weekly rise, long run over 30 days, shares, the clock and the falling taper, or else named."""
    _, athlete, _, rails, today = case
    start = max(today, result.weeks[0].first_day)
    tol = 1 + rails.tolerance
    history = [Fraction(athlete.week_mm)] * 12
    kinds = ["base"] * 12
    longest = [(result.weeks[0].first_day - timedelta(days=7), max(athlete.long_mm, athlete.week_mm // 7))]
    before = None
    for place, week in enumerate(result.weeks):
        last = week.first_day + timedelta(days=6)
        every = [s for s in runs_of(result) if week.first_day <= s.day <= last]
        training = [s for s in every if s.role != "race"]
        total = sum(s.mm for s in training)
        assert week.mm == total
        ref = max(history[-1], sum(history[-4:]) / 4, history[-2] if kinds[-1] == "recovery" else 0)
        held = max(history[-12:])
        cap = max(
            (1 + rails.weekly_rise) * ref,
            min(ref + rails.weekly_rise_mm, Fraction(13, 10) * ref),
            min(held, (1 + rails.weekly_return) * ref),
            rails.share_15 * held,
            3 * rails.shortest_mm,
        )
        assert total <= cap * tol + 1000 or named(result, week, "after"), (week, total, cap)
        for s in training:
            recent = max(
                (mm for day, mm in longest if s.day - timedelta(days=30) <= day < week.first_day), default=0
            )
            ever = max(mm for _, mm in longest if True)
            run_cap = max(
                (1 + rails.long_rise) * recent,
                min(recent + rails.long_rise_mm, Fraction(13, 10) * recent),
                min(ever, (1 + rails.long_return) * recent),
                min(rails.long_floor_mm, Fraction(13, 10) * recent),
                rails.share_15 * ever,
                rails.shortest_mm,
            )
            assert s.mm <= run_cap * tol + 1000 or named(result, week, "30 days before"), (s, run_cap)
            assert s.s <= rails.longest_s + 60 or named(result, week, "takes")
        long = max((s.mm for s in training if s.role == "long"), default=0)
        hard = sum(s.hard_mm for s in training)
        slack = Fraction(1, 100)
        if week.kind != "race" and total:
            days = len(training)
            assert long <= (rails.long_share(days) + slack) * total + 1000 or named(
                result, week, "long run is"
            )
            assert hard <= (rails.quality_share + slack) * total + 1000 or named(result, week, "hard running")
        if week.kind in ("taper", "race") and before is not None and before[1] and before[0] != "race":
            assert total < before[1] or named(result, week, "a taper falls")
        before = (week.kind, total)
        gone = max(0, (start - week.first_day).days) if place == 0 else 0
        history.append(sum(s.mm for s in every) + athlete.week_mm * gone // 7)
        kinds.append(week.kind)
        longest += [(s.day, s.mm) for s in every]


def check_amounts(case, result: Fitted) -> None:
    """What stands on the schedule is what its shorthand comes to at the athlete's paces."""
    athlete = case[1]
    for s in runs_of(result):
        found = measure(shorthand.parse(s.text), athlete.card, athlete.units)
        assert s.mm == sum(found.total_mm) // 2
        assert s.s == sum(found.total_s) // 2


def check_all(case) -> None:
    result = fitted(case)
    check_calendar(case, result)
    check_spacing(case, result)
    check_volume(case, result)
    check_amounts(case, result)
    assert fitted(case) == result


def check_more_freedom(case, day: int, minutes: int) -> None:
    """A day with more minutes never makes the fit worse."""
    athlete = case[1]
    result = fitted(case)
    more = tuple(max(m, minutes) if n == day else m for n, m in enumerate(athlete.minutes))
    freer = fitted(case, minutes=more)
    assert freer.merit.as_tuple() <= result.merit.as_tuple()


FEW = settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
MANY = settings(max_examples=2000, deadline=None, suppress_health_check=list(HealthCheck))
freedom = (st.integers(0, 6), st.sampled_from((60, 120, 240)))


@FEW
@given(cases())
def test_a_fitted_schedule_keeps_every_guard_rail_or_names_it(case):
    check_all(case)


@FEW
@given(cases(), *freedom)
def test_more_free_days_never_give_a_worse_fit(case, day, minutes):
    check_more_freedom(case, day, minutes)


@settings(FEW, max_examples=100)
@given(cases(templates()))
def test_any_plan_is_fitted_within_the_calendar_or_refused_in_a_sentence(case):
    assume(not problems(case[0]))
    result = fitted(case)
    check_calendar(case, result)
    check_spacing(case, result)
    check_amounts(case, result)


@settings(FEW, max_examples=60)
@given(cases(templates()), *freedom)
def test_more_free_days_never_fit_any_plan_worse(case, day, minutes):
    assume(not problems(case[0]))
    check_more_freedom(case, day, minutes)


@pytest.mark.long
@MANY
@given(cases(templates()))
def test_any_plan_over_thousands(case):
    assume(not problems(case[0]))
    result = fitted(case)
    check_calendar(case, result)
    check_spacing(case, result)
    check_amounts(case, result)


@pytest.mark.long
@MANY
@given(cases())
def test_guard_rails_over_thousands(case):
    check_all(case)


@pytest.mark.long
@MANY
@given(cases(), *freedom)
def test_freedom_over_thousands(case, day, minutes):
    check_more_freedom(case, day, minutes)
