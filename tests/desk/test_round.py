"""Sunday's round: each step, where it was left, and the line at the end."""

from __future__ import annotations

import pytest
from django.test import Client
from django.utils import timezone

from athletes.models import HealthNote, NoteReading
from coaching.models import SundayRound
from plans.models import HandoutBatch, Message
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
    schedule = scheduled(AthleteFactory(name="Bea Lindqvist"))
    coaches(coach, schedule.athlete)
    return schedule.athlete


def text(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_it_goes_through_every_step_and_remembers_where_it_was_left(desk, bea, coach):
    assert "Nobody is on hold." in text(desk.get("/desk/round/"))
    assert not SundayRound.objects.exists()  # looking begins nothing
    desk.post("/desk/round/", {"step": "holds"})
    assert "No proposal waits." in text(desk.get("/desk/round/"))
    desk.post("/desk/round/", {"step": "proposals"})
    page = text(desk.get("/desk/round/"))
    assert "<b>Silent:</b>" in page
    desk.post("/desk/round/", {"act": "say", "athlete": bea.pk, "words": "All well?"})
    note = Message.objects.get()
    assert (note.athlete, note.words, note.author) == (bea, "All well?", coach.user)
    assert "You wrote to them in this round." in text(desk.get("/desk/round/"))
    desk.post("/desk/round/", {"step": "words"})
    assert "1 athlete has a schedule for that week." in text(desk.get("/desk/round/"))
    desk.post("/desk/round/", {"act": "handouts"})
    one = SundayRound.objects.get()
    assert HandoutBatch.objects.get().first_day == one.first_day
    desk.post("/desk/round/", {"step": "handouts"})
    assert "Everything the athletes wrote is read." in text(desk.get("/desk/round/"))
    desk.post("/desk/round/", {"step": "messages"})
    assert "1 word sent, 1 handout." in text(desk.get("/desk/round/"))
    one.refresh_from_db()
    assert one.step == "done"
    assert one.finished_at is not None


def test_a_step_can_be_looked_at_again_without_going_back(desk, bea):
    desk.post("/desk/round/", {"step": "holds"})
    assert "Nobody is on hold." in text(desk.get("/desk/round/?step=holds"))
    assert "No proposal waits." in text(desk.get("/desk/round/"))
    assert desk.get("/desk/round/?step=tides").status_code == 200


def test_a_hold_is_shown_in_the_athletes_words_and_the_reading_is_written_down(desk, bea, coach):
    HealthNote.objects.create(
        athlete=bea, kind="rest", cause="ill", words="fever", opened=timezone.localdate()
    )
    assert "“fever”" in text(desk.get("/desk/round/"))
    assert NoteReading.objects.get().reader == coach.user


def test_an_empty_word_keeps_the_page_and_says_so(desk, bea):
    answer = desk.post("/desk/round/", {"act": "say", "athlete": bea.pk, "words": " "})
    assert answer.status_code == 422
    assert "This field is required." in text(answer)
    assert not Message.objects.exists()


def test_a_word_to_another_coachs_athlete_is_404(desk):
    stranger = AthleteFactory()
    for key in (stranger.pk, "x", ""):
        assert desk.post("/desk/round/", {"act": "say", "athlete": key, "words": "Hello"}).status_code == 404
    assert not Message.objects.exists()


def test_each_coach_has_their_own_round(desk, bea):
    desk.post("/desk/round/", {"step": "holds"})
    other = Client()
    other.force_login(CoachFactory().user)
    assert "Nobody is on hold." in text(other.get("/desk/round/"))


def test_nothing_to_do_says_so_at_the_end(desk):
    desk.post("/desk/round/", {"step": "messages"})
    assert "Nothing went out." in text(desk.get("/desk/round/"))


def test_an_athlete_finds_nothing():
    client = Client()
    client.force_login(AthleteFactory().user)
    assert client.get("/desk/round/").status_code == 404
