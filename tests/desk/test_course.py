"""Move a race, pause, go on, end, leave."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from athletes.models import Coach
from plans.models import Proposal, Schedule
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


@pytest.fixture
def coach() -> Coach:
    return CoachFactory()


@pytest.fixture
def schedule(coach: Coach) -> Schedule:
    made = scheduled(weeks=8)
    coaches(coach, made.athlete)
    return made


def post(coach: Coach, name: str, schedule: Schedule, **values: Any) -> Any:
    client = Client()
    client.force_login(coach.user)
    return client.post(reverse(name, args=[schedule.pk]), values)


def test_before_and_after_first_then_issue(coach: Coach, schedule: Schedule) -> None:
    day = schedule.race_entry.race.day + timedelta(weeks=2)
    values = {"race_name": "Saltmarsh Marathon", "race_day": day.isoformat()}
    shown = post(coach, "course", schedule, **values, do="show")
    assert shown.status_code == 200
    assert "Before and after" in shown.content.decode()
    assert not Proposal.objects.exists()
    issued = post(coach, "course", schedule, **values, do="issue")
    assert issued.status_code == 302
    schedule.refresh_from_db()
    assert schedule.race_entry.race.day == day
    assert schedule.current_version == 2
    proposal = Proposal.objects.get()
    assert (proposal.state, proposal.kind) == ("accepted", "refit")


@pytest.mark.parametrize("race_day", ["2020-01-05", "", "soon", "2090-01-01"])
def test_days_that_can_not_be(coach: Coach, schedule: Schedule, race_day: str) -> None:
    answer = post(coach, "course", schedule, race_name="Saltmarsh Marathon", race_day=race_day, do="issue")
    assert answer.status_code == 422
    assert not Proposal.objects.exists()


def test_the_same_day(coach: Coach, schedule: Schedule) -> None:
    race = schedule.race_entry.race
    answer = post(coach, "course", schedule, race_name=race.name, race_day=race.day.isoformat(), do="issue")
    assert answer.status_code == 422
    assert "on this day already" in answer.content.decode()


def test_pause_go_on_end(coach: Coach, schedule: Schedule) -> None:
    for name, state in (("course-pause", "paused"), ("course-resume", "running"), ("course-end", "ended")):
        assert post(coach, name, schedule).status_code == 302
        schedule.refresh_from_db()
        assert schedule.state == state
        client = Client()
        client.force_login(coach.user)
        assert client.get(reverse("course", args=[schedule.pk])).status_code == 200
    assert post(coach, "course", schedule, race_name="x", race_day="2027-01-01").status_code == 404


def test_leaving(coach: Coach, schedule: Schedule) -> None:
    assert post(coach, "course-leave", schedule).status_code == 302
    schedule.refresh_from_db()
    assert schedule.state == "ended"
    assert schedule.athlete.left_on == schedule.athlete.today()


def test_who_may(coach: Coach, schedule: Schedule) -> None:
    address = reverse("course", args=[schedule.pk])
    assert post(CoachFactory(), "course-pause", schedule).status_code == 404
    client = Client()
    client.force_login(AthleteFactory().user)
    assert client.get(address).status_code == 404
    assert Client().get(address).status_code == 302
    client.force_login(coach.user)
    assert client.get(reverse("course-pause", args=[schedule.pk])).status_code == 405
    assert client.get(reverse("course", args=[99_999])).status_code == 404
