"""Fitting, case by case: expected days and amounts written out by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from uuid import UUID

import pytest

from athletes.running.paces import make_card
from athletes.running.performance import Result
from athletes.running.units import TEN_K, Duration
from plans.training.fitting import CannotFit, FitAthlete, FitRace, fit
from plans.training.fitting_types import FitTimeOff
from plans.training.fitting_weeks import choose_weeks
from plans.training.guardrails import Rails
from plans.training.template import Amount, Template, TemplateSession, TemplateWeek
from plans.training.template_file import read_template

KM = 1_000_000
MARATHON = 42_195_000
LIBRARY = Path(__file__).parents[2] / "plans" / "library"
MONDAY = date(2026, 11, 30)
CARD = make_card(Result(TEN_K, Duration.from_min(46)))
ALL_DAY = (240,) * 7
STEADY = FitAthlete(week_mm=44 * KM, long_mm=16 * KM, minutes=ALL_DAY, card=CARD)


def library(name: str) -> Template:
    return read_template((LIBRARY / f"{name}.yaml").read_text(encoding="utf-8"))


FIVE_DAYS = library("marathon-18-weeks-5-days")
HALF = library("half-marathon-12-weeks-4-days")
SUNDAY_18 = FitRace(MONDAY + timedelta(weeks=18, days=-1), MARATHON)
SUNDAY_12 = FitRace(MONDAY + timedelta(weeks=12, days=-1), 21_097_500)


def fitted(template=FIVE_DAYS, athlete=STEADY, race=SUNDAY_18, today=MONDAY, rails=None, **options):
    return fit(template, athlete, race, rails or Rails(), today, **options)


def on(result, day):
    return [s for s in result.sessions if s.day == day]


def told(result, *words):
    return [s for s in result.bent if all(word in s for word in words)]


def small_plan(*weeks, race_mm=None):
    """A plan from lists of (day, role, text) or (day, role, text, extra fields)."""
    number, built = 0, []
    for kind, sessions in weeks:
        made = []
        for day, role, text, *more in sessions:
            number += 1
            made.append(
                TemplateSession(str(UUID(int=number)), day, role, text, "Why.", **(more[0] if more else {}))
            )
        built.append(TemplateWeek(kind, "What for.", tuple(made)))
    return Template("Small", tuple(built), race_mm=race_mm)


# Weeks.


def test_the_plan_is_counted_back_from_the_race():
    result = fitted()
    assert result.first_day == MONDAY
    assert result.last_day == date(2027, 4, 4)
    assert [week.template_week for week in result.weeks] == list(range(18))
    assert [(s.text, s.role) for s in on(result, date(2027, 4, 4))] == [("race 42.195 km", "race")]
    assert [s.text for s in on(result, date(2027, 4, 3))] == ["3 km easy + 4 strides"]
    assert on(result, date(2027, 3, 14))[0].text == "31 km with last 10 km @ MP"
    assert result.bent == ()


def test_missing_weeks_are_taken_from_the_base_then_from_the_build():
    """18 weeks: 1-5 base (4 recovery), 6-11 build (8 recovery), 12 recovery, 13-15 peak, 16-18 taper and race."""
    assert choose_weeks(FIVE_DAYS, 17)[0] == tuple(range(1, 18))
    assert choose_weeks(FIVE_DAYS, 15)[0] == (2, *range(4, 18))  # not beginning with a step back
    assert choose_weeks(FIVE_DAYS, 13)[0] == tuple(range(5, 18))
    assert choose_weeks(FIVE_DAYS, 10)[0] == tuple(range(8, 18))
    assert choose_weeks(FIVE_DAYS, 7)[0] == (10, *range(12, 18))
    with pytest.raises(CannotFit, match="peak, taper and race week"):
        choose_weeks(FIVE_DAYS, 5)


def test_spare_weeks_go_to_the_base():
    assert choose_weeks(FIVE_DAYS, 19)[0] == (0, 0, *range(1, 18))
    assert choose_weeks(FIVE_DAYS, 20)[0] == (0, 0, 1, 1, *range(2, 18))
    assert choose_weeks(FIVE_DAYS, 21)[0] == (0, 1, 3, *range(18))
    assert choose_weeks(FIVE_DAYS, 22)[0] == (0, 1, 2, 3, *range(18))
    assert choose_weeks(FIVE_DAYS, 27)[0] == (0, 1, 2, 3, 0, 1, 2, 3, 0, 0, *range(1, 18))


def test_copies_of_a_week_are_counted_back_from_the_race():
    result = fitted(today=MONDAY - timedelta(weeks=4))
    assert [(w.template_week, w.repeat) for w in result.weeks[:6]] == [
        (0, 1),
        (1, 1),
        (2, 1),
        (3, 1),
        (0, 0),
        (1, 0),
    ]
    assert told(result, "4 weeks more than the plan has: 4 weeks of its base are run again first.")
    assert len({(s.template_key, s.repeat) for s in result.sessions}) == len(result.sessions)


def test_moving_the_race_a_week_keeps_the_identity_of_what_stays():
    before = {(s.template_key, s.repeat) for s in fitted().sessions}
    after = {
        (s.template_key, s.repeat)
        for s in fitted(race=FitRace(SUNDAY_18.day + timedelta(days=7), MARATHON)).sessions
    }
    assert before <= after


def test_joining_a_plan_under_way_invents_no_weeks():
    today = MONDAY + timedelta(weeks=8)
    result = fitted(today=today, athlete=replace(STEADY, week_mm=60 * KM, long_mm=25 * KM), joining=True)
    assert [week.template_week for week in result.weeks] == list(range(8, 18))
    assert result.first_day == today
    assert told(result, "Joins at week 9 of 18; the 8 weeks gone are not made up.")


@pytest.mark.parametrize(
    ("today", "first", "lost"),
    [
        (MONDAY, MONDAY, 0),
        (MONDAY + timedelta(days=2), MONDAY, 1),  # Wednesday: Tuesday's run is gone
        (MONDAY + timedelta(days=4), MONDAY + timedelta(days=7), 0),  # Friday: next Monday
    ],
)
def test_a_plan_begins_in_the_week_that_still_has_four_days(today, first, lost):
    result = fitted(today=today)
    assert result.first_day == first
    assert min(s.day for s in result.sessions) >= today
    said = "1 session of the first week lies before that and is not made up."
    assert bool(told(result, said)) == (lost == 1)


def test_a_race_on_wednesday_follows_its_race_week():
    """Tuesday is the day before: strides. The race week's other runs stand in the week before."""
    race = FitRace(date(2027, 4, 7), MARATHON)
    result = fitted(race=race)
    assert [s.text for s in on(result, date(2027, 4, 6))] == ["3 km easy + 4 strides"]
    assert [s.day for s in result.sessions if date(2027, 3, 29) <= s.day <= date(2027, 4, 4)] == [
        date(2027, 3, 30), date(2027, 3, 31), date(2027, 4, 1),
    ]  # fmt: skip
    assert result.last_day == race.day
    assert [w.kind for w in result.weeks[-2:]] == ["race", "race"]


