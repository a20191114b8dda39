"""Group sessions on the desk: made weekly, who is expected, who came, the sheet, and the week of the practice."""

from __future__ import annotations

import io
import re
from datetime import date, time, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from athletes.models import Athlete, Coach, Group, Membership, TimeOff
from plans import meeting
from plans.models import Attendance, GroupSession, Job, Log, Schedule, SessionIssue
from plans.reading import week_of
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


def monday() -> date:
    return week_of(timezone.localdate(), 0)


@pytest.fixture
def coach() -> Coach:
    return CoachFactory()


@pytest.fixture
def desk(coach: Coach) -> Client:
    client = Client()
    client.force_login(coach.user)
    return client


@pytest.fixture
def group() -> Group:
    return Group.objects.create(name="Tuesday group")


def member(coach: Coach, group: Group, name: str) -> Schedule:
    schedule = scheduled(AthleteFactory(name=name))
    coaches(coach, schedule.athlete)
    Membership.objects.create(group=group, athlete=schedule.athlete)
    return schedule


@pytest.fixture
def ada(coach: Coach, group: Group) -> Athlete:
    return member(coach, group, "Ada").athlete


def held(group: Group, day: date, **values: Any) -> GroupSession:
    return meeting.make(group, day, **({"at": time(18, 30), "place": "the track"} | values))


def quality_day(athlete: Athlete, weeks_on: int = 1) -> date:
    """The quality session of the small plan: Tuesday of that week."""
    return monday() + timedelta(7 * weeks_on + 1)


def words(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split())


def test_it_works(desk: Client, group: Group, ada: Athlete) -> None:
    day = quality_day(ada)
    values = {"group": group.pk, "day": day, "at": "18:30", "place": "the track", "weeks": 3}
    answer = desk.post(reverse("group-session-new"), values)
    assert answer["Location"] == f"/desk/week/?week={day - timedelta(1)}"
    assert list(GroupSession.objects.values_list("day", flat=True)) == [
        day,
        day + timedelta(7),
        day + timedelta(14),
    ]
    page = desk.get(answer["Location"]).content.decode()
    assert "1 expected" in page
    assert '<p class="with">18:30 Tuesday group</p>' in page
    assert "5 × 3 min at 10K pace" in page


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"place": " "}, "This field is required"),
        ({"day": "soon"}, "Enter a valid date"),
        ({"at": "half six"}, "Enter a valid time"),
        ({"weeks": 53}, "less than or equal to 52"),
        ({"steps": "5 x 3 mim fast"}, "each one’s own"),
        ({"group": 987654}, "not one of the available choices"),
    ],
)
def test_what_can_not_be_is_said_and_kept(
    desk: Client, group: Group, ada: Athlete, wrong: dict[str, Any], said: str
) -> None:
    values = {
        "group": group.pk,
        "day": monday(),
        "at": "18:30",
        "place": "the long pier",
        "weeks": 1,
        "note": "Torch",
    }
    answer = desk.post(reverse("group-session-new"), values | wrong)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert "Torch" in answer.content.decode()
    assert not GroupSession.objects.exists()


def test_twice_at_one_place_and_time_is_said(desk: Client, group: Group, ada: Athlete) -> None:
    held(group, monday() + timedelta(14))
    values = {"group": group.pk, "day": monday(), "at": "18:30", "place": "the track", "weeks": 4}
    answer = desk.post(reverse("group-session-new"), values)
    assert answer.status_code == 422
    assert "meets there on" in answer.content.decode()
    assert GroupSession.objects.count() == 1


def test_who_is_expected_follows_the_plan_until_the_coach_says_otherwise(
    desk: Client, coach: Coach, group: Group, ada: Athlete
) -> None:
    away, unplanned = member(coach, group, "Ben").athlete, AthleteFactory(name="Cleo")
    coaches(coach, unplanned)
    Membership.objects.create(group=group, athlete=unplanned)
    one = held(group, quality_day(ada))
    TimeOff.objects.create(athlete=away, first_day=one.day, last_day=one.day, minutes=0)
    url = reverse("group-session", args=[one.pk])

    def ticked() -> list[str]:
        people = desk.get(url).context["people"]
        return [p.athlete.name for p in people if p.meeting.expected]

    assert ticked() == ["Ada"]
    page = desk.get(url).content.decode()
    assert "off that day" in page
    assert "no run that day" in page
    desk.post(url, {"athlete": [unplanned.pk]})
    assert ticked() == ["Cleo"]
    assert set(Attendance.objects.values_list("athlete__name", "expected")) == {
        ("Ada", False),
        ("Cleo", True),
    }
    # As the plan says again: nothing needs to be remembered.
    desk.post(url, {"athlete": [ada.pk]})
    assert not Attendance.objects.exists()
    # The plan changes: so does who is expected.
    TimeOff.objects.create(athlete=ada, first_day=one.day, last_day=one.day, minutes=0)
    assert ticked() == []


