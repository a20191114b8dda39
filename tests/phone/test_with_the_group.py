"""Time and place of a group session wherever the athlete looks: phone, handout, calendar; and taken away with them."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from athletes.models import Athlete, Group, Membership, Practice
from coaching import privacy
from coaching.models import Feed
from coaching.phone.profile import address_of, renew
from plans import meeting
from plans.handout_contents import page_of
from plans.handouts import make_page
from plans.issuing import Content, issue
from plans.models import Attendance, GroupSession, Schedule, SessionIssue
from plans.reading import week_of
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def bea(schedule: Schedule) -> Athlete:
    return schedule.athlete


@pytest.fixture
def quality(schedule: Schedule) -> SessionIssue:
    """Next week's quality session."""
    ahead = SessionIssue.objects.filter(schedule=schedule, to_version=None, role="quality")
    return ahead.filter(day__gt=timezone.localdate() + timedelta(1)).earliest("day")


@pytest.fixture
def held(bea: Athlete, quality: SessionIssue) -> GroupSession:
    group = Group.objects.create(name="Tuesday group")
    Membership.objects.create(group=group, athlete=bea)
    return meeting.make(group, quality.day, at=time(18, 30), place="The track", note="Bring a torch")


WORDS = "18:30, The track, with Tuesday group. Bring a torch"


def pages(phone: Client, day: date, pk: Any) -> list[str]:
    week = week_of(day, 0)
    urls = ("/me/plan/", f"/me/sessions/{pk}/", f"/me/?week={week}")
    return [phone.get(url).content.decode() for url in urls]


def test_it_works_on_every_page(phone: Client, quality: SessionIssue, held: GroupSession) -> None:
    for page in pages(phone, quality.day, quality.session_id):
        assert page.count(WORDS) == 1
    # The page that the phone keeps for that very day says it at arm's length.
    day = {"HTTP_X_KEEP": "1"}
    kept = phone.get(f"/me/?day={quality.day}", **day).content.decode()
    assert f'<p class="where">{WORDS}</p>' in kept


def test_called_off_is_said_and_another_session_of_the_group_too(
    phone: Client, quality: SessionIssue, held: GroupSession
) -> None:
    GroupSession.objects.update(steps="6 x 800 m @ 10K, 90 s jog", called_off=True)
    for page in pages(phone, quality.day, quality.session_id):
        assert f"Called off: {WORDS}. The group runs 6 × 800 m at 10K pace" in page


def test_who_is_not_expected_sees_nothing(
    phone: Client, bea: Athlete, quality: SessionIssue, held: GroupSession
) -> None:
    Attendance.objects.create(group_session=held, athlete=bea, expected=False)
    assert not any("The track" in page for page in pages(phone, quality.day, quality.session_id))


def test_on_the_handout_and_made_again_when_it_changes(
    schedule: Schedule, bea: Athlete, quality: SessionIssue, held: GroupSession, settings: Any, tmp_path: Any
) -> None:
    settings.MADE_DIR = tmp_path
    first = week_of(quality.day, 0)
    page = page_of(schedule, first)
    assert page is not None
    assert [(row.title, row.where) for row in page.days if row.where] == [("5 × 3 min at 10K pace", WORDS)]
    made = make_page(bea, first)
    assert made is not None
    assert WORDS in " ".join(PdfReader(made).pages[0].extract_text().split())
    GroupSession.objects.update(place="The pier")
    assert make_page(bea, first) != made


def test_expected_without_a_run_it_stands_on_the_day_of_rest(
    phone: Client, schedule: Schedule, bea: Athlete, quality: SessionIssue, held: GroupSession
) -> None:
    rest = quality.day + timedelta(1)
    meeting.change(
        held, later=False, day=rest, at=None, place="The pier", steps="", note="", called_off=False
    )
    assert "The pier" not in phone.get(f"/me/?week={week_of(rest, 0)}").content.decode()
    Attendance.objects.create(group_session=held, athlete=bea, expected=True)
    assert "The pier, with Tuesday group" in phone.get(f"/me/?week={week_of(rest, 0)}").content.decode()
    kept = phone.get(f"/me/?day={rest}", HTTP_X_KEEP="1").content.decode()
    assert '<p class="where">The pier, with Tuesday group</p>' in kept
    page = page_of(schedule, week_of(rest, 0))
    assert page is not None
    assert [(row.title, row.where) for row in page.days if row.where] == [
        ("Rest", "The pier, with Tuesday group")
    ]