def test_a_race_on_saturday_pulls_the_strides_to_friday():
    result = fitted(race=FitRace(date(2027, 4, 3), MARATHON))
    assert [s.text for s in on(result, date(2027, 4, 2))] == ["3 km easy + 4 strides"]
    assert on(result, date(2027, 4, 3))[0].role == "race"


def test_a_block_without_a_race_begins_today():
    result = fitted(library("base-8-weeks-5-days"), race=None)
    assert (result.first_day, len(result.weeks)) == (MONDAY, 8)


def test_the_athletes_race_counts_not_the_templates():
    result = fitted(HALF, race=FitRace(SUNDAY_12.day, 20 * KM))
    assert on(result, SUNDAY_12.day)[0].text == "race 20 km"
    assert on(result, SUNDAY_12.day)[0].mm == 20 * KM


@pytest.mark.parametrize("starts", range(7))
def test_weeks_begin_on_the_practices_day_and_the_sessions_are_the_same(starts):
    monday = fitted()
    result = fitted(athlete=replace(STEADY, week_starts=starts))
    assert result.sessions == monday.sessions
    assert {week.first_day.weekday() for week in result.weeks} == {starts}
    assert sum(week.mm for week in result.weeks) == sum(week.mm for week in monday.weeks)
    days = [(later.first_day - week.first_day).days for week, later in pairwise(result.weeks)]
    assert set(days) == {7}
    assert result.weeks[-1].kind == "race"
    assert result.weeks[-1].first_day <= result.last_day <= result.weeks[-1].first_day + timedelta(days=6)
    assert result.weeks[0].first_day <= result.sessions[0].day


