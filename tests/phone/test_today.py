"""What today says when there is no session, and on the day of the race."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.utils import timezone

from plans import pausing
from plans.models import RacePlan, Schedule, SessionIssue

pytestmark = pytest.mark.django_db


def today(phone: Client, days: int = 0) -> str:
    with time_machine.travel(timezone.now() + timedelta(days), tick=False):
        page = phone.get("/me/")
    assert page.status_code == 200
    return page.content.decode()


def test_a_day_of_rest(phone: Client, schedule: Schedule) -> None:
    SessionIssue.objects.filter(schedule=schedule, day=timezone.localdate()).delete()
    assert "Rest is part of the plan" in today(phone)


def test_a_plan_that_is_paused_is_not_said_to_be_missing(phone: Client, schedule: Schedule) -> None:
    pausing.pause(schedule, schedule.athlete.today())
    for page in (today(phone), phone.get("/me/plan/").content.decode()):
        assert "Your plan is paused" in page
        assert "Your coach takes it up again with you." in page
        assert "No plan yet" not in page


def test_a_plan_that_has_ended(phone: Client, schedule: Schedule) -> None:
    Schedule.objects.update(state="ended")
    for page in (today(phone), phone.get("/me/plan/").content.decode()):
        assert "Your plan has ended" in page
        assert "not issued" not in page


def test_no_plan_yet(phone: Client, schedule: Schedule) -> None:
    Schedule.objects.all().delete()
    assert "No plan yet" in today(phone)


def test_the_days_after_the_last_week_are_no_rest(phone: Client, schedule: Schedule) -> None:
    last = SessionIssue.objects.filter(schedule=schedule).latest("day").day
    page = today(phone, days=(last - schedule.athlete.today()).days + 8)
    assert "Your plan is done" in page
    assert "Rest is part" not in page


def test_a_plan_that_has_not_begun_says_when_it_does(phone: Client, schedule: Schedule) -> None:
    page = today(phone, days=-200)
    assert "Not begun yet" in page
    assert "Your plan begins on Mon" in page


def test_race_day_leads_to_its_plan(phone: Client, schedule: Schedule) -> None:
    race = SessionIssue.objects.get(schedule=schedule, to_version=None, role="race")
    page = today(phone, (race.day - schedule.athlete.today()).days)
    assert "Your plan for the race" in page


def test_a_race_goes_by_its_own_plan_and_not_by_the_pace_card(phone: Client, schedule: Schedule) -> None:
    race = SessionIssue.objects.get(schedule=schedule, to_version=None, role="race")
    days = (race.day - schedule.athlete.today()).days
    entry = schedule.race_entry
    assert entry
    assert entry.race.distance_mm == 42_195_000
    for page in (today(phone, days), phone.get(f"/me/sessions/{race.session_id}/").content.decode()):
        assert "Race, target and splits on race day&#x27;s page" in page
        assert 'class="pace"' not in page.split("</ol>")[0]
    RacePlan.objects.create(entry=entry, target_ms=13_500_000, by_name="Marta", at=timezone.now())
    for page in (today(phone, days), phone.get(f"/me/sessions/{race.session_id}/").content.decode()):
        assert "Race, target 3:45:00" in page
        assert '<span class="pace">5:20/km</span>' in page  # 13,500 s over 42.195 km are 319.9
