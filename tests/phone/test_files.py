"""A run from a GPX file: shown first, kept on a word, once. Bad files: a sentence each, nothing stored."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from plans.models import Job, Log, LogFile, Schedule, SessionIssue
from tests.factories import AthleteFactory, CoachFactory
from tests.running.tracks import EASY, REPEATS, RIDE, gpx

pytestmark = pytest.mark.django_db
ADDRESS = "/me/runs/file/"


def at(day: date) -> datetime:
    return datetime.combine(day, time(7), UTC)


def send(client: Client, content: bytes, name: str = "run.gpx") -> Any:
    return client.post(ADDRESS, {"file": SimpleUploadedFile(name, content)})


def form_of(page: str) -> dict[str, str]:
    """What the preview's form would send if nobody touched it."""
    page = page[page.index('name="read"') - 2000 :] if page.index('name="read"') > 2000 else page
    values = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page))
    checked = re.findall(r'<input type="radio" name="(\w+)" value="([^"]*)"[^>]*checked', page)
    return {**values, **dict(checked)}


@pytest.fixture
def quality(schedule: Schedule) -> SessionIssue:
    """Last week's repeats."""
    return SessionIssue.objects.filter(schedule=schedule, role="quality").earliest("day")


def test_it_works(phone: Client, quality: SessionIssue) -> None:
    page = send(phone, gpx(REPEATS, start=at(quality.day)))
    assert page.status_code == 200
    text = page.content.decode()
    assert "Nothing is kept yet" in text
    assert "7.86 km" in text  # 600 x 2.6 + 5 x 180 x 4.2 + 4 x 120 x 2 + 600 x 2.6 = 7860 m
    assert not Log.objects.exists()
    assert not LogFile.objects.exists()
    form = form_of(text)
    assert form["session"] == str(quality.session_id)
    answer = phone.post(ADDRESS, {**form, "effort": "7", "note": "windy"})
    assert answer.status_code == 302
    log = Log.objects.get()
    assert (log.session_id, log.day, log.effort, log.note) == (quality.session_id, quality.day, 7, "windy")
    assert abs((log.distance_mm or 0) - 7_860_000) < 20_000
    assert log.moving_s == 2580
    file = LogFile.objects.get()
    assert (file.log, file.name, len(file.sha256)) == (log, "run.gpx", 64)
    assert "lat" not in str(file.facts)
    assert Job.objects.filter(kind="rebalance").count() == 1


def test_laps_stand_beside_the_planned_pieces(phone: Client, quality: SessionIssue) -> None:
    text = send(phone, gpx(REPEATS, start=at(quality.day))).content.decode()
    table = text[text.index("The hard pieces") :]
    table = table[: table.index("</table>")]
    assert table.count('<th scope="row">') == 5
    assert table.count("3:00") >= 5  # as planned
    phone.post(ADDRESS, form_of(text))
    page = phone.get(f"/me/sessions/{quality.session_id}/").content.decode()
    assert "The hard pieces" in page
    assert "Splits" in page


def test_a_run_on_a_day_without_a_session_is_outside_the_plan(phone: Client, schedule: Schedule) -> None:
    day = schedule.first_day - timedelta(20)
    form = form_of(send(phone, gpx(EASY, start=at(day))).content.decode())
    assert form["session"] == "none"
    phone.post(ADDRESS, form)
    log = Log.objects.get()
    assert (log.session, log.outcome, log.day) == (None, "other", day)


def test_the_day_is_the_athletes_own(phone: Client, schedule: Schedule, quality: SessionIssue) -> None:
    """23:30 UTC is the next morning in Auckland."""
    schedule.athlete.time_zone = "Pacific/Auckland"
    schedule.athlete.save()
    start = datetime.combine(quality.day - timedelta(1), time(20), UTC)
    form = form_of(send(phone, gpx(EASY, start=start)).content.decode())
    phone.post(ADDRESS, form)
    assert Log.objects.get().day == quality.day


def test_the_same_file_twice_is_told_and_counts_once(phone: Client, quality: SessionIssue) -> None:
    content = gpx(REPEATS, start=at(quality.day))
    first, second = (form_of(send(phone, content).content.decode()) for _ in range(2))
    assert phone.post(ADDRESS, first).status_code == 302
    again = phone.post(ADDRESS, {**second, "session": "none"}, follow=True)
    assert "counts once" in again.content.decode()
    assert Log.objects.count() == 1
    third = send(phone, content)
    assert third.status_code == 422
    assert "this very file before" in third.content.decode()