def test_an_eased_session_says_why_it_is_easy():
    result = fitted(athlete=replace(STEADY, week_mm=10 * KM, long_mm=5 * KM))
    eased = [s for s in result.sessions if s.purpose.startswith("Easy in place of the quality session")]
    assert eased
    assert {s.role for s in eased} == {"easy"}
    assert {s.hard_mm for s in eased} == {0}


# Refusals.


@pytest.mark.parametrize(
    ("change", "race", "place", "said"),
    [
        ({}, FitRace(MONDAY - timedelta(days=1), MARATHON), "race", "The race on 29 November 2026 is in the past or today."),
        ({}, FitRace(MONDAY, MARATHON), "race", "The race on 30 November 2026 is in the past or today."),
        ({}, FitRace(date(2027, 1, 10), MARATHON), "race", "leaves 6 weeks; this plan needs at least 10."),
        ({}, FitRace(date(2028, 6, 4), MARATHON), "race", "is 79 weeks away; a schedule holds 60."),
        ({}, None, "race", "ends with a race: choose the athlete's."),
        ({"minutes": (0,) * 7}, SUNDAY_18, "availability", "No day of the week is free"),
        ({"minutes": (10,) * 7}, SUNDAY_18, "availability", "at least one needs 15 minutes"),
        ({"age": 17}, SUNDAY_18, "athlete", "No automatic plan for a half marathon or longer at 17"),
        ({"pregnant": True}, SUNDAY_18, "athlete", "No automatic plan in pregnancy"),
        ({"no_plan_reason": "Health questions come first."}, SUNDAY_18, "athlete", "Health questions come first."),
    ],
)  # fmt: skip
def test_what_cant_be_fitted_is_said_in_a_sentence(change, race, place, said):
    with pytest.raises(CannotFit) as caught:
        fitted(athlete=replace(STEADY, **change), race=race)
    assert caught.value.place == place
    assert said in caught.value.sentence


def test_a_minor_may_run_10_km_and_a_coach_may_sign():
    young = replace(STEADY, age=16, week_mm=30 * KM, long_mm=11 * KM)
    race = FitRace(MONDAY + timedelta(weeks=10, days=-1), 10 * KM)
    assert fitted(library("10k-10-weeks-4-days"), young, race).sessions
    signed = fitted(athlete=replace(young, signed_by="Asa Lund"))
    assert "Signed by Asa Lund." in signed.bent


# Volume.


def test_a_small_start_climbs_by_the_guard_rails_and_the_weakest_point_is_named():
    """20 km declared, 3 km or 10 % a week: 23, at most 26, then the recovery week at the plan's own ratio."""
    result = fitted(athlete=replace(STEADY, week_mm=20 * KM, long_mm=10 * KM))
    one, two, three = (week.mm for week in result.weeks[:3])
    assert one == 23 * KM
    assert one + KM < two <= one + 3 * KM
    assert two + KM < three <= two + 3 * KM
    planned = [week.mm for week in fitted().weeks]
    assert result.weeks[3].mm <= result.weeks[2].mm * planned[3] // max(planned[:3])
    longs = [s.mm for s in result.sessions if s.role == "long"]
    assert longs[0] <= 12 * KM
    assert told(
        result, "Peak week ", "instead of 75 km: starts from 20 km a week with 15 weeks before the taper"
    )


def test_the_taper_is_in_proportion_to_the_peak_that_was_reached():
    result = fitted(athlete=replace(STEADY, week_mm=20 * KM, long_mm=10 * KM))
    plan = [week.mm for week in fitted().weeks]
    reached = max(week.mm for week in result.weeks)
    for place in (15, 16, 17):
        assert result.weeks[place].mm <= reached * plan[place] // max(plan)
    assert result.weeks[15].mm > result.weeks[16].mm > result.weeks[17].mm


def test_too_far_below_the_race_is_named_and_not_pretended():
    result = fitted(
        athlete=replace(STEADY, week_mm=5 * KM, long_mm=3 * KM), race=FitRace(date(2027, 2, 14), MARATHON)
    )
    assert any(s.startswith("The longest run is ") and "at least 24 km" in s for s in result.broken)


def test_the_clock_ends_the_long_run():
    """At 10K in 70 minutes, easy is slower than 8:30 per km: three hours hold no 31 km."""
    slow = replace(STEADY, card=make_card(Result(TEN_K, Duration.from_min(70))))
    result = fitted(athlete=slow)
    assert max(s.s for s in result.sessions if s.role != "race") <= 10_800
    assert told(result, "Peak long run ", "instead of 31 km: the guard rail ends runs at 3 h 00.")


