"""Looking back: after one race on desk and phone, and over the practice; and a race's own result never foretells it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from athletes.models import Coach, Result
from plans.evidence import evidence_of
from plans.looking_back import look_back
from plans.models import Log, Race, RaceEntry, RaceReport, Schedule, SessionIssue
from plans.racing import race_day, with_all
from tests.factories import MARATHON_MM, AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


@pytest.fixture
def coach() -> Coach:
    return CoachFactory()


@pytest.fixture
def desk(coach: Coach) -> Client:
    client = Client()
    client.force_login(coach.user)
    return client


def raced(coach: Coach, name: str = "Ada", **values: Any) -> Schedule:
    """Four weeks of the small plan, the race last Sunday; 3:48:00 with a second half 4 % slower."""
    schedule = scheduled(AthleteFactory(name=name), began_weeks_ago=4)
    coaches(coach, schedule.athlete)
    entry = schedule.race_entry
    assert entry
    RaceReport.objects.create(
        entry=entry,
        marks=[[MARATHON_MM // 2, 6_705_882], [MARATHON_MM, 13_680_000]],
        source="typed",
        at=timezone.now(),
    )
    return schedule


def log(schedule: Schedule, issue: SessionIssue, **values: Any) -> Log:
    what = {"outcome": "done", "day": issue.day} | values
    return Log.objects.create(
        athlete=schedule.athlete, session=issue.session, time_zone="UTC", received_at=timezone.now(), **what
    )


def runs(schedule: Schedule) -> list[SessionIssue]:
    issues = SessionIssue.objects.filter(schedule=schedule, to_version=None).exclude(role="race")
    return list(issues.order_by("day"))


def test_it_works_on_desk_and_phone(desk: Client, coach: Coach) -> None:
    schedule = raced(coach)
    before = runs(schedule)
    long = [one for one in before if one.role == "long"]
    for issue in before:
        if issue.role == "quality" or issue == long[0]:
            log(schedule, issue)
    log(schedule, long[1], outcome="cut", distance_mm=5_000_000)
    entry = schedule.race_entry
    assert entry
    page = desk.get(reverse("race-entry", args=[entry.pk])).content.decode()
    # Three weeks of long runs: one run, one cut short, one not logged. The last week has no long run but the race.
    for said in ("Looking back: 3:48:00", "1 of 3 run.", "4 of 4 run.", "In 4 weeks planned", "4.0 % slower"):
        assert said in page
    phone = Client()
    phone.force_login(schedule.athlete.user)
    assert "Looking back: 3:48:00" in phone.get(reverse("my-race-entry", args=[entry.pk])).content.decode()


def test_a_race_is_not_foretold_by_its_own_result(coach: Coach) -> None:
    schedule = raced(coach)
    entry = with_all(RaceEntry.objects.filter(athlete=schedule.athlete)).get()
    before = race_day(entry)
    assert before.plan
    assert before.outlook
    foretold = look_back([entry])[0].case
    Result.objects.create(
        athlete=schedule.athlete, day=entry.race.day, distance_mm=MARATHON_MM, time_ms=13_680_000
    )
    after = race_day(entry)
    assert after.plan
    assert after.outlook
    assert after.plan.target == before.plan.target
    assert after.outlook.chosen == before.outlook.chosen
    assert look_back([entry])[0].case == foretold
    # For the paces to come it counts at once.
    assert evidence_of([schedule.athlete])[schedule.athlete_id].results[0].day == entry.race.day


def test_a_result_without_splits_is_enough_and_without_one_nothing_is_said(
    desk: Client, coach: Coach
) -> None:
    schedule = raced(coach)
    entry = schedule.race_entry
    assert entry
    RaceReport.objects.all().delete()
    url = reverse("race-entry", args=[entry.pk])
    assert "Looking back" not in desk.get(url).content.decode()
    Result.objects.create(
        athlete=schedule.athlete, day=entry.race.day, distance_mm=MARATHON_MM, time_ms=14_400_000
    )
    assert "Looking back: 4:00:00" in desk.get(url).content.decode()


def test_what_was_first_written_and_what_stood(coach: Coach) -> None:
    schedule = raced(coach)
    last = [one for one in runs(schedule) if one.role == "long"][-1]
    SessionIssue.objects.filter(pk=last.pk).update(to_version=2)
    schedule.versions.create(number=2, issued_at=timezone.now(), cause="cut")
    SessionIssue.objects.create(
        **{
            field.attname: getattr(last, field.attname)
            for field in SessionIssue._meta.concrete_fields
            if field.attname not in ("id", "from_version", "to_version", "planned_mm")
        },
        from_version=2,
        to_version=None,
        planned_mm=last.planned_mm - 4_000_000,
    )
    case = look_back(list(with_all(RaceEntry.objects.all())))[0].case
    assert case
    assert case.training
    assert case.training.first_mm - case.training.stood_mm == 4_000_000


def test_over_the_practice_with_how_many(desk: Client, coach: Coach) -> None:
    for n in range(3):
        raced(coach, f"Runner {n}")
    raced(CoachFactory(), "Somebody Else")
    page = desk.get(reverse("looking-back")).content.decode()
    assert "3 of at least 8: too few to say anything." in page
    assert "Runner 2" in page
    assert "Somebody" not in page
    for n in range(3, 9):
        raced(coach, f"Runner {n}")
    page = desk.get(reverse("looking-back")).content.decode()
    assert "9 of 9." in page
    assert desk.get(reverse("looking-back") + "?distance=5").status_code == 404


def test_it_costs_the_same_for_two_races_and_for_six(desk: Client, coach: Coach) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            assert desk.get(reverse("looking-back")).status_code == 200
        return len(caught)

    for n in range(2):
        raced(coach, f"Few {n}")
    queries()
    few = queries()
    for n in range(4):
        raced(coach, f"Many {n}")
    assert queries() == few


def test_a_race_to_come_is_not_in_it(desk: Client, coach: Coach) -> None:
    schedule = scheduled()
    coaches(coach, schedule.athlete)
    Race.objects.update(day=timezone.localdate() + timedelta(30))
    assert "No race of the past twelve months" in desk.get(reverse("looking-back")).content.decode()