def event_of(path: str, issue: SessionIssue) -> icalendar.Event:
    calendar = icalendar.Calendar.from_ical(Client().get(path).content)
    return next(e for e in calendar.walk("VEVENT") if str(e["UID"]) == str(issue.session_id))


@pytest.mark.parametrize("begins", [None, time(6, 30)])
def test_in_the_calendar_at_its_hour_by_the_practices_clock(
    bea: Athlete, quality: SessionIssue, held: GroupSession, begins: time | None
) -> None:
    path = address_of(renew(bea)).removeprefix("http://localhost:8000")
    Feed.objects.update(begins=begins)
    Practice.get()
    Practice.objects.update(time_zone="Europe/Lisbon")
    Athlete.objects.update(time_zone="America/Halifax")
    event = event_of(path, quality)
    assert event["DTSTART"].dt == datetime.combine(quality.day, time(18, 30), ZoneInfo("Europe/Lisbon"))
    assert str(event["LOCATION"]) == "The track"
    assert str(event["DESCRIPTION"]).startswith(WORDS)
    assert event["SEQUENCE"] == 1
    body = Client().get(path).content
    zones = [str(z["TZID"]) for z in icalendar.Calendar.from_ical(body).walk("VTIMEZONE")]
    assert (
        zones == ["Europe/Lisbon"] if begins is None else {"Europe/Lisbon", "America/Halifax"} == set(zones)
    )


def test_the_calendar_counts_up_when_the_group_moves_and_gives_the_hour_back_when_it_is_off(
    bea: Athlete, quality: SessionIssue, held: GroupSession
) -> None:
    path = address_of(renew(bea)).removeprefix("http://localhost:8000")
    before = event_of(path, quality)
    values = {"day": held.day, "place": "The track", "steps": "", "note": "", "later": False}
    meeting.change(held, **values, at=time(19), called_off=False)
    moved = event_of(path, quality)
    assert (moved["DTSTART"].dt.hour, moved["SEQUENCE"]) == (19, before["SEQUENCE"] + 1)
    meeting.change(held, **values, at=time(19), called_off=True)
    off = event_of(path, quality)
    assert (off["DTSTART"].dt, off["SEQUENCE"]) == (quality.day, before["SEQUENCE"] + 2)
    assert "LOCATION" not in off
    assert "Called off" in str(off["DESCRIPTION"])


def went(schedule: Schedule, session_id: Any) -> None:
    """The session goes to the day after, where the group does not meet."""
    one = SessionIssue.objects.get(session_id=session_id, to_version=None)
    content = Content.of(one)
    later = Content(**{**content.__dict__, "day": one.day + timedelta(1), "slot": 3})
    issue(schedule, schedule.current_version, {one.session_id: later}, by=UserFactory(), cause="moved")


@pytest.mark.parametrize("how", ["removed", "group removed", "left the group", "session moved away"])
def test_the_count_in_the_calendar_never_falls(
    schedule: Schedule, bea: Athlete, quality: SessionIssue, held: GroupSession, how: str
) -> None:
    """Changed twice, so that three of the count are the group's; then the group session is no longer this session's."""
    path = address_of(renew(bea)).removeprefix("http://localhost:8000")
    values = {"day": held.day, "steps": "", "note": "", "later": False, "called_off": False}
    for place in ("The pier", "The hall"):
        meeting.change(held, **values, at=time(19), place=place)
    before = event_of(path, quality)
    assert (before["SEQUENCE"], str(before["LOCATION"])) == (3, "The hall")
    match how:
        case "removed":
            meeting.take_away(held, later=False)
        case "group removed":
            held.group.delete()
        case "left the group":
            Membership.objects.all().delete()
        case _:
            went(schedule, quality.session_id)
    after = event_of(path, quality)
    assert "LOCATION" not in after
    assert after["SEQUENCE"] == 4
    assert after.decoded("DTSTAMP") >= before.decoded("DTSTAMP")
    assert event_of(path, quality).to_ical() == after.to_ical()  # and stays until something changes


def test_exported_and_erased_with_the_athlete(bea: Athlete, held: GroupSession) -> None:
    Attendance.objects.create(group_session=held, athlete=bea, came=True)
    with zipfile.ZipFile(io.BytesIO(privacy.export(bea))) as made:
        whole = json.loads(made.read("everything.json"))
        assert f"{held.day}, Tuesday group, The track: came" in made.read("read-me.html").decode()
    assert [row["came"] for row in whole["tables"]["plans.Attendance"]] == [True]
    privacy.erase(bea, by_name="Marta")
    assert not Attendance.objects.exists()
    assert GroupSession.objects.count() == 1