def test_nothing_is_made_larger_than_written():
    result = fitted(athlete=replace(STEADY, week_mm=100 * KM, long_mm=35 * KM))
    assert max(week.mm for week in result.weeks) <= 76 * KM
    assert told(result, "Runs 100 km a week now; this plan begins at 42 km.")


@pytest.mark.parametrize(("level", "first", "peak"), [(Fraction(0), 8, 9), (Fraction(1), 9, 10)])
def test_ranges_follow_level_and_phase(level, first, peak):
    """8-10 km, three weeks of build: at the low level 8, 8.5 (8), 9; at the top 9, 9.5 (10), 10."""
    plan = small_plan(*[("build", [(2, "easy", "8-10 km easy")])] * 3)
    plan = replace(plan, weeks=tuple(
        replace(w, sessions=tuple(replace(s, key=str(UUID(int=n))) for s in w.sessions)) for n, w in enumerate(plan.weeks)
    ))  # fmt: skip
    result = fitted(plan, replace(STEADY, level=level), None)
    assert [result.sessions[0].mm, result.sessions[2].mm] == [first * KM, peak * KM]


def test_a_share_of_the_week_becomes_kilometres():
    """12 + 8 km fixed, a quarter of the week: 20 / 0.75 x 0.25 = 6.67, in whole kilometres 7."""
    share = {"amount": Amount(25, 25, "percent")}
    plan = small_plan(
        ("base", [(1, "easy", "12 km easy"), (3, "easy", "easy", share), (5, "easy", "8 km easy")])
    )
    result = fitted(plan, race=None)
    assert [(s.day.weekday(), s.text) for s in result.sessions] == [
        (1, "12 km easy"),
        (3, "7 km easy"),
        (5, "8 km easy"),
    ]


def test_miles_are_whole_half_miles():
    result = fitted(athlete=replace(STEADY, units="mi"))
    assert on(result, MONDAY + timedelta(days=2))[0].text == "3.5 mi easy"  # 6 km
    easy = [s for s in result.sessions if s.role == "easy" and "strides" not in s.text]
    assert all(s.text.endswith(" mi easy") for s in easy)


# Days.


def test_the_long_run_stands_on_the_wished_day_and_changes_with_what_stood_there():
    result = fitted(athlete=replace(STEADY, long_day=5))
    longs = {s.day.weekday() for s in result.sessions if s.role == "long"}
    assert longs == {5}
    assert on(result, MONDAY + timedelta(days=6))[0].text == "6 km easy"


def test_fewer_free_days_leave_out_the_shortest_easy_runs():
    result = fitted(athlete=replace(STEADY, minutes=(0, 240, 0, 240, 0, 0, 240)))
    week = [s for s in result.sessions if s.day < MONDAY + timedelta(days=7) and s.role != "strength"]
    assert [(s.day.weekday(), s.role) for s in week] == [(1, "easy"), (3, "easy"), (6, "long")]
    assert result.merit.key_lost == 0
    assert told(result, "Left out, because no free day is left for them: ")


def test_a_short_day_takes_the_easy_running_first_and_then_repetitions():
    """At 10K in 46:00 the session takes some 62 minutes: with 60 it loses a kilometre of warm-up, with 54 a repeat as well."""
    plan = small_plan(
        ("build", [(1, "quality", "3 km easy; 5 x 1000 m @ 10K, 2 min jog; 2 km easy", {"priority": "key"})])
    )
    athlete = replace(STEADY, week_mm=60 * KM, minutes=(0, 60, 0, 0, 0, 0, 0))
    rails = Rails(quality_share=Fraction(1))
    assert (
        fitted(plan, athlete, None, rails=rails).sessions[0].text
        == "2 km easy; 5 x 1000 m @ 10K, 2 min jog; 2 km easy"
    )
    athlete = replace(athlete, minutes=(0, 54, 0, 0, 0, 0, 0))
    assert (
        fitted(plan, athlete, None, rails=rails).sessions[0].text
        == "2 km easy; 4 x 1000 m @ 10K, 2 min jog; 2 km easy"
    )


