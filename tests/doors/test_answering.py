"""Mail about a message, and the answer by its link: one message, one answer, signed out, for a while."""

from __future__ import annotations

import re
from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.utils import timezone

from athletes.models import Athlete, Coach, User
from coaching import answering
from coaching.message_mail import tell_many
from coaching.models import Delivery
from plans import recording, saying, unread
from plans.models import Job, Message
from tests.doors.conftest import send_waiting_mail, signed_in
from tests.factories import AthleteFactory, UserFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def mail_server(settings: object) -> None:
    settings.EMAIL_HOST = "mail.example.org"  # type: ignore[attr-defined]


def said(bea: Athlete, coach: Coach, words: str = "How is the shin?") -> Message:
    return saying.say(bea, words, by=coach.user, by_coach=True)


def path_of(message: Message) -> str:
    return re.sub(r"^\w+://[^/]+", "", answering.address_of(message))


def test_the_mail_says_that_and_not_what_and_its_link_answers(bea: Athlete, coach: Coach) -> None:
    earlier = said(bea, coach, "An earlier secret.")
    unread.mark(bea.messages.all(), bea.user)
    message = said(bea, coach)
    send_waiting_mail()
    (letter,) = mail.outbox  # what was read before the job came needs no mail
    assert (letter.to, letter.subject) == (["bea@example.org"], "Jonah Tarn wrote to you")
    everything = letter.body + letter.alternatives[0][0]
    assert "shin" not in everything
    (path,) = set(re.findall(r"https?://[^/\s]+(/answer/[^\s\"<]+)", everything))
    assert Delivery.objects.get().values == {}

    nobody = Client(enforce_csrf_checks=False)
    page = nobody.get(path)
    assert "How is the shin?" in page.content.decode()
    assert "earlier secret" not in page.content.decode()
    assert page["Cache-Control"].count("no-store") == 1
    assert unread.by_athlete(bea).count() == 1  # a mail scanner reads nothing for anybody
    assert nobody.post(path, {"words": "Better, thanks."}).status_code == 200
    answer = Message.objects.get(by_coach=False)
    assert (answer.words, answer.author, answer.answers) == ("Better, thanks.", bea.user, message)
    assert not unread.by_athlete(bea).exists()
    assert [one.words for one in unread.by_coach(coach)] == ["Better, thanks."]
    assert "_auth_user_id" not in nobody.session  # it signs nobody in
    assert nobody.get("/me/").status_code == 302
    assert earlier.pk != message.pk


def test_a_link_answers_once_and_then_shows_nothing(bea: Athlete, coach: Coach) -> None:
    path, key = path_of(said(bea, coach)), str(uuid4())
    assert Client().post(path, {"words": "Once.", "entry_id": key}).status_code == 200
    for again in (Client().get(path), Client().post(path, {"words": "Twice.", "entry_id": key})):
        assert again.status_code == 410
        assert "shin" not in again.content.decode()
    assert Message.objects.filter(by_coach=False).count() == 1


def test_two_presses_at_once_are_one_answer(bea: Athlete, coach: Coach) -> None:
    message = said(bea, coach)
    first, second = (saying.answer(message, words) for words in ("One.", "Two."))
    assert (first.pk, second.words) == (second.pk, "One.")


def test_a_link_ends_after_14_days(bea: Athlete, coach: Coach) -> None:
    path = path_of(said(bea, coach))
    with time_machine.travel(timezone.now() + timedelta(days=13, hours=23), tick=False):
        assert Client().get(path).status_code == 200
    with time_machine.travel(timezone.now() + timedelta(days=14, seconds=5), tick=False):
        assert Client().get(path).status_code == 410
        assert Client().post(path, {"words": "Late."}).status_code == 410
    assert Message.objects.count() == 1


def test_a_link_opens_nothing_but_its_message(bea: Athlete, coach: Coach) -> None:
    """Not another message by a changed token, not the athlete's own words, not after they left or are erased."""
    message, own = said(bea, coach), saying.say(bea, "Mine.", by=bea.user, by_coach=False)
    path = path_of(message)
    token = path.split("/")[2]
    for forged in (token.replace(str(message.key), str(own.key)), token[:-1], "x", f"{message.key}:0:0"):
        assert Client().get(f"/answer/{forged}/").status_code == 410
    assert Client().get(path_of(own)).status_code == 410
    Athlete.objects.filter(pk=bea.pk).update(left_on=timezone.now().date())
    assert Client().get(path).status_code == 410


