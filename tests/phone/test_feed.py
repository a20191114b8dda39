"""The calendar by RFC 5545, parsed again with icalendar and compared with what was issued."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import icalendar
import pytest
from django.test import Client

from athletes.models import Athlete
from coaching.models import Feed
from coaching.phone.profile import address_of, renew
from plans import pausing
from plans.issuing import Content, issue
from plans.models import Schedule, SessionIssue
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def bea(schedule: Schedule) -> Athlete:
    return schedule.athlete


@pytest.fixture
def path(bea: Athlete) -> str:
    return address_of(renew(bea)).removeprefix("http://localhost:8000")


def events(path: str) -> dict[str, icalendar.Event]:
    answer = Client().get(path)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    calendar = icalendar.Calendar.from_ical(answer.content)
    return {str(event["UID"]): event for event in calendar.walk("VEVENT")}


def live(schedule: Schedule) -> list[SessionIssue]:
    return list(SessionIssue.objects.filter(schedule=schedule, to_version=None))


def test_it_says_what_was_issued(schedule: Schedule, path: str) -> None:
    found = events(path)
    issued = live(schedule)
    assert set(found) == {str(one.session_id) for one in issued}
    for one in issued:
        event = found[str(one.session_id)]
        assert event["DTSTART"].dt == one.day
        assert event["DTEND"].dt == one.day + timedelta(1)
        assert event["SEQUENCE"] == 0
        assert event["STATUS"] == "CONFIRMED"
        assert event.decoded("DTSTAMP") == schedule.versions.get().issued_at.astimezone(UTC).replace(
            microsecond=0
        )
        assert str(event["URL"]) == f"http://localhost:8000/me/sessions/{one.session_id}/"
    quality = next(one for one in issued if one.role == "quality")
    event = found[str(quality.session_id)]
    assert str(event["SUMMARY"]) == "5 × 3 min at 10K pace"
    assert "/km" in str(event["DESCRIPTION"])


def test_it_is_a_calendar_by_the_rfc(path: str) -> None:
    body = Client().get(path).content
    lines = body.split(b"\r\n")
    # RFC 5545, 3.1: lines end in CRLF and have at most 75 octets.
    assert b"\n" not in body.replace(b"\r\n", b"")
    assert max(len(line) for line in lines) <= 75
    assert lines[0] == b"BEGIN:VCALENDAR"
    calendar = icalendar.Calendar.from_ical(body)
    assert (calendar["VERSION"], calendar["CALSCALE"]) == ("2.0", "GREGORIAN")
    assert calendar["PRODID"]
    assert not calendar.walk("VALARM")
    for event in calendar.walk("VEVENT"):
        assert not event.errors
    assert icalendar.Calendar.from_ical(calendar.to_ical()).to_ical() == body


def move(schedule: Schedule, days: int = 1, removed: bool = False) -> SessionIssue:
    """The last easy run goes to another day, or is taken out."""
    one = SessionIssue.objects.filter(schedule=schedule, to_version=None, role="easy").latest("day")
    content = Content.of(one)
    changed = Content(**{**content.__dict__, "day": one.day + timedelta(days), "slot": 3, "removed": removed})
    issue(schedule, schedule.current_version, {one.session_id: changed}, by=UserFactory(), cause="moved")
    return one


def test_a_session_that_moves_keeps_its_uid_and_counts_up(schedule: Schedule, path: str) -> None:
    before = events(path)
    moved = move(schedule)
    after = events(path)
    assert set(after) == set(before)
    event = after[str(moved.session_id)]
    assert (event["SEQUENCE"], event["DTSTART"].dt) == (1, moved.day + timedelta(1))
    assert event.decoded("DTSTAMP") > before[str(moved.session_id)].decoded("DTSTAMP")
    untouched = set(after) - {str(moved.session_id)}
    assert all(after[uid].to_ical() == before[uid].to_ical() for uid in untouched)


def test_another_hour_counts_up_for_every_session_once(schedule: Schedule, path: str) -> None:
    """DTSTART is what SEQUENCE is for (RFC 5545, 3.8.7.4), whoever moved it."""
    before = events(path)
    Feed.objects.update(begins=time(6, 30))
    after = events(path)
    assert {event["SEQUENCE"] for event in before.values()} == {0}
    assert {event["SEQUENCE"] for event in after.values()} == {1}
    assert {uid: event.to_ical() for uid, event in events(path).items()} == {
        uid: event.to_ical() for uid, event in after.items()
    }


def test_a_session_taken_out_is_cancelled(schedule: Schedule, path: str) -> None:
    gone = move(schedule, days=0, removed=True)
    event = events(path)[str(gone.session_id)]
    assert (event["STATUS"], event["SEQUENCE"]) == ("CANCELLED", 1)


@pytest.mark.parametrize("zone", ["Europe/Lisbon", "America/Halifax", "Asia/Kathmandu"])
def test_at_an_hour_of_the_athletes_own_zone(schedule: Schedule, path: str, zone: str) -> None:
    Athlete.objects.update(time_zone=zone)
    Feed.objects.update(begins=time(6, 30))
    found = events(path)
    for one in live(schedule):
        event = found[str(one.session_id)]
        begins = event["DTSTART"].dt
        assert begins == datetime.combine(one.day, time(6, 30), ZoneInfo(zone))
        assert event["DTSTART"].params["TZID"] == zone
        lasts = event["DTEND"].dt - begins
        assert abs(lasts.total_seconds() - max(one.planned_s, 900)) <= 30
    calendar = icalendar.Calendar.from_ical(Client().get(path).content)
    assert [str(z["TZID"]) for z in calendar.walk("VTIMEZONE")] == [zone]


def test_the_hour_stays_over_the_change_to_summer_time(schedule: Schedule, path: str) -> None:
    Athlete.objects.update(time_zone="Europe/Lisbon")
    Feed.objects.update(begins=time(6, 30))
    first = SessionIssue.objects.filter(schedule=schedule, to_version=None).order_by("day")
    # In the European Union the clock goes forward on the last Sunday of March: 28 March in 2027.
    for one, day in zip(first, (date(2027, 3, 27), date(2027, 3, 28), date(2027, 3, 29)), strict=False):
        SessionIssue.objects.filter(pk=one.pk).update(day=day, slot=0)
    found = events(path)
    hours = sorted(
        e["DTSTART"].dt.astimezone(UTC).strftime("%d %H:%M")
        for e in found.values()
        if e["DTSTART"].dt.date().isoformat() in ("2027-03-27", "2027-03-28", "2027-03-29")
    )
    assert hours == ["27 06:30", "28 05:30", "29 05:30"]


def test_units_of_the_athlete(schedule: Schedule, path: str) -> None:
    Athlete.objects.update(units="mi")
    quality = next(one for one in live(schedule) if one.role == "quality")
    assert "/mi" in str(events(path)[str(quality.session_id)]["DESCRIPTION"])


def test_what_is_not_changed_is_not_sent_again(schedule: Schedule, path: str) -> None:
    first = Client().get(path)
    again = Client().get(path, HTTP_IF_NONE_MATCH=first["ETag"])
    assert (again.status_code, again.content) == (304, b"")
    move(schedule)
    changed = Client().get(path, HTTP_IF_NONE_MATCH=first["ETag"])
    assert changed.status_code == 200
    assert changed["ETag"] != first["ETag"]


def test_a_paused_schedule_shows_only_what_lies_behind(schedule: Schedule, bea: Athlete, path: str) -> None:
    pausing.pause(schedule, bea.today())
    days = [event["DTSTART"].dt for event in events(path).values()]
    assert days
    assert max(days) < bea.today()


def test_a_new_address_ends_the_old_one_at_once(phone: Client, bea: Athlete, path: str) -> None:
    page = phone.get("/me/profile/calendar/").content.decode()
    assert f"http://localhost:8000{path}" in page
    assert phone.post("/me/profile/calendar/", {"do": "renew", "begins": ""}).status_code == 302
    assert Client().get(path).status_code == 404
    new = address_of(Feed.objects.get()).removeprefix("http://localhost:8000")
    assert new != path
    assert Client().get(new).status_code == 200


def test_the_address_is_stored_as_a_hash(path: str) -> None:
    token = path.removeprefix("/feed/").removesuffix(".ics")
    assert len(token) == 43
    assert token not in str(Feed.objects.values().get())


def test_made_and_set_on_the_phone(phone: Client, bea: Athlete) -> None:
    assert "Make my calendar" in phone.get("/me/profile/calendar/").content.decode()
    assert not Feed.objects.exists()
    phone.post("/me/profile/calendar/", {"do": "keep", "begins": "06:15"})
    feed = Feed.objects.get()
    assert feed.begins == time(6, 15)
    phone.post("/me/profile/calendar/", {"do": "keep", "begins": ""})
    again = Feed.objects.get()
    assert (again.begins, again.token_hash) == (None, feed.token_hash)
    assert phone.post("/me/profile/calendar/", {"do": "keep", "begins": "25:00"}).status_code == 422


def test_nobody_guesses_an_address(path: str, bea: Athlete) -> None:
    for token in ("x", "a" * 43, Feed.objects.get().token_hash, Feed.objects.get().nonce):
        assert Client().get(f"/feed/{token}.ics").status_code == 404
    assert Client().post(path).status_code == 405


def test_whoever_left_has_no_calendar(bea: Athlete, path: str) -> None:
    pausing.leave(bea, bea.today())
    assert Client().get(path).status_code == 404


def test_health_is_not_in_it(phone: Client, schedule: Schedule, bea: Athlete, path: str) -> None:
    bea.health_notes.create(kind="easy", cause="pain", words="left shin", opened=bea.today())
    body = Client().get(path).content
    assert b"shin" not in body
    assert b"pain" not in body
