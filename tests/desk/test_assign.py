"""Fit a template to one athlete: health questions, races on the way, joining later, and the press that issues it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from athletes import screening
from athletes.models import Athlete, Coach, Screening
from plans.models import RaceEntry, Schedule, SessionIssue, Template
from tests.factories import (
    AthleteFactory,
    AvailabilityFactory,
    CoachFactory,
    ResultFactory,
    UserFactory,
    coaches,
    next_sunday,
    template_version,
)

pytestmark = pytest.mark.django_db
NO = {f"health_{name}": "no" for name, _ in screening.QUESTIONS}


@pytest.fixture
def coach() -> Coach:
    return CoachFactory(user=UserFactory(name="Marta Quill"))


@pytest.fixture
def athlete(coach: Coach) -> Athlete:
    made = AthleteFactory(name="Bea")
    coaches(coach, made)
    AvailabilityFactory(athlete=made)
    ResultFactory(athlete=made)
    return made


@pytest.fixture
def template() -> Template:
    return template_version(6).template


def post(coach: Coach, template: Template, athlete: Athlete, **values: Any) -> Any:
    client = Client()
    client.force_login(coach.user)
    whole = {
        "race_name": "Saltmarsh Marathon", "race_day": next_sunday(5).isoformat(), "weekly": "40 km",
        "longest": "14 km", "mon": 90, "tue": 90, "wed": 90, "thu": 90, "fri": 90, "sat": 120, "sun": 240,
        "do": "issue", **values,
    }  # fmt: skip
    return client.post(f"{reverse('template-assign', args=[template.pk])}?athlete={athlete.pk}", whole)


def test_it_works_after_the_health_questions(coach: Coach, template: Template, athlete: Athlete) -> None:
    answer = post(coach, template, athlete, **NO)
    assert answer.status_code == 302
    schedule = Schedule.objects.get(athlete=athlete)
    assert schedule.race_entry.race.day == next_sunday(5)
    kept = Screening.objects.get(athlete=athlete)
    assert kept.cleared_by_name == ""
    assert not any(kept.answers.values())


def test_showing_stores_nothing(coach: Coach, template: Template, athlete: Athlete) -> None:
    answer = post(coach, template, athlete, **NO, do="show")
    assert answer.status_code == 200
    assert "Issue it to Bea" in answer.content.decode()
    assert not Schedule.objects.exists()
    assert not Screening.objects.exists()


def test_unanswered_questions_are_asked(coach: Coach, template: Template, athlete: Athlete) -> None:
    answer = post(coach, template, athlete)
    assert answer.status_code == 422
    assert answer.content.decode().count("Answer with yes or no.") == len(screening.QUESTIONS)
    assert not Schedule.objects.exists()


def test_answers_that_stand_are_not_asked_again(coach: Coach, template: Template, athlete: Athlete) -> None:
    screening.keep(athlete, {}, "", timezone.now())
    assert post(coach, template, athlete).status_code == 302
    assert Screening.objects.count() == 1


def test_answers_of_long_ago_are_asked_again(coach: Coach, template: Template, athlete: Athlete) -> None:
    screening.keep(athlete, {}, "", timezone.now() - timedelta(366))
    assert post(coach, template, athlete).status_code == 422


@pytest.mark.parametrize("name", ["disease", "symptoms", "legs", "injury", "advice", "pregnant"])
def test_a_yes_is_refused_until_a_coach_signs(
    coach: Coach, template: Template, athlete: Athlete, name: str
) -> None:
    answers = {**NO, f"health_{name}": "yes"}
    refused = post(coach, template, athlete, **answers)
    assert refused.status_code == 422
    assert "signs for it by name" in refused.content.decode()
    assert not Schedule.objects.exists()
    assert post(coach, template, athlete, **answers, signed="Somebody Else").status_code == 422
    assert not Schedule.objects.exists()
    assert post(coach, template, athlete, **answers, signed="marta quill").status_code == 302
    kept = Screening.objects.get()
    assert (kept.cleared_by_name, kept.answers[name]) == ("Marta Quill", True)


def test_a_minor_gets_no_marathon_unless_signed(coach: Coach, template: Template, athlete: Athlete) -> None:
    today = athlete.today()
    athlete.born = date(today.year - 16, 1, 1)
    athlete.save()
    refused = post(coach, template, athlete, **NO)
    assert refused.status_code == 422
    assert "under 18 a parent, a clinician" in refused.content.decode()
    assert post(coach, template, athlete, **NO, signed="Marta Quill").status_code == 302


def test_a_race_on_the_way(coach: Coach, template: Template, athlete: Athlete) -> None:
    day = next_sunday(2)
    answer = post(coach, template, athlete, **NO, way_name_1="Quay 10K", way_day_1=day.isoformat(),
                  way_distance_1="10 km")  # fmt: skip
    assert answer.status_code == 302
    race = SessionIssue.objects.get(day=day)
    assert (race.role, race.steps) == ("race", "race 10 km")
    entry = RaceEntry.objects.get(athlete=athlete, purpose="tune-up")
    assert (entry.race.name, entry.race.distance_mm) == ("Quay 10K", 10_000_000)


@pytest.mark.parametrize(
    "way", [{"way_name_1": "Quay"}, {"way_day_2": "2020-01-01"}, {"way_name_1": "Q", "way_distance_1": "NaN"}]
)
def test_half_a_race_on_the_way(
    coach: Coach, template: Template, athlete: Athlete, way: dict[str, str]
) -> None:
    answer = post(coach, template, athlete, **NO, **way)
    assert answer.status_code == 422
    assert not Schedule.objects.exists()


def test_joining_at_a_later_week(coach: Coach, template: Template, athlete: Athlete) -> None:
    answer = post(
        coach, template, athlete, **NO, do="show", joining="on", race_day=next_sunday(2).isoformat()
    )
    assert answer.status_code == 200
    assert "Joins at week 4 of 6" in answer.content.decode()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"race_day": "2020-01-05"}, "in the past"),
        ({"race_day": "x"}, "Enter a valid date"),
        ({"weekly": "-4 km"}, ""),
        ({"mon": 0, "tue": 0, "wed": 0, "thu": 0, "fri": 0, "sat": 0, "sun": 0}, "No day is free"),
        ({"tue": 481}, "At most 480 minutes"),
        ({"result_distance": "10 km", "result_time": "3:00", "result_day": "2026-01-01"}, ""),
        ({"race_name": ""}, "required"),
    ],
)
def test_what_can_be_wrong(
    coach: Coach, template: Template, athlete: Athlete, wrong: dict[str, Any], said: str
) -> None:
    answer = post(coach, template, athlete, **{**NO, **wrong})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Schedule.objects.exists()


def test_the_entered_race_is_filled_in(coach: Coach, template: Template, athlete: Athlete) -> None:
    post(coach, template, athlete, **NO, goal_time="3:45:00")
    client = Client()
    client.force_login(coach.user)
    page = client.get(
        f"{reverse('template-assign', args=[template.pk])}?athlete={athlete.pk}"
    ).content.decode()
    assert 'value="Saltmarsh Marathon"' in page
    assert 'value="3:45:00"' in page


def test_who_may(coach: Coach, template: Template, athlete: Athlete) -> None:
    assert post(CoachFactory(), template, athlete, **NO).status_code == 404
    stranger = Client()
    address = f"{reverse('template-assign', args=[template.pk])}?athlete={athlete.pk}"
    assert stranger.get(address).status_code == 302
    client = Client()
    client.force_login(athlete.user)
    assert client.get(address).status_code == 404
    client.force_login(coach.user)
    assert client.get(reverse("template-assign", args=[template.pk])).status_code == 404
