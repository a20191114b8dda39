"""Pain and illness open a hold at once; days off go to the coach before they are missed."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.test import Client
from django.utils import timezone

from athletes.models import HealthNote, TimeOff
from plans.models import Job, Schedule
from tests.factories import AthleteFactory, CoachFactory, coaches

pytestmark = pytest.mark.django_db


def log(client: Client, session: UUID, **values: str) -> Any:
    data = {"entry_id": str(uuid4()), "day": timezone.localdate().isoformat(), **values}
    return client.post(f"/me/sessions/{session}/log/", data)


def test_cut_short_with_pain_opens_a_hold_and_the_coach_sees_it(
    phone: Client, past: UUID, schedule: Schedule
) -> None:
    log(phone, past, outcome="cut", distance="3", reason="pain", note="left calf")
    note = HealthNote.objects.get()
    assert (note.kind, note.cause, note.words) == ("easy", "pain", "left calf")
    coach = CoachFactory()
    coaches(coach, schedule.athlete)
    desk = Client()
    desk.force_login(coach.user)
    assert "pain, easy running only, today" in desk.get("/desk/").content.decode()
    assert "left calf" in desk.get(f"/desk/athletes/{schedule.athlete_id}/").content.decode()


def test_a_fever_holds_every_run(phone: Client, past: UUID) -> None:
    log(phone, past, outcome="missed", reason="ill", severe="on")
    assert HealthNote.objects.get().kind == "rest"


def test_severe_alone_is_nothing(phone: Client, past: UUID) -> None:
    log(phone, past, outcome="missed", reason="travel", severe="on")
    log(phone, past, outcome="done", reason="pain", severe="on")
    assert not HealthNote.objects.exists()


def test_said_without_a_run(phone: Client, schedule: Schedule) -> None:
    answer = phone.post("/me/unwell/", {"cause": "pain", "words": "right shin"}, follow=True)
    page = answer.content.decode()
    assert "your coach is told" in page
    assert "see a clinician" in page
    note = HealthNote.objects.get()
    assert (note.athlete, note.kind, note.opened) == (schedule.athlete, "easy", schedule.athlete.today())
    assert Job.objects.filter(kind="rebalance", athlete=schedule.athlete).exists()


def test_it_grows_and_never_shrinks(phone: Client) -> None:
    for severe in ({}, {"severe": "on"}, {}):
        phone.post("/me/unwell/", {"cause": "ill", **severe})
    assert HealthNote.objects.get().kind == "rest"


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({}, "required"),
        ({"cause": "bored"}, "valid choice"),
        ({"cause": "ill", "words": "x" * 401}, "at most 400"),
    ],
)
def test_what_is_missing_is_told(phone: Client, values: dict[str, str], said: str) -> None:
    answer = phone.post("/me/unwell/", values)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not HealthNote.objects.exists()


def off(client: Client, first: int, last: int, **values: str) -> Any:
    today = timezone.localdate()
    data = {
        "first_day": (today + timedelta(first)).isoformat(),
        "last_day": (today + timedelta(last)).isoformat(),
        "minutes": "0",
        "kind": "travel",
        **values,
    }
    return client.post("/me/time-off/", data)


def test_days_off_are_noted_and_the_job_is_written(phone: Client, schedule: Schedule) -> None:
    answer = off(phone, 3, 6)
    assert answer.status_code == 302
    row = TimeOff.objects.get()
    assert (row.athlete, (row.last_day - row.first_day).days, row.minutes) == (schedule.athlete, 3, 0)
    assert Job.objects.filter(kind="rebalance", athlete=schedule.athlete).count() == 1
    assert "no running" in phone.get("/me/time-off/").content.decode()
    assert "Off" in phone.get("/me/").content.decode()


def test_fewer_minutes(phone: Client) -> None:
    off(phone, 0, 4, minutes="30")
    assert TimeOff.objects.get().minutes == 30
    assert "30 min a day" in phone.get("/me/").content.decode()


def test_a_double_tap_notes_once(phone: Client) -> None:
    for _ in range(2):
        off(phone, 3, 6)
    assert TimeOff.objects.count() == 1


def test_free_again(phone: Client) -> None:
    off(phone, 3, 6)
    Job.objects.all().delete()
    row = TimeOff.objects.get()
    assert phone.get(f"/me/time-off/{row.pk}/free/").status_code == 405
    other = Client()
    other.force_login(AthleteFactory().user)
    assert other.post(f"/me/time-off/{row.pk}/free/").status_code == 404
    assert phone.post(f"/me/time-off/{row.pk}/free/").status_code == 302
    assert not TimeOff.objects.exists()
    assert Job.objects.filter(kind="rebalance").count() == 1


@pytest.mark.parametrize(
    ("first", "last", "values", "said"),
    [
        (-1, 3, {}, "That day is over"),
        (3, 2, {}, "ends before it begins"),
        (0, 400, {}, "At most a year"),
        (0, 1, {"minutes": "-1"}, "greater than or equal to 0"),
        (0, 1, {"minutes": "NaN"}, "whole number"),
        (0, 1, {"kind": "party"}, "valid choice"),
        (0, 1, {"first_day": "31 Feb"}, "valid date"),
    ],
)
def test_bad_days_are_told(phone: Client, first: int, last: int, values: dict[str, str], said: str) -> None:
    answer = off(phone, first, last, **values)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not TimeOff.objects.exists()


def test_what_waited_on_the_phone_is_noted_once(phone: Client, schedule: Schedule) -> None:
    """JSON, sent twice because the first answer was lost on the way."""
    today = schedule.athlete.today()
    json = {"Accept": "application/json"}
    for _ in range(2):
        said = phone.post("/me/unwell/", {"cause": "ill", "words": "a cold"}, headers=json).json()
        assert (said["stored"], said["level"]) == (True, "warning")
        off = {"first_day": today, "last_day": today, "minutes": 0, "kind": "travel"}
        assert phone.post("/me/time-off/", off, headers=json).json()["level"] == "success"
    assert schedule.athlete.health_notes.get().words == "a cold"
    assert schedule.athlete.time_off.count() == 1
    for address in ("/me/unwell/", "/me/time-off/"):
        wrong = phone.post(address, {}, headers=json)
        assert (wrong.status_code, "errors" in wrong.json()) == (422, True)


@pytest.mark.parametrize("address", ["/me/unwell/", "/me/time-off/"])
def test_only_for_athletes(address: str) -> None:
    coach = Client()
    coach.force_login(CoachFactory().user)
    assert coach.get(address).status_code == 404
    assert Client().get(address)["Location"].startswith("/sign-in/")