def test_ticking_who_came_logs_nothing_unless_asked(
    desk: Client, coach: Coach, group: Group, ada: Athlete
) -> None:
    ben = member(coach, group, "Ben")
    one = held(group, quality_day(ada, weeks_on=-1))
    Log.objects.create(
        athlete=ben.athlete,
        session=ben.issues.get(day=one.day, to_version=None).session,
        day=one.day,
        time_zone="UTC",
        received_at=timezone.now(),
        outcome="cut",
        distance_mm=3_000_000,
    )
    url, both = reverse("group-session", args=[one.pk]), [ada.pk, ben.athlete_id]
    desk.post(url, {"athlete": [ben.athlete_id]})
    assert dict(Attendance.objects.values_list("athlete__name", "came")) == {"Ada": False, "Ben": True}
    assert not Log.objects.filter(athlete=ada).exists()
    Job.objects.all().delete()
    for _ in range(2):
        desk.post(url, {"athlete": both, "log": "1"})
    log = Log.objects.get(athlete=ada)
    assert (log.outcome, log.by, log.by_coach, log.day) == ("done", coach.user, str(coach), one.day)
    assert Log.objects.get(athlete=ben.athlete).outcome == "cut"
    assert list(Job.objects.filter(kind="rebalance").values_list("key", flat=True)) == [str(ada.pk)]


def test_called_off_or_moved_alone_or_with_the_later_ones(desk: Client, group: Group, ada: Athlete) -> None:
    day = quality_day(ada)
    one = held(group, day, weeks=3)
    url = reverse("group-session-change", args=[one.pk])
    values = {"day": day, "at": "18:30", "place": "the track"}
    desk.post(url, values | {"called_off": "on", "note": "Ice on the track"})
    assert list(GroupSession.objects.values_list("called_off", "changes")) == [
        (True, 2),
        (False, 1),
        (False, 1),
    ]
    assert "called off" in desk.get(f"/desk/week/?week={day}").content.decode()
    desk.post(url, values | {"day": day + timedelta(1), "at": "19:00", "later": "on"})
    assert list(GroupSession.objects.values_list("day", "at", "called_off")) == [
        (day + timedelta(7 * n + 1), time(19), False) for n in range(3)
    ]
    answer = desk.post(url, {"day": day, "at": "18:30", "place": ""})
    assert answer.status_code == 422
    second = GroupSession.objects.all()[1]
    desk.post(reverse("group-session-remove", args=[second.pk]), {"later": "1"})
    assert list(GroupSession.objects.all()) == [one]


def test_the_sheet_has_place_time_own_paces_and_repeats(
    desk: Client, coach: Coach, group: Group, ada: Athlete
) -> None:
    ben = member(coach, group, "Ben").athlete
    one = held(group, quality_day(ada))
    url = reverse("group-session-sheet", args=[one.pk])
    said = words(desk.get(url).content)
    for part in ("Tuesday group", "18:30, the track", "Ada", "Ben", "5 × 3 min at 10K pace", "4:45–4:51/km"):
        assert part in said
    one.steps = "10 min easy; 6 x 800 m @ 10K, 90 s jog; 10 min easy"
    one.save()
    said = words(desk.get(url).content)
    assert "6 × 800 m at 10K pace" in said
    assert said.count("own plan: 5 × 3 min at 10K pace") == 2
    Attendance.objects.create(group_session=one, athlete=ben, expected=False)
    assert "Ben" not in words(desk.get(url).content)
    Attendance.objects.create(group_session=one, athlete=ada, expected=False)
    assert "Nobody is expected yet" in desk.get(url, follow=True).content.decode()


