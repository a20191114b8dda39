"""Messages on the desk: one thread an athlete, a word to many, phrases, what is read and by whom."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from athletes.models import Athlete, Coach, CoachAthlete, Group, Membership
from coaching import privacy
from coaching.models import Phrase
from plans import saying, unread
from plans.handout_contents import pages_of, running
from plans.models import Message, RaceEntry, Receipt, Sending, SessionIssue
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


def signed_in(user: object) -> Client:
    client = Client()
    client.force_login(user)  # type: ignore[arg-type]
    return client


@pytest.fixture
def coach() -> Coach:
    return CoachFactory()


@pytest.fixture
def desk(coach: Coach) -> Client:
    return signed_in(coach.user)


@pytest.fixture
def bea(coach: Coach) -> Athlete:
    athlete = scheduled(AthleteFactory(name="Bea Lindqvist")).athlete
    coaches(coach, athlete)
    return athlete


def text(answer: object) -> str:
    return " ".join(answer.content.decode().split())  # type: ignore[attr-defined]


def wrote(athlete: Athlete, words: str) -> Message:
    return saying.say(athlete, words, by=athlete.user, by_coach=False)


def test_a_word_with_a_session_is_on_the_phone_and_the_answer_comes_back(
    desk: Client, coach: Coach, bea: Athlete
) -> None:
    """One thread: what is said about a session stands on the session's page and among the messages, once."""
    session = (
        SessionIssue.objects.filter(schedule__athlete=bea, day__gte=bea.today()).earliest("day").session_id
    )
    address = f"/desk/athletes/{bea.pk}/messages/"
    assert f'value="{session}"' in text(desk.get(address))
    desk.post(address, {"words": "Flat course, please.", "session": session, "entry_id": uuid4()})
    phone = signed_in(bea.user)
    assert "Flat course, please." in text(phone.get("/me/"))
    assert "Flat course, please." in text(phone.get(f"/me/sessions/{session}/"))
    phone.post(f"/me/sessions/{session}/words/", {"words": "The canal, then."})
    assert "The canal, then." in text(desk.get(address))
    assert "The canal, then." in text(desk.get(f"/desk/sessions/{session}/"))
    assert list(bea.messages.values_list("by_coach", "session")) == [(True, session), (False, session)]


def test_the_same_form_twice_is_one_message(desk: Client, bea: Athlete) -> None:
    sent = {"words": "Rest today.", "entry_id": uuid4()}
    for _ in range(2):
        assert desk.post(f"/desk/athletes/{bea.pk}/messages/", sent).status_code == 302
    assert bea.messages.count() == 1


@pytest.mark.parametrize(
    "sent",
    [
        {"words": " "},
        {"words": "x" * 1001},
        {"words": "Hello", "session": "5f0c0000-0000-4000-8000-000000000001"},
    ],
)
def test_what_cannot_be_sent_is_told_and_kept(desk: Client, bea: Athlete, sent: dict[str, str]) -> None:
    answer = desk.post(f"/desk/athletes/{bea.pk}/messages/", sent)
    assert answer.status_code == 422
    assert sent["words"].strip() in text(answer)
    assert not Message.objects.exists()


def test_looking_reads_nothing_and_the_page_says_that_it_was_read(
    desk: Client, coach: Coach, bea: Athlete
) -> None:
    said = wrote(bea, "Knee is fine again.")
    assert text(desk.get("/desk/")).count('class="count">1<') == 1  # the badge beside Messages
    assert f'class="unread" href="/desk/athletes/{bea.pk}/messages/">today' in text(desk.get("/desk/"))
    page = text(desk.get(f"/desk/athletes/{bea.pk}/messages/"))
    assert 'hx-trigger="load, submit"' in page
    assert unread.by_coach(coach).count() == 1
    desk.post(f"/desk/athletes/{bea.pk}/messages/read/", {"message": [said.pk, "x", 10**17]})
    assert unread.by_coach(coach).count() == 0
    assert 'class="count"' not in text(desk.get("/desk/"))


def test_who_answers_has_read(desk: Client, coach: Coach, bea: Athlete) -> None:
    wrote(bea, "May I swap?")
    desk.post(f"/desk/athletes/{bea.pk}/messages/", {"words": "Yes."})
    assert not unread.by_coach(coach).exists()
    assert "not read yet" in text(desk.get(f"/desk/athletes/{bea.pk}/messages/"))
    wrote(bea, "Thanks!")
    assert "not read yet" not in text(desk.get(f"/desk/athletes/{bea.pk}/messages/"))