def test_strength_shares_a_day_and_a_second_run_joins_the_first():
    second = {"second": True}
    plan = small_plan(("base", [
        (1, "easy", "8 km easy"), (1, "easy", "30 min easy", second), (1, "strength", "strength 20 min"), (6, "long", "14 km easy"),
    ]))  # fmt: skip
    result = fitted(plan, race=None)
    tuesday = on(result, MONDAY + timedelta(days=1))
    assert [(s.slot, s.text) for s in tuesday] == [
        (0, "8 km easy"),
        (1, "30 min easy"),
        (2, "strength 20 min"),
    ]


def test_a_second_run_is_never_left_alone():
    plan = small_plan(
        (
            "base",
            [
                (1, "easy", "8 km easy"),
                (1, "easy", "30 min easy", {"second": True}),
                (6, "long", "14 km easy"),
            ],
        )
    )
    result = fitted(plan, replace(STEADY, minutes=(0, 50, 0, 0, 0, 0, 240)), None)
    assert [s.text for s in on(result, MONDAY + timedelta(days=1))] == ["8 km easy"]


def test_two_second_runs_pressed_onto_one_day_before_a_race_are_not_both_run():
    """A race on Thursday: what was written for Wednesday, Thursday and Friday all wishes for Wednesday."""
    second = {"second": True}
    plan = small_plan(
        ("base", [(1, "easy", "8 km easy"), (6, "long", "14 km easy")]),
        ("race", [
            (2, "easy", "6 km easy"), (2, "easy", "30 min easy", second), (3, "easy", "20 min easy", second),
            (6, "race", "race 10 km"),
        ]),
        race_mm=10 * KM,
    )  # fmt: skip
    result = fitted(plan, race=FitRace(MONDAY + timedelta(days=10), 10 * KM))
    assert [s.text for s in on(result, MONDAY + timedelta(days=9))] == ["6 km easy", "30 min easy"]


