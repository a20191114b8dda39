"""A coach logs for an athlete, notes for coaches, and illness told on a call."""

from __future__ import annotations

import io
import json
import re
import zipfile
from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from athletes.models import DeskNote, HealthNote, NoteReading
from coaching import privacy
from plans.models import Job, Log, SessionIssue
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


@pytest.fixture
def schedule():
    return scheduled(AthleteFactory(name="Bea Lindqvist"))


@pytest.fixture
def desk(client, schedule):
    coach = CoachFactory(user__name="Marta Quill")
    coaches(coach, schedule.athlete)
    client.force_login(coach.user)
    return client


@pytest.fixture
def past(schedule):
    return SessionIssue.objects.filter(
        schedule=schedule, role="easy", day__lt=schedule.athlete.today(), removed=False
    ).first()


def text(response) -> str:
    return re.sub(r"\s+", " ", response.content.decode())


def entry(one, **values):
    return {"entry_id": uuid4(), "seen": "", "day": one.day.isoformat(), "note": "", **values}


class TestLogFor:
    @pytest.mark.parametrize(
        ("values", "outcome"),
        [
            ({"outcome": "done"}, "done"),
            ({"outcome": "cut", "distance": "4 km"}, "cut"),
            ({"outcome": "missed", "reason": "travel"}, "missed"),
        ],
    )
    def test_it_is_kept_as_entered_by_the_coach(self, desk, past, values, outcome):
        Job.objects.all().delete()
        answer = desk.post(reverse("log-for", args=[past.session_id]), entry(past, **values))
        assert answer.status_code == 302
        log = Log.objects.get()
        assert (log.outcome, log.by_coach, log.session_id) == (outcome, "Marta Quill", past.session_id)
        assert Job.objects.filter(kind="rebalance").exists()
        assert "entered by Marta Quill" in text(desk.get(reverse("athlete", args=[log.athlete_id])))

    def test_what_the_athlete_logged_meanwhile_is_not_overwritten_unseen(self, desk, past, schedule):
        Log.objects.create(
            athlete=schedule.athlete,
            session_id=past.session_id,
            day=past.day,
            time_zone="UTC",
            received_at=timezone.now(),
            outcome="done",
            distance_mm=8_000_000,
        )
        sent = entry(past, outcome="cut", distance="4 km", note="She said four.")
        answer = desk.post(reverse("log-for", args=[past.session_id]), sent)
        said = text(answer)
        assert answer.status_code == 422
        assert "Nothing was overwritten" in said
        assert "She said four." in said
        seen = re.search(r'name="seen" value="([\w-]+)"', said)[1]
        desk.post(reverse("log-for", args=[past.session_id]), {**sent, "seen": seen})
        assert Log.objects.standing().get().outcome == "cut"
        assert Log.objects.count() == 2

    @pytest.mark.parametrize(
        ("values", "said"),
        [
            ({"outcome": "missed"}, "Say why"),
            ({"outcome": "cut"}, "Say how far or how long it was."),
            ({"outcome": "done", "day": "2090-01-01"}, "still to come"),
            ({"outcome": "done", "effort": "11"}, "from 0 to 10"),
        ],
    )
    def test_what_is_wrong_is_said(self, desk, past, values, said):
        answer = desk.post(reverse("log-for", args=[past.session_id]), entry(past, **values))
        assert answer.status_code == 422
        assert said in text(answer)
        assert not Log.objects.exists()

    def test_pain_opens_a_hold(self, desk, past):
        values = {"outcome": "missed", "reason": "pain", "note": "Left shin."}
        answer = desk.post(reverse("log-for", args=[past.session_id]), entry(past, **values), follow=True)
        assert "A hold is open" in text(answer)
        assert HealthNote.objects.get().cause == "pain"

    def test_a_run_outside_the_plan(self, desk, schedule):
        address = reverse("extra-for", args=[schedule.athlete_id])
        sent = {
            "entry_id": uuid4(),
            "day": schedule.athlete.today().isoformat(),
            "distance": "6 km",
            "note": "",
        }
        assert desk.get(address).status_code == 200
        assert desk.post(address, {**sent, "distance": ""}).status_code == 422
        assert desk.post(address, sent).status_code == 302
        log = Log.objects.get()
        assert (log.session_id, log.distance_mm, log.by_coach) == (None, 6_000_000, "Marta Quill")

    def test_without_a_page_around_it_for_the_pane(self, desk, past):
        said = desk.get(reverse("log-for", args=[past.session_id]), headers={"HX-Request": "true"})
        assert "<html" not in said.content.decode()
        sent = entry(past, outcome="done")
        answer = desk.post(reverse("log-for", args=[past.session_id]), sent, headers={"HX-Request": "true"})
        assert answer["HX-Retarget"] == "#board"