def test_each_coach_reads_for_themself_and_from_the_day_the_athlete_is_theirs(
    coach: Coach, bea: Athlete
) -> None:
    """A colleague who covers a holiday sees the thread, and is called for what was said since; the head coach may
    look at all, and is called for those whom nobody has."""
    Message.objects.filter(pk=wrote(bea, "Long ago.").pk).update(at=timezone.now() - timedelta(30))
    wrote(bea, "Now.")
    today = timezone.now().date()
    colleague, other, head = CoachFactory(), CoachFactory(), CoachFactory(is_head=True)
    CoachAthlete.objects.create(
        coach=colleague, athlete=bea, since=today - timedelta(2), until=today + timedelta(5)
    )
    address = f"/desk/athletes/{bea.pk}/messages/"
    assert "Long ago." in text(signed_in(colleague.user).get(address))
    assert [one.words for one in unread.by_coach(colleague)] == ["Now."]
    assert signed_in(other.user).get(address).status_code == 404
    assert "Now." in text(signed_in(head.user).get(address))
    assert not unread.by_coach(head).exists()
    unread.mark(bea.messages.all(), colleague.user)
    assert unread.by_coach(coach).count() == 2  # read by one is not read by the other
    CoachAthlete.objects.filter(athlete=bea).update(until=today - timedelta(1))
    assert unread.by_coach(head).count() == 2
    assert signed_in(colleague.user).get(address).status_code == 404


def test_a_word_to_a_group_goes_to_those_of_it_who_are_mine(desk: Client, coach: Coach, bea: Athlete) -> None:
    group = Group.objects.create(name="Tuesday")
    mine, theirs, away = AthleteFactory(), AthleteFactory(), AthleteFactory(left_on=date(2026, 1, 1))
    for one in (bea, mine, theirs, away):
        Membership.objects.create(group=group, athlete=one)
    coaches(coach, mine)
    coaches(coach, away)
    day = SessionIssue.objects.filter(schedule__athlete=bea, day__gte=bea.today()).earliest("day")
    sent = {"to": f"group:{group.pk}", "words": "Track is closed.", "day": day.day, "entry_id": uuid4()}
    for _ in range(2):
        assert desk.post("/desk/messages/many/", sent).status_code == 302
    said = {one.athlete: one.session_id for one in Message.objects.all()}
    assert said == {bea: day.session_id, mine: None}
    page = text(desk.get("/desk/messages/"))
    assert "To the group Tuesday" in page
    assert "0 of 2 read it" in page
    unread.mark(bea.messages.all(), bea.user)
    assert "1 of 2 read it" in text(desk.get("/desk/messages/"))


def test_a_word_to_all_on_a_race(desk: Client, coach: Coach, bea: Athlete) -> None:
    race = RaceEntry.objects.get(athlete=bea).race
    other = scheduled(AthleteFactory()).athlete  # enters the same race, with another coach
    RaceEntry.objects.filter(athlete=other).update(race=race)
    coaches(coach, AthleteFactory())
    assert f"/desk/messages/many/?to=race:{race.pk}" in text(desk.get(f"/desk/races/{race.pk}/"))
    assert f'value="race:{race.pk}" selected' in text(desk.get(f"/desk/messages/many/?to=race:{race.pk}"))
    desk.post("/desk/messages/many/", {"to": f"race:{race.pk}", "words": "Bus at seven."})
    assert [one.athlete for one in Message.objects.all()] == [bea]


def test_those_ticked_on_the_roster(desk: Client, coach: Coach, bea: Athlete) -> None:
    second, stranger = AthleteFactory(name="Cleo"), AthleteFactory(name="Nobody of mine")
    coaches(coach, second)
    page = text(desk.post("/desk/ticked/", {"act": "message", "athlete": [bea.pk, second.pk, stranger.pk]}))
    assert "2 athletes ticked on the roster" in page
    assert "Nobody of mine" not in page
    keys = [bea.pk, second.pk, stranger.pk]
    desk.post("/desk/messages/many/", {"to": "ticked", "athlete": keys, "words": "Good week."})
    assert {one.athlete for one in Message.objects.all()} == {bea, second}
    alone = desk.post("/desk/ticked/", {"act": "message", "athlete": [bea.pk]})
    assert alone["Location"] == f"/desk/athletes/{bea.pk}/messages/"