def test_time_off_holds_no_runs_and_the_way_back_is_a_share():
    """Ten days from 4 January: the first week back holds at most 65 % of the mean before, nothing hard for a week."""
    off = FitTimeOff(date(2027, 1, 4), date(2027, 1, 13))
    result = fitted(athlete=replace(STEADY, time_off=(off,)))
    assert not [s for s in result.sessions if off.first_day <= s.day <= off.last_day]
    before = [week.mm for week in result.weeks[1:5]]
    base = max(before[-1], sum(before) // 4)
    back = next(week for week in result.weeks if week.first_day == date(2027, 1, 18))
    assert back.mm <= base * 65 // 100
    assert not [
        s for s in result.sessions if s.role == "quality" and off.last_day < s.day <= date(2027, 1, 20)
    ]
    assert told(
        result,
        "Away 4 January to 13 January: no runs, then a week of at most 65 % and 7 days without quality.",
    )


def test_a_race_on_the_way_takes_the_place_of_the_nearest_key_session():
    race = FitRace(date(2027, 1, 30), 10 * KM, "Harbour 10")  # a Saturday
    result = fitted(athlete=replace(STEADY, tune_ups=(race,)))
    here = [s for s in result.sessions if date(2027, 1, 25) <= s.day <= date(2027, 2, 2)]
    assert [(s.text, s.role, s.template_key) for s in here if s.day == race.day] == [
        ("race 10 km", "race", None)
    ]
    assert not [s for s in here if s.role == "long"]
    assert not [s for s in here if s.role == "quality" and -3 <= (s.day - race.day).days <= 3]
    week = next(w for w in result.weeks if w.first_day == date(2027, 1, 25))
    planned = next(w for w in fitted().weeks if w.first_day == date(2027, 1, 25))
    assert week.mm + race.mm <= planned.mm * 85 // 100
    assert told(result, "The Harbour 10 on 30 January takes the place of that week's long run")


def test_a_race_outside_the_plan_is_told():
    result = fitted(athlete=replace(STEADY, tune_ups=(FitRace(date(2027, 6, 1), 10 * KM),)))
    assert told(result, "The race on 1 June lies outside the plan and was left out.")


def test_races_too_near_each_other_are_told_and_the_goal_stays():
    races = (
        FitRace(date(2027, 4, 2), 5 * KM),
        FitRace(date(2027, 1, 30), 10 * KM),
        FitRace(date(2027, 1, 31), 5 * KM),
    )
    result = fitted(athlete=replace(STEADY, tune_ups=races))
    assert [s.day for s in result.sessions if s.role == "race"] == [date(2027, 1, 30), SUNDAY_18.day]
    assert told(result, "The race on 31 January is too near another and was left out.")
    assert told(result, "The race on 2 April is too near another and was left out.")


def test_a_block_is_appended_after_a_race():
    """Fitted months ahead: it begins on the Monday after the marathon, with the marathon as the longest run."""
    after = replace(STEADY, week_mm=40 * KM, long_mm=MARATHON)
    result = fitted(library("after-a-marathon-2-weeks"), after, None, start=SUNDAY_18.day + timedelta(days=1))
    assert result.first_day == date(2027, 4, 5)
    assert [s.text for s in result.sessions][:3] == ["cross-train 30 min bike", "20 min easy", "25 min easy"]
    assert (result.bent, result.broken) == ((), ())


def test_a_plan_without_base_begins_later_and_repeats_no_race_week():
    plan = small_plan(
        ("taper", [(1, "easy", "8 km easy")]), ("race", [(6, "race", "race 10 km")]), race_mm=10 * KM
    )
    result = fitted(plan, race=FitRace(MONDAY + timedelta(weeks=4, days=-1), 10 * KM))
    assert result.first_day == MONDAY + timedelta(weeks=2)
    assert len([s for s in result.sessions if s.role == "race"]) == 1
    assert told(result, "2 weeks more than the plan has, and no base to run again: it begins 2 weeks later.")


def test_a_race_inside_the_template_keeps_quality_and_long_runs_away():
    plan = small_plan(
        (
            "build",
            [
                (1, "quality", "6 x 800 m @ 10K, 90 s jog"),
                (4, "quality", "5 km @ 10K"),
                (5, "race", "race 5 km"),
            ],
        )
    )
    result = fitted(plan, race=None)
    assert [(s.day.weekday(), s.role) for s in result.sessions] == [(1, "quality"), (4, "easy"), (5, "race")]


def test_the_order_of_what_is_given_does_not_matter():
    offs = (
        FitTimeOff(date(2027, 1, 4), date(2027, 1, 9)),
        FitTimeOff(date(2026, 12, 20), date(2026, 12, 27)),
    )
    races = (FitRace(date(2027, 1, 30), 10 * KM, "A"), FitRace(date(2027, 2, 20), 10 * KM, "B"))
    one = fitted(athlete=replace(STEADY, time_off=offs, tune_ups=races))
    other = fitted(athlete=replace(STEADY, time_off=offs[::-1], tune_ups=races[::-1]))
    assert one == other


@pytest.mark.parametrize(
    ("plan", "ten_k_min", "minutes", "race"),
    [
        # A cut long run with a fast end, reckoned in proportion, took 30:01.
        (HALF, 34, (0, 0, 0, 0, 0, 0, 30), FitRace(date(2027, 2, 22), 21_097_500)),
        # Less hard work with more easy running around it took 64 minutes of an hour's day.
        (library("10k-10-weeks-4-days"), 70, (0, 0, 60, 0, 60, 0, 30), FitRace(date(2027, 2, 8), 10 * KM)),
    ],
)  # fmt: skip
def test_a_run_cut_to_its_day_takes_no_second_more(plan, ten_k_min, minutes, race):
    athlete = FitAthlete(
        week_mm=22 * KM,
        long_mm=0,
        minutes=minutes,
        card=make_card(Result(TEN_K, Duration.from_min(ten_k_min))),
    )
    rails = Rails.nearest(athlete={"weekly_rise": 5, "longest_s": 9000})
    result = fitted(plan, athlete, race, rails=rails)
    runs = [s for s in result.sessions if s.role in ("easy", "long", "quality")]
    assert runs
    assert [s for s in runs if s.s > 60 * minutes[s.day.weekday()]] == []


def test_of_two_runs_as_long_the_later_is_held_to_its_own_thirty_days():
    """Back on 21 December: the declared longest lies within the 30 days of Wednesday, not of Sunday."""
    off = FitTimeOff(date(2026, 12, 3), date(2026, 12, 20))
    athlete = FitAthlete(
        week_mm=18 * KM, long_mm=0, minutes=(0, 0, 30, 0, 0, 0, 30), card=make_card(Result(TEN_K, Duration.from_min(34))),
        time_off=(off,),
    )  # fmt: skip
    plan, race = library("10k-10-weeks-3-days"), FitRace(date(2027, 2, 11), 10 * KM)
    result = fitted(plan, athlete, race, today=date(2026, 12, 3))
    assert any(
        "21 December: long run 3.4 km after 0 km at most in the 30 days" in one for one in result.broken
    )