def test_tries_are_counted(bea: Athlete, coach: Coach) -> None:
    path = path_of(said(bea, coach))
    for _ in range(6):
        assert "Write a word first" in Client().post(path, {"words": " "}).content.decode()
    assert "Too many tries" in (answer := Client().post(path, {"words": "At last."})).content.decode()
    assert "At last." in answer.content.decode()  # what was typed stays
    assert not Message.objects.filter(by_coach=False).exists()


def test_only_a_confirmed_address_gets_it_and_only_if_wanted(bea: Athlete, coach: Coach) -> None:
    unconfirmed = AthleteFactory(user=UserFactory(email="typo@example.org", confirmed_at=None))
    unwanted = AthleteFactory(user=UserFactory(email="no@example.org"), wants_mail=False)
    athletes = [bea, unconfirmed, unwanted, AthleteFactory(user=None)]
    for one in athletes[1:]:
        coaches(coach, one)
    saying.say_to_many(athletes, "Hello all.", coach=coach, to="everyone of mine", key=uuid4())
    send_waiting_mail()
    assert [letter.to for letter in mail.outbox] == [["bea@example.org"]]
    assert Message.objects.count() == 4  # on the phone it is for all


def test_a_sending_carried_twice_writes_once(bea: Athlete, coach: Coach) -> None:
    saying.say_to_many([bea], "Hello.", coach=coach, to="1", key=uuid4())
    job = Job.objects.get(kind="sending-mail")
    for _ in range(2):
        tell_many(job)
    assert Delivery.objects.count() == 1


def test_without_a_mail_server_no_row_is_written(bea: Athlete, coach: Coach, settings: object) -> None:
    settings.EMAIL_HOST = ""  # type: ignore[attr-defined]
    said(bea, coach)
    assert not Job.objects.exists()


def test_pain_or_illness_is_mailed_to_the_coaches_without_a_word_of_it(
    bea: Athlete, coach: Coach, head: Coach
) -> None:
    scheduled(bea)
    phone = signed_in(bea.user)
    phone.post("/me/unwell/", {"cause": "pain", "words": "left shin, since Monday"})
    send_waiting_mail()
    (letter,) = mail.outbox
    assert letter.to == ["jonah@example.org"]
    everything = " ".join([letter.subject, letter.body, letter.alternatives[0][0]]).lower()
    assert f"/desk/athletes/{bea.pk}/" in everything
    for word in ("shin", "pain", "hurt", "ill", "health", "hold", "bea", "lindqvist"):
        assert not re.search(rf"\b{word}\b", everything)
    desk = signed_in(coach.user)
    assert 'class="count">1<' in desk.get("/desk/").content.decode()
    desk.get(f"/desk/athletes/{bea.pk}/")
    assert 'class="count">1<' not in desk.get("/desk/").content.decode()


def test_a_note_that_grows_graver_is_told_and_marked_again(bea: Athlete, coach: Coach) -> None:
    today = bea.today()
    recording.say_unwell(
        bea, recording.Entry(uuid4(), today, "missed", reason="ill", note="a cold"), bea.user
    )
    desk = signed_in(coach.user)
    desk.get(f"/desk/athletes/{bea.pk}/")
    assert 'class="count">1<' not in desk.get("/desk/").content.decode()
    entry = recording.Entry(uuid4(), today, "missed", reason="ill", note="now a fever", severe=True)
    note = recording.say_unwell(bea, entry, bea.user)
    assert (note.kind, note.words) == ("rest", "a cold\nnow a fever")
    assert 'class="count">1<' in desk.get("/desk/").content.decode()
    desk.get(f"/desk/athletes/{bea.pk}/")
    assert 'class="count">1<' not in desk.get("/desk/").content.decode()
    send_waiting_mail()
    assert len(mail.outbox) == 1  # two jobs of one key wait as one


def test_an_athlete_without_a_coach_is_the_head_coachs(head: Coach) -> None:
    alone = AthleteFactory()
    recording.say_unwell(alone, recording.Entry(uuid4(), alone.today(), "missed", reason="ill"), alone.user)
    send_waiting_mail()
    assert [letter.to for letter in mail.outbox] == [["marta@example.org"]]


def test_the_link_ends_with_the_address_it_went_to_and_with_the_account(bea: Athlete, coach: Coach) -> None:
    path = path_of(said(bea, coach))
    assert Client().get(path).status_code == 200
    User.objects.filter(pk=bea.user_id).update(email="bea.new@example.org")
    assert Client().get(path).status_code == 410
    User.objects.filter(pk=bea.user_id).update(email="bea@example.org", is_active=False)
    assert Client().get(path).status_code == 410
    assert Client().post(path, {"words": "Still me?"}).status_code == 410
