"""The roster: its lines, filters and pages, what is done with many, and reasons put off."""

from __future__ import annotations

import csv
import io
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from athletes.models import Group, HealthNote, Membership, Practice, TimeOff
from coaching.models import RosterLine, Snooze
from coaching.spreadsheets import cell
from plans import recording
from plans.models import HandoutBatch, Job, Log
from plans.recording import Entry
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


@pytest.fixture
def coach():
    return CoachFactory()


@pytest.fixture
def desk(coach):
    client = Client()
    client.force_login(coach.user)
    return client


@pytest.fixture
def bea(coach):
    """Runs on a schedule, and said nothing of last week."""
    schedule = scheduled(AthleteFactory(name="Bea Lindqvist"))
    coaches(coach, schedule.athlete)
    return schedule.athlete


@pytest.fixture
def carl(coach):
    """No schedule."""
    athlete = AthleteFactory(name="Carl Osei")
    coaches(coach, athlete)
    return athlete


def text(answer) -> str:
    return " ".join(answer.content.decode().split())


def order(answer, *names):
    page = answer.content.decode()
    return sorted(names, key=lambda name: page.index(f">{name}</a>"))


def test_it_works(desk, bea, carl):
    page = text(desk.get("/desk/"))
    assert "2 athletes, 1 needs a word" in page
    assert "<b>Silent:</b> for" in page
    assert "Saltmarsh Marathon" in page
    assert order(desk.get("/desk/"), "Bea Lindqvist", "Carl Osei") == ["Bea Lindqvist", "Carl Osei"]


def test_another_coachs_athletes_are_not_on_it_and_a_head_coach_sees_all(bea):
    other, head = CoachFactory(), CoachFactory(is_head=True)
    client = Client()
    client.force_login(other.user)
    assert "Bea Lindqvist" not in text(client.get("/desk/"))
    client.force_login(head.user)
    assert "Bea Lindqvist" in text(client.get("/desk/"))


def test_an_entry_changes_the_line_at_once(desk, bea):
    desk.get("/desk/")
    assert "silent" in [word["rule"] for word in RosterLine.objects.get().values["words"]]
    entry = Entry(uuid4(), outcome="done", day=timezone.localdate(), distance_mm=5_000_000)
    recording.record(bea, None, entry, by=bea.user)
    assert "Silent" not in text(desk.get("/desk/"))


def test_a_line_is_kept_until_something_changes(desk, bea):
    Job.objects.all().delete()
    desk.get("/desk/")
    made = RosterLine.objects.get().made_at
    desk.get("/desk/")
    assert RosterLine.objects.get().made_at == made
    RosterLine.objects.update(until=timezone.now() - timedelta(seconds=1))
    desk.get("/desk/")
    assert RosterLine.objects.get().made_at > made


def test_pain_is_new_until_this_coach_has_opened_it(desk, bea):
    HealthNote.objects.create(
        athlete=bea, kind="rest", cause="pain", words="left calf", opened=timezone.localdate()
    )
    page = text(desk.get("/desk/"))
    assert "pain, no running, today" in page
    assert 'class="unread"' in page
    assert "left calf" not in page
    desk.get(f"/desk/athletes/{bea.pk}/")
    assert 'class="unread"' not in text(desk.get("/desk/"))


def test_filters_stand_in_the_address(desk, coach, bea, carl):
    group = Group.objects.create(name="Track")
    Membership.objects.create(group=group, athlete=carl)
    race = bea.race_entries.get().race.pk
    seen = {
        query: [
            name
            for name in ("Bea Lindqvist", "Carl Osei")
            if f">{name}</a>" in text(desk.get(f"/desk/?{query}"))
        ]
        for query in (
            "q=carl",
            f"group={group.pk}",
            f"race={race}",
            "show=word",
            "show=none",
            "show=hold",
            "group=x",
        )
    }
    assert seen == {
        "q=carl": ["Carl Osei"],
        f"group={group.pk}": ["Carl Osei"],
        f"race={race}": ["Bea Lindqvist"],
        "show=word": ["Bea Lindqvist"],
        "show=none": ["Carl Osei"],
        "show=hold": [],
        "group=x": ["Bea Lindqvist", "Carl Osei"],
    }


def test_it_sorts_by_name_and_by_race(desk, coach, bea):
    coaches(coach, AthleteFactory(name="Abel Ander"))
    assert order(desk.get("/desk/"), "Abel Ander", "Bea Lindqvist") == ["Bea Lindqvist", "Abel Ander"]
    assert order(desk.get("/desk/?sort=name"), "Abel Ander", "Bea Lindqvist") == [
        "Abel Ander",
        "Bea Lindqvist",
    ]
    assert order(desk.get("/desk/?sort=race"), "Abel Ander", "Bea Lindqvist") == [
        "Bea Lindqvist",
        "Abel Ander",
    ]
    assert desk.get("/desk/?sort=last&page=99").status_code == 200


def test_a_hundred_stand_on_a_page(desk, coach):
    for number in range(101):
        coaches(coach, AthleteFactory(name=f"Runner {number:03}", user=None))
    assert "101 athletes, 0 need a word; 1 to 100 here" in text(desk.get("/desk/"))
    assert "Runner 100" in text(desk.get("/desk/?page=2"))


def test_queries_do_not_grow(desk, coach):
    def count(many):
        for _ in range(many):
            coaches(coach, scheduled().athlete)
        with CaptureQueriesContext(connection) as cold:
            desk.get("/desk/")
        with CaptureQueriesContext(connection) as warm:
            desk.get("/desk/")
        return len(cold), len(warm)

    count(1)  # what is asked only once
    assert count(3) == count(3)


