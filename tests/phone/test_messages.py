"""Messages on the phone: the thread, a word back, read marks, and JSON for words that waited without signal."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.test import Client

from athletes.models import Athlete
from plans import saying, unread
from plans.models import Schedule
from tests.factories import AthleteFactory, CoachFactory, coaches

pytestmark = pytest.mark.django_db
JSON = {"Accept": "application/json"}


@pytest.fixture
def bea(schedule: Schedule) -> Athlete:
    coaches(CoachFactory(), schedule.athlete)
    return schedule.athlete


def told(athlete: Athlete, words: str) -> int:
    return saying.say(athlete, words, by=CoachFactory().user, by_coach=True).pk


def page(answer: object) -> str:
    return " ".join(answer.content.decode().split())  # type: ignore[attr-defined]


def test_it_works(phone: Client, bea: Athlete) -> None:
    told(bea, "Mind <the> wind.")
    assert "Mind &lt;the&gt; wind." in page(phone.get("/me/messages/"))
    assert phone.post("/me/messages/", {"words": "I shall."}).status_code == 302
    assert "I shall." in page(phone.get("/me/messages/"))


def test_the_mark_stays_until_the_page_says_it_was_read(phone: Client, bea: Athlete) -> None:
    """Also the store of the phone gets the page, long before anybody reads it."""
    pk, other = told(bea, "Call me."), told(AthleteFactory(), "Not yours.")
    for _ in range(2):
        assert "Call me." in page(phone.get("/me/", headers={"X-Keep": "1"}))
        assert '<b class="count">1<' in page(phone.get("/me/"))
        assert '<b class="count">new</b>' in page(phone.get("/me/messages/"))
    answer = phone.post("/me/messages/read/", {"message": [pk, other, "x"]}, headers=JSON)
    assert answer.status_code == 200
    assert 'class="count"' not in page(phone.get("/me/messages/"))
    assert unread.by_athlete(Athlete.objects.exclude(pk=bea.pk).get()).count() == 1


def test_a_word_that_waited_counts_once(phone: Client, bea: Athlete) -> None:
    sent = {"words": "From the hills.", "entry_id": str(uuid4())}
    answers = [phone.post("/me/messages/", sent, headers=JSON) for _ in range(2)]
    assert [one.json()["said"] for one in answers] == ["Sent. Your coach reads it on the desk."] * 2
    assert bea.messages.count() == 1
    wrong = phone.post("/me/messages/", {"words": " "}, headers=JSON)
    assert (wrong.status_code, list(wrong.json()["errors"])) == (422, ["words"])


def test_another_athletes_number_is_no_way_into_their_thread(phone: Client, bea: Athlete) -> None:
    other, key = AthleteFactory(), uuid4()
    saying.say(other, "Mine.", by=other.user, by_coach=False, key=key)
    phone.post("/me/messages/", {"words": "Mine too.", "entry_id": key})
    assert [one.words for one in bea.messages.all()] == ["Mine too."]
    assert [one.words for one in other.messages.all()] == ["Mine."]


def test_the_oldest_are_a_page_away(phone: Client, bea: Athlete) -> None:
    for n in range(35):
        told(bea, f"Word {n:02}.")
    first = page(phone.get("/me/messages/"))
    assert "Word 34." in first
    assert "Word 04." not in first
    before = bea.messages.order_by("pk")[5].pk
    assert f"?before={before}" in first
    assert "Word 04." in page(phone.get(f"/me/messages/?before={before}"))


def test_a_coach_and_a_stranger_have_no_such_page() -> None:
    coach = Client()
    coach.force_login(CoachFactory().user)
    assert coach.get("/me/messages/").status_code == 404
    assert Client().get("/me/messages/")["Location"].startswith("/sign-in/")