def test_another_coachs_group_or_race_is_no_choice(desk: Client, bea: Athlete) -> None:
    group, race = (
        Group.objects.create(name="Theirs"),
        RaceEntry.objects.get(athlete=scheduled(weeks=5).athlete).race,
    )
    Membership.objects.create(group=group, athlete=AthleteFactory())
    for to in (f"group:{group.pk}", f"race:{race.pk}", "group:x", "ticked", ""):
        assert desk.post("/desk/messages/many/", {"to": to, "words": "Hello"}).status_code == 422
    assert not Sending.objects.exists()


def test_a_thousand_are_written_to_in_a_constant_number_of_queries(coach: Coach) -> None:
    def taken(many: int) -> int:
        athletes = [AthleteFactory(user=None) for _ in range(many)]
        with CaptureQueriesContext(
            connection,
        ) as seen:
            saying.say_to_many(athletes, "Hello", coach=coach, to="all", key=uuid4(), day=date(2026, 3, 1))
        return len(seen)

    assert taken(3) == taken(30)


def test_the_pages_take_the_same_number_of_queries_for_many(desk: Client, coach: Coach, bea: Athlete) -> None:
    def taken(address: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert desk.get(address).status_code == 200
        return len(seen)

    addresses = ("/desk/messages/", f"/desk/athletes/{bea.pk}/messages/", "/desk/messages/many/")
    wrote(bea, "One.")
    desk.get("/desk/")
    few = [taken(address) for address in addresses]
    for n in range(12):
        one = AthleteFactory()
        coaches(coach, one)
        wrote(one, "Hm.")
        wrote(bea, f"Number {n}")
        saying.say_to_many([one, bea], "Hello", coach=coach, to="two", key=uuid4())
    assert [taken(address) for address in addresses] == few


def test_phrases_are_the_coachs_own_and_go_into_what_is_typed(
    desk: Client, coach: Coach, bea: Athlete
) -> None:
    desk.post("/desk/messages/phrases/", {"name": "Sleep", "words": "Sleep before miles."})
    one = Phrase.objects.get(coach=coach)
    again = desk.post("/desk/messages/phrases/", {"name": "Sleep", "words": "Twice."})
    assert again.status_code == 422
    assert "Another phrase of yours has this name." in text(again)
    desk.post(f"/desk/messages/phrases/{one.pk}/", {"name": "Sleep", "words": "Sleep first."})
    typed = {"words": "Well run!", "phrase": one.pk, "on_paper": "on"}
    for address in (f"/desk/athletes/{bea.pk}/messages/", "/desk/messages/many/"):
        page = desk.post(address, typed)
        assert "Well run!\nSleep first.</textarea>" in page.content.decode()
        assert "checked" in page.content.decode()
    assert not Message.objects.exists()
    other = signed_in(CoachFactory().user)
    assert "Sleep first." not in text(other.get("/desk/messages/phrases/"))
    for address in (f"/desk/messages/phrases/{one.pk}/", f"/desk/messages/phrases/{one.pk}/remove/"):
        assert other.post(address, {"name": "x", "words": "x"}).status_code == 404
    assert other.post(f"/desk/athletes/{bea.pk}/messages/", typed).status_code == 404
    assert other.post("/desk/messages/many/", typed).status_code == 404
    desk.post(f"/desk/messages/phrases/{one.pk}/remove/")
    assert not Phrase.objects.exists()


def test_only_what_is_meant_for_paper_is_printed(desk: Client, bea: Athlete) -> None:
    schedule = running([bea])
    week = schedule[0].first_day
    desk.post(f"/desk/athletes/{bea.pk}/messages/", {"words": "How is the knee?"})
    assert [page.note for page in pages_of(schedule, week).values()] == [""]
    desk.post(f"/desk/athletes/{bea.pk}/messages/", {"words": "Enjoy the hills.", "on_paper": "on"})
    assert [page.note for page in pages_of(schedule, week).values()] == ["Enjoy the hills."]


def test_an_athletes_erasure_takes_the_thread_and_leaves_the_others(coach: Coach, bea: Athlete) -> None:
    other = AthleteFactory()
    saying.say_to_many([bea, other], "Hello both", coach=coach, to="2 athletes", key=uuid4())
    unread.mark(bea.messages.all(), bea.user)
    privacy.erase(bea, by_name="Marta")
    assert [one.athlete for one in Message.objects.all()] == [other]
    assert not Receipt.objects.exists()
