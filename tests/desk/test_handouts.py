"""Handouts on the desk: a batch asked for and downloaded, the sheet of a session, an athlete's own papers."""

from __future__ import annotations

import io
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from athletes.models import Coach, Group, Membership, Practice
from plans import jobs, meeting
from plans.models import HandoutBatch, Job, Schedule, SessionIssue
from plans.reading import week_of
from plans.tasks import sweep
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Path) -> None:
    settings.MADE_DIR = tmp_path


@pytest.fixture
def coach() -> Coach:
    return CoachFactory()


@pytest.fixture
def mine(coach: Coach) -> Schedule:
    schedule = scheduled(AthleteFactory(name="Ada"))
    coaches(coach, schedule.athlete)
    return schedule


@pytest.fixture
def desk(coach: Coach) -> Client:
    client = Client()
    client.force_login(coach.user)
    return client


def words(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split())


def this_week() -> str:
    return week_of(timezone.localdate(), 0).isoformat()


@pytest.mark.parametrize(("shape", "start"), [("one", b"%PDF"), ("each", b"PK")])
def test_it_works(desk: Client, mine: Schedule, shape: str, start: bytes) -> None:
    answer = desk.post("/desk/handouts/", {"first_day": this_week(), "shape": shape})
    assert answer.status_code == 302
    assert b"progress" in desk.get(answer["Location"]).content
    jobs.run(Job.objects.get(kind="handouts").pk)
    batch = HandoutBatch.objects.get()
    file = desk.get(reverse("handout-file", args=[batch.pk]))
    assert b"".join(file.streaming_content).startswith(start)
    assert "1 page, 1 of them made anew" in desk.get("/desk/handouts/").content.decode()


def test_a_group_sheet_has_its_viewers_athletes_only(desk: Client, mine: Schedule) -> None:
    others = scheduled(AthleteFactory(name="Somebody Else"))
    group = Group.objects.create(name="Half")
    for schedule in (mine, others):
        Membership.objects.create(group=group, athlete=schedule.athlete)
    day = SessionIssue.objects.filter(schedule=mine, role="quality").latest("day").day
    sheet = words(desk.get(f"/desk/handouts/sheet.pdf?group={group.pk}&day={day}").content)
    for said in ("Half", "Ada", "5 × 3 min at 10K pace", "4:45–4:51/km", "2 min jog between"):
        assert said in sheet
    assert "Somebody" not in sheet
    meeting.make(group, day, at=time(18, 30), place="The track")
    sheet = words(desk.get(f"/desk/handouts/sheet.pdf?group={group.pk}&day={day}").content)
    assert "18:30, The track" in sheet


def test_a_day_without_runs_says_so(desk: Client, mine: Schedule) -> None:
    far = timezone.localdate() + timedelta(400)
    answer = desk.get(f"/desk/handouts/sheet.pdf?day={far}", follow=True)
    assert "Nobody here runs on" in answer.content.decode()


@pytest.mark.parametrize("query", ["", "day=soon", "day=2026-11-26&group=987654"])
def test_a_sheet_of_nothing_is_not_found(desk: Client, query: str) -> None:
    assert desk.get(f"/desk/handouts/sheet.pdf?{query}").status_code == 404


def test_an_athletes_own_papers(desk: Client, mine: Schedule) -> None:
    page = desk.get(reverse("athlete-handout", args=[mine.athlete_id]))
    assert "Week 2 of 4" in words(page.content)
    season = desk.get(reverse("athlete-season", args=[mine.athlete_id]))
    assert "The whole plan, 4 weeks" in words(season.content)
    for query in ("?week=soon", "?week=2001-01-01"):
        assert desk.get(reverse("athlete-handout", args=[mine.athlete_id]) + query).status_code == 404


@pytest.mark.parametrize("name", ["athlete-handout", "athlete-season"])
def test_who_may(name: str, mine: Schedule, client: Client) -> None:
    url = reverse(name, args=[mine.athlete_id])
    assert client.get(url)["Location"].startswith("/sign-in/")
    client.force_login(CoachFactory().user)
    assert client.get(url).status_code == 404
    client.force_login(mine.athlete.user)
    assert client.get(url).status_code == 404


def test_the_hour_set_on_the_practice_page_is_the_hour_of_the_sunday_job(
    mine: Schedule, coach: Coach
) -> None:
    head = Client()
    head.force_login(CoachFactory(is_head=True).user)
    values = {"name": "Harbour", "paper": "A4", "units": "km", "week_starts": 0}
    page = head.post("/desk/practice/change/", values | {"time_zone": "America/Halifax", "handout_hour": 20})
    assert page.status_code == 302
    week = mine.first_day + timedelta(14)
    # Sunday 20:00 in Halifax is midnight UTC in winter (UTC-4), an hour earlier in summer.
    due = datetime.combine(week - timedelta(1), time(20), ZoneInfo("America/Halifax"))
    for early, jobs_written in ((timedelta(minutes=5), 0), (-timedelta(minutes=5), 1)):
        with time_machine.travel(due - early, tick=False):
            sweep()
        assert Job.objects.filter(kind="handout-week").count() == jobs_written
    with time_machine.travel(due + timedelta(minutes=6), tick=False):
        sweep()
        sweep()
    batch = HandoutBatch.objects.get()
    assert (batch.coach, batch.first_day, batch.scheduled, batch.pages) == (coach, week, True, 1)
    Practice.objects.update(handout_hour=None)
    with time_machine.travel(due + timedelta(7), tick=False):
        sweep()
    assert HandoutBatch.objects.count() == 1
    wrong = head.post("/desk/practice/change/", values | {"time_zone": "Europe/Lisbon", "handout_hour": 24})
    assert (wrong.status_code, Practice.get().handout_hour) == (422, None)