def test_a_rule_switched_off_is_not_told(desk, bea):
    practice = Practice.get()
    practice.attention = {"silent": None}
    practice.save()
    assert "Silent" not in text(desk.get("/desk/"))


class TestLater:
    def test_a_reason_is_put_off_with_a_note_and_shown_again(self, desk, bea):
        path = f"/desk/athletes/{bea.pk}/later/"
        assert "<b>Silent:</b>" in text(desk.get(path))
        answer = desk.post(path, {"rule": "silent", "days": "7", "note": "at sea"})
        assert answer.status_code == 302
        one = Snooze.objects.get()
        assert (one.rule, one.note, one.until) == ("silent", "at sea", bea.today() + timedelta(7))
        page = text(desk.get("/desk/"))
        assert "<b>Silent:</b>" not in page
        assert "put off: at sea" in page
        desk.post(f"{path}over/", {"rule": "silent"})
        assert "<b>Silent:</b>" in text(desk.get("/desk/"))

    def test_twice_is_one_row(self, desk, bea):
        for days in ("3", "14"):
            desk.post(f"/desk/athletes/{bea.pk}/later/", {"rule": "silent", "days": days})
        assert Snooze.objects.get().until == bea.today() + timedelta(14)

    def test_a_hold_or_an_unknown_rule_is_not_put_off(self, desk, bea):
        for rule in ("hold", "tides", ""):
            answer = desk.post(f"/desk/athletes/{bea.pk}/later/", {"rule": rule, "days": "7"})
            assert answer.status_code == 422
        assert not Snooze.objects.exists()

    def test_another_coach_finds_nothing(self, bea):
        client = Client()
        client.force_login(CoachFactory().user)
        assert client.get(f"/desk/athletes/{bea.pk}/later/").status_code == 404
        assert client.post(f"/desk/athletes/{bea.pk}/later/over/", {"rule": "silent"}).status_code == 404


class TestTicked:
    def test_handouts_for_those_with_a_week(self, desk, bea, carl):
        answer = desk.post("/desk/ticked/", {"act": "handouts", "athlete": [bea.pk, carl.pk]})
        batch = HandoutBatch.objects.get()
        assert answer["Location"] == f"/desk/handouts/{batch.pk}/"
        assert list(batch.athletes.all()) == [bea]
        assert batch.first_day - timezone.localdate() <= timedelta(7)

    def test_time_off_is_asked_and_then_noted_for_all(self, desk, bea, carl):
        data = {"act": "time-off", "athlete": [bea.pk, carl.pk]}
        assert "Time off for 2 athletes" in text(desk.post("/desk/ticked/", data))
        first = timezone.localdate() + timedelta(10)
        data |= {"first_day": first, "last_day": first - timedelta(1), "minutes": 0, "kind": "travel"}
        answer = desk.post("/desk/ticked/", data)
        assert answer.status_code == 422
        assert "It ends before it begins." in text(answer)
        answer = desk.post("/desk/ticked/", data | {"last_day": first + timedelta(3)})
        assert answer["Location"] == "/desk/"
        assert set(TimeOff.objects.values_list("athlete_id", "first_day")) == {
            (bea.pk, first),
            (carl.pk, first),
        }
        assert Job.objects.filter(kind="rebalance", athlete=bea, state="waiting").exists()

    def test_a_plan_is_chosen_for_the_ticked(self, desk, bea, carl):
        answer = desk.post("/desk/ticked/", {"act": "assign", "athlete": [carl.pk]})
        link = f"/desk/templates/1/assign-many/?athlete={carl.pk}"
        assert "A small plan" in text(answer)
        pk = bea.schedules.get().template_version.template_id
        assert link.replace("/1/", f"/{pk}/") in text(answer)
        chosen = text(desk.get(link.replace("/1/", f"/{pk}/")))
        assert f'value="{carl.pk}" id="id_athletes_1" checked' in chosen or "checked" in chosen

    def test_a_file_has_no_cell_that_a_program_would_run(self, desk, coach):
        athlete = AthleteFactory(name="=2+5")
        coaches(coach, athlete)
        answer = desk.post("/desk/ticked/", {"act": "export", "athlete": [athlete.pk]})
        rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
        assert rows[0][:3] == ["Name", "Groups", "Race"]
        assert rows[1][0] == "'=2+5"

    def test_another_coachs_athlete_is_left_out(self, bea):
        client = Client()
        client.force_login(CoachFactory().user)
        for act in ("handouts", "time-off", "assign", "export"):
            answer = client.post("/desk/ticked/", {"act": act, "athlete": [bea.pk, "x", "9" * 30]})
            assert answer["Location"] == "/desk/"
        assert not HandoutBatch.objects.exists()

    def test_it_takes_post_only(self, desk):
        assert desk.get("/desk/ticked/").status_code == 405


@pytest.mark.parametrize("value", ["=1", "+1", "-1", "@a", "\t=1", "\r=1", " =1"])
def test_a_formula_becomes_text(value):
    assert cell(value) == f"'{value}"


def test_other_cells_stay_as_they_are():
    assert [cell(v) for v in ("Bea", 12, None, "a=b", "5-6")] == ["Bea", "12", "", "a=b", "5-6"]


def test_logs_are_counted_where_the_athlete_is(desk, bea):
    assert Log.objects.count() == 0
    assert "never" in text(desk.get("/desk/"))


def test_the_first_day_says_what_to_do_and_shows_no_empty_table(desk):
    said = text(desk.get(reverse("roster")))
    assert reverse("invitations") in said
    assert reverse("roster-import") in said
    assert "<table" not in said
    assert "0 athletes" not in said
    said = text(desk.get(reverse("templates")))
    assert "No templates yet" in said
    assert "<table" not in said