def test_a_double_tap_keeps_one(phone: Client, quality: SessionIssue) -> None:
    form = form_of(send(phone, gpx(REPEATS, start=at(quality.day))).content.decode())
    for _ in range(2):
        assert phone.post(ADDRESS, form).status_code == 302
    assert (Log.objects.count(), LogFile.objects.count()) == (1, 1)


def test_the_file_replaces_what_was_logged_and_keeps_history(
    phone: Client, quality: SessionIssue, schedule: Schedule
) -> None:
    old = Log.objects.create(
        athlete=schedule.athlete,
        session_id=quality.session_id,
        day=quality.day,
        time_zone="UTC",
        received_at=at(quality.day),
        outcome="done",
        effort=6,
    )
    form = form_of(send(phone, gpx(REPEATS, start=at(quality.day))).content.decode())
    assert form["effort"] == "6"
    phone.post(ADDRESS, form)
    old.refresh_from_db()
    assert old.replaced_by is not None
    assert Log.objects.standing().get() == old.replaced_by  # type: ignore[attr-defined]


def test_an_entry_that_came_in_meanwhile_asks(
    phone: Client, quality: SessionIssue, schedule: Schedule
) -> None:
    form = form_of(send(phone, gpx(REPEATS, start=at(quality.day))).content.decode())
    Log.objects.create(
        athlete=schedule.athlete,
        session_id=quality.session_id,
        day=quality.day,
        time_zone="UTC",
        received_at=at(quality.day),
        outcome="done",
    )
    answer = phone.post(ADDRESS, form)
    assert answer.status_code == 422
    assert "came in for it meanwhile" in answer.content.decode()
    assert not LogFile.objects.exists()
    assert phone.post(ADDRESS, form_of(answer.content.decode())).status_code == 302
    assert LogFile.objects.count() == 1


BAD = [
    ("empty", b"", "empty"),
    ("not xml", b"fit\x0e\x10", "not a GPX file"),
    ("entities", b'<!DOCTYPE g [<!ENTITY a "b">]><gpx>&a;</gpx>', "entities"),
    ("no points", b'<gpx version="1.1"/>', "no points"),
    ("no time", gpx(EASY, start=datetime(2026, 1, 1, tzinfo=UTC), times=False), "no time"),
    ("another year", gpx(EASY, start=datetime(2019, 5, 1, tzinfo=UTC)), "more than a year ago"),
    ("to come", gpx(EASY, start=datetime(2090, 5, 1, tzinfo=UTC)), "still to come"),
    ("a ride", gpx(RIDE), "A ride is not counted"),
]


@pytest.mark.parametrize(("content", "said"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_a_bad_file_is_a_sentence_and_nothing_is_stored(phone: Client, content: bytes, said: str) -> None:
    answer = send(phone, content)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Log.objects.exists()
    assert not LogFile.objects.exists()


def test_forty_megabytes_are_passed_over(phone: Client) -> None:
    answer = send(phone, b"x" * 40_000_000)
    assert answer.status_code == 422
    assert "bigger than 10 MB" in answer.content.decode()


def test_no_file_at_all(phone: Client) -> None:
    assert phone.post(ADDRESS, {}).status_code == 422


def test_what_was_read_is_signed(phone: Client, quality: SessionIssue) -> None:
    form = form_of(send(phone, gpx(REPEATS, start=at(quality.day))).content.decode())
    answer = phone.post(ADDRESS, {**form, "read": form["read"][:-3] + "abc"}, follow=True)
    assert "Send the file once more" in answer.content.decode()
    assert not Log.objects.exists()


def test_what_another_athlete_read_is_not_mine(phone: Client, quality: SessionIssue) -> None:
    form = form_of(send(phone, gpx(REPEATS, start=at(quality.day))).content.decode())
    other = Client()
    other.force_login(AthleteFactory().user)
    assert "Send the file once more" in other.post(ADDRESS, form, follow=True).content.decode()
    assert not Log.objects.exists()


def test_a_session_of_another_day_is_no_choice(
    phone: Client, quality: SessionIssue, schedule: Schedule
) -> None:
    form = form_of(send(phone, gpx(REPEATS, start=at(quality.day))).content.decode())
    far = schedule.issues.latest("day")
    answer = phone.post(ADDRESS, {**form, "session": str(far.session_id)})
    assert answer.status_code == 422
    assert not Log.objects.exists()


def test_a_coach_has_no_such_page() -> None:
    client = Client()
    client.force_login(CoachFactory().user)
    assert client.get(ADDRESS).status_code == 404


def test_a_stranger_signs_in() -> None:
    assert Client().get(ADDRESS)["Location"].startswith("/sign-in/")