def test_a_group_session_has_its_viewers_athletes_only(
    desk: Client, coach: Coach, group: Group, ada: Athlete
) -> None:
    other = member(CoachFactory(), group, "Somebody Else").athlete
    one = held(group, quality_day(ada))
    url = reverse("group-session", args=[one.pk])
    assert "Somebody" not in desk.get(url).content.decode()
    desk.post(url, {"athlete": [other.pk]})
    assert list(Attendance.objects.values_list("athlete__name", flat=True)) == ["Ada"]
    assert "Somebody" not in desk.get(f"/desk/week/?week={one.day}").content.decode()


def test_who_may(group: Group, ada: Athlete, client: Client) -> None:
    one = held(group, quality_day(ada))
    urls = [
        reverse(name, args=[one.pk])
        for name in ("group-session", "group-session-change", "group-session-sheet")
    ]
    removes = reverse("group-session-remove", args=[one.pk])
    for url in urls:
        assert client.get(url)["Location"].startswith("/sign-in/")
    for user in (CoachFactory().user, ada.user):
        client.force_login(user)
        for url in urls:
            assert client.get(url).status_code == 404
        assert client.post(removes).status_code == 404
    client.force_login(CoachFactory(is_head=True).user)
    for url in urls[:2]:
        assert client.get(url).status_code == 200
    assert client.get(removes).status_code == 405
    assert GroupSession.objects.exists()


@pytest.mark.parametrize("query", ["week=soon", "group=987654", "week=2026-11-24&group=x"])
def test_a_week_of_nothing_is_not_found(desk: Client, query: str) -> None:
    assert desk.get(f"/desk/week/?{query}").status_code == 404


def test_the_week_shows_done_missed_extra_off_and_no_plan(
    desk: Client, coach: Coach, group: Group, ada: Athlete
) -> None:
    loose = AthleteFactory(name="Dot")
    coaches(coach, loose)
    schedule = Schedule.objects.get(athlete=ada)
    first = monday() - timedelta(7)
    issues = {i.day - first: i for i in schedule.issues.filter(to_version=None, day__lt=monday())}
    for days, outcome in ((1, "done"), (3, "missed")):
        issue = issues[timedelta(days)]
        Log.objects.create(
            athlete=ada,
            session=issue.session,
            day=issue.day,
            time_zone="UTC",
            received_at=timezone.now(),
            outcome=outcome,
        )
    Log.objects.create(
        athlete=ada,
        day=first + timedelta(2),
        time_zone="UTC",
        received_at=timezone.now(),
        outcome="other",
        distance_mm=5_000_000,
    )
    TimeOff.objects.create(
        athlete=ada, first_day=first + timedelta(4), last_day=first + timedelta(4), minutes=0
    )
    page = desk.get(f"/desk/week/?week={first}").content.decode()
    for part in ('data-state="done"', 'data-state="missed"', "another run", "off</p>", "no plan"):
        assert part in page


def test_the_week_costs_the_same_for_two_and_for_eight(desk: Client, coach: Coach, group: Group) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            assert desk.get(f"/desk/week/?week={monday()}").status_code == 200
        return len(caught)

    for n in range(2):
        member(coach, group, f"Few {n}")
    held(group, monday() + timedelta(1))
    queries()
    few = queries()
    for n in range(6):
        member(coach, group, f"Many {n}")
    held(group, monday() + timedelta(3))
    assert queries() == few


def test_the_numbers_over_the_days_count_everybody_on_whatever_page_they_stand(
    desk: Client, coach: Coach, group: Group, ada: Athlete, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coaching.desk.week.A_PAGE", 1)
    member(coach, group, "Ben")
    away = member(coach, group, "Cleo").athlete
    day = quality_day(ada)
    TimeOff.objects.create(athlete=away, first_day=day, last_day=day, minutes=0)
    held(group, day)
    for number, name in enumerate(("Ada", "Ben", "Cleo"), start=1):
        page = desk.get(reverse("week"), {"week": day, "page": number}).content.decode()
        assert re.findall(r'<th scope="row"><a [^>]*>(\w+)</a>', page) == [name]
        assert "2 expected" in page


def test_nobody_is_expected_on_a_day_they_race_or_rest(desk: Client, group: Group, ada: Athlete) -> None:
    day = quality_day(ada)
    held(group, day)
    held(group, day + timedelta(1), place="the sea wall")  # Wednesday: the small plan rests
    SessionIssue.objects.filter(day=day).update(role="race")
    page = desk.get(reverse("week"), {"week": day}).content.decode()
    assert page.count("0 expected") == 2
