"""Ticked handouts typed in as a grid: what cells take, what is refused and kept, and what stands already."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from athletes.models import Coach, Group, HealthNote, Membership
from plans.models import Job, Log, Schedule, SessionIssue
from plans.reading import week_of
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db

TUE, THU, SAT, SUN = 1, 3, 5, 6


def last_monday() -> date:
    return week_of(timezone.localdate(), 0) - timedelta(7)


@pytest.fixture
def coach() -> Coach:
    return CoachFactory()


@pytest.fixture
def desk(coach: Coach) -> Client:
    client = Client()
    client.force_login(coach.user)
    return client


def mine(coach: Coach, name: str, **values: Any) -> Schedule:
    schedule = scheduled(AthleteFactory(name=name, **values))
    coaches(coach, schedule.athlete)
    return schedule


@pytest.fixture
def ada(coach: Coach) -> Schedule:
    return mine(coach, "Ada")


def cell(schedule: Schedule, weekday: int) -> str:
    day = last_monday() + timedelta(weekday)
    return f"c-{SessionIssue.objects.get(schedule=schedule, day=day, to_version=None).session_id}"


def url(**query: object) -> str:
    return "/desk/week/handouts/?" + "&".join(f"{k}={v}" for k, v in {"week": last_monday(), **query}.items())


def send(desk: Client, cells: dict[str, str], **query: object) -> Any:
    return desk.post(url(**query), {"form": uuid4(), **cells})


def test_it_works(desk: Client, coach: Coach, ada: Schedule) -> None:
    ben = mine(coach, "Ben", units="mi")
    cells = {
        cell(ada, TUE): "ok",
        cell(ada, THU): "8.2 45:10 e4",
        cell(ada, SAT): "- tim",
        cell(ada, SUN): "9",
        cell(ben, TUE): "5",
        cell(ben, THU): "50 min",
        cell(ben, SUN): "ok sat",
    }
    answer = send(desk, cells)
    assert answer.status_code == 302
    said = [
        (
            log.athlete.name,
            log.day - last_monday(),
            log.outcome,
            log.distance_mm,
            log.moving_s,
            log.effort,
            log.reason,
        )
        for log in Log.objects.order_by("athlete__name", "session__issues__day")
    ]
    assert said == [
        ("Ada", timedelta(TUE), "done", None, None, None, ""),
        ("Ada", timedelta(THU), "done", 8_200_000, 2710, 4, ""),
        ("Ada", timedelta(SAT), "missed", None, None, None, "time"),
        # 9 of 14 km: clearly less than planned.
        ("Ada", timedelta(SUN), "cut", 9_000_000, None, None, ""),
        ("Ben", timedelta(TUE), "done", 8_046_720, None, None, ""),
        ("Ben", timedelta(THU), "done", None, 3000, None, ""),
        ("Ben", timedelta(SAT), "done", None, None, None, ""),
    ]
    assert set(Log.objects.values_list("by", "by_coach")) == {(coach.user.pk, str(coach))}
    waiting = Job.objects.filter(kind="rebalance", state="waiting").values_list("key", flat=True)
    assert sorted(waiting) == sorted([str(ada.athlete_id), str(ben.athlete_id)])
    page = desk.get(answer["Location"]).content.decode()
    assert "7 entries of 2 athletes stored, marked as typed by you." in page
    assert page.count("typed by") > 6


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("fish", "“fish” is not understood. Type ok, a distance like 8.4"),
        ("-", "Say why after the -: time, travel, tired, ill or pain."),
        ("- t", "“t” is not understood"),
        ("- ill 8", "Missed, or run?"),
        ("8.4 4:10", "Distance and time don&#x27;t go together"),
        ("900", "further than 250 km"),
        ("8 e11", "whole number from 0 to 10"),
        ("ok " * 25, "at most 60 are read"),
        ("<b>8</b>", "is not understood"),
    ],
)
def test_a_wrong_cell_is_said_and_all_that_was_typed_stays(
    desk: Client, ada: Schedule, typed: str, said: str
) -> None:
    answer = send(desk, {cell(ada, TUE): "8.25", cell(ada, THU): typed})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert 'value="8.25"' in page
    assert "1 cell needs another look" in page
    assert not Log.objects.exists()


def test_what_an_athlete_logged_is_shown_and_never_overwritten(desk: Client, ada: Schedule) -> None:
    opened = cell(ada, TUE)
    issue = SessionIssue.objects.get(session=opened[2:], to_version=None)
    own = Log.objects.create(
        athlete=ada.athlete,
        session=issue.session,
        day=issue.day,
        time_zone="UTC",
        received_at=timezone.now(),
        outcome="done",
        distance_mm=10_300_000,
    )
    assert opened not in re.findall(r'name="(c-[^"]+)"', desk.get(url()).content.decode())
    # The page was opened before the athlete logged it: the other cell is stored, theirs stays.
    answer = send(desk, {opened: "ok", cell(ada, THU): "ok"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Not stored: logged meanwhile: done, 10.3 km." in page
    assert list(Log.objects.standing().filter(session=issue.session)) == [own]
    assert Log.objects.count() == 2


def test_a_page_sent_twice_counts_once(desk: Client, ada: Schedule) -> None:
    cells = {"form": str(uuid4()), cell(ada, TUE): "ok", cell(ada, THU): "8"}
    assert [desk.post(url(), cells).status_code for _ in range(2)] == [302, 302]
    assert Log.objects.count() == 2


def test_illness_opens_a_hold_and_says_so(desk: Client, ada: Schedule) -> None:
    page = desk.post(url(), {"form": uuid4(), cell(ada, TUE): "-ill"}, follow=True).content.decode()
    assert "On hold now, ill or in pain: Ada." in page
    assert HealthNote.objects.get().athlete == ada.athlete


def test_days_to_come_take_nothing(desk: Client, ada: Schedule) -> None:
    ahead = SessionIssue.objects.filter(schedule=ada, to_version=None).latest("day")
    query = {"week": week_of(ahead.day, 0)}
    assert "Nothing is left to type in here" in desk.get(url(**query)).content.decode()
    answer = desk.post(url(**query), {f"c-{ahead.session_id}": "ok"})
    assert answer.status_code == 422
    assert "This day is still to come." in answer.content.decode()


def test_a_group_in_the_order_of_the_printed_pile(desk: Client, coach: Coach, ada: Schedule) -> None:
    for name, group in (("Zoe", "A group"), ("Ben", "B group"), ("Cleo", "A group")):
        made, _ = Group.objects.get_or_create(name=group)
        Membership.objects.create(group=made, athlete=mine(coach, name).athlete)
    names = [row.athlete.name for row in desk.get(url()).context["rows"]]
    assert [n for n in names if n != "Ada"] == ["Cleo", "Zoe", "Ben"]
    only = desk.get(url(group=Group.objects.get(name="A group").pk)).context["rows"]
    assert [row.athlete.name for row in only] == ["Cleo", "Zoe"]


def test_others_athletes_are_not_in_it(desk: Client, ada: Schedule) -> None:
    other = mine(CoachFactory(), "Somebody Else")
    assert "Somebody" not in desk.get(url()).content.decode()
    send(desk, {cell(other, TUE): "ok"})
    assert not Log.objects.exists()


def test_who_may(ada: Schedule, client: Client) -> None:
    assert client.get(url())["Location"].startswith("/sign-in/")
    client.force_login(ada.athlete.user)
    assert client.get(url()).status_code == 404


def test_it_costs_the_same_for_two_and_for_six(desk: Client, coach: Coach) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            assert desk.get(url()).status_code == 200
        return len(caught)

    for n in range(2):
        mine(coach, f"Few {n}")
    queries()
    few = queries()
    for n in range(4):
        mine(coach, f"Many {n}")
    assert queries() == few