class TestNotes:
    def note(self, desk, schedule, **values):
        sent = {"day": schedule.athlete.today().isoformat(), "words": "Night shifts in May.", **values}
        return desk.post(reverse("desk-note-add", args=[schedule.athlete_id]), sent)

    def test_only_coaches_see_it(self, desk, client, schedule):
        assert self.note(desk, schedule).status_code == 302
        note = DeskNote.objects.get()
        assert (note.coach_name, note.words) == ("Marta Quill", "Night shifts in May.")
        assert "Night shifts in May." in text(desk.get(reverse("athlete", args=[schedule.athlete_id])))
        client.force_login(schedule.athlete.user)
        for name in ("today", "my-plan", "profile", "my-messages"):
            assert "Night shifts" not in text(client.get(reverse(name)))

    def test_the_athletes_export_has_it_and_erasing_takes_it(self, desk, schedule):
        self.note(desk, schedule)
        with zipfile.ZipFile(io.BytesIO(privacy.export(schedule.athlete))) as made:
            rows = json.loads(made.read("everything.json"))["tables"]["athletes.DeskNote"]
            assert [row["words"] for row in rows] == ["Night shifts in May."]
            assert "Night shifts in May." in made.read("read-me.html").decode()
        privacy.erase(schedule.athlete, by_name="Marta Quill")
        assert not DeskNote.objects.exists()

    @pytest.mark.parametrize(
        ("values", "said"),
        [
            ({"words": ""}, "required"),
            ({"words": "x" * 1001}, "at most 1000"),
            ({"day": "2090-01-01"}, "still to come"),
        ],
    )
    def test_what_is_wrong_is_said_and_kept(self, desk, schedule, values, said):
        answer = self.note(desk, schedule, **values)
        assert answer.status_code == 422
        assert said in text(answer)
        assert values.get("words", "Night shifts in May.") in text(answer)

    def test_removed_by_who_wrote_it(self, desk, client, schedule):
        self.note(desk, schedule)
        remove = reverse("desk-note-remove", args=[DeskNote.objects.get().pk])
        other = CoachFactory()
        coaches(other, schedule.athlete)
        writer = client.session["_auth_user_id"]
        client.force_login(other.user)
        assert client.post(remove).status_code == 403
        from athletes.models import User

        client.force_login(User.objects.get(pk=writer))
        assert client.get(remove).status_code == 405
        assert client.post(remove).status_code == 302
        assert not DeskNote.objects.exists()


class TestHealth:
    def test_opening_it_is_written_down(self, desk, schedule):
        today = schedule.athlete.today()
        HealthNote.objects.create(
            athlete=schedule.athlete,
            kind="rest",
            cause="ill",
            words="flu",
            opened=today - timedelta(40),
            closed=today - timedelta(30),
            closed_by_name="Marta Quill",
        )
        assert "flu" not in text(desk.get(reverse("athlete", args=[schedule.athlete_id])))
        assert not NoteReading.objects.exists()
        said = text(desk.get(reverse("athlete-health", args=[schedule.athlete_id])))
        assert "flu" in said
        assert "Cleared by Marta Quill." in said
        assert NoteReading.objects.get().reader_name == "Marta Quill"

    def test_told_on_a_call(self, desk, schedule):
        address = reverse("athlete-health", args=[schedule.athlete_id])
        assert desk.post(address, {}).status_code == 422
        assert desk.post(address, {"reason": "ill", "severe": "on", "words": "Fever."}).status_code == 302
        note = HealthNote.objects.get()
        assert (note.kind, note.cause, note.words) == ("rest", "ill", "Fever.")
