"""A mail address is confirmed by a link that went there; until then it gets nothing but such links."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.utils import timezone

from athletes.models import Athlete, User
from coaching.doors.confirming import confirming_address
from tests.doors.conftest import send_waiting_mail, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def user(bea: Athlete) -> User:
    User.objects.filter(pk=bea.user_id).update(confirmed_at=None)
    return User.objects.get(pk=bea.user_id)


def path_of(text: str) -> str:
    return re.findall(r"https?://[^/\s]+(/\S+)", text)[0]


def confirmed(user: User) -> bool:
    user.refresh_from_db()
    return user.confirmed_at is not None


def test_the_link_confirms_by_a_button_and_signs_nobody_in(user: User) -> None:
    path = path_of(confirming_address(user))
    nobody = Client()
    assert "Is bea@example.org yours?" in nobody.get(path).content.decode()
    assert not confirmed(user)  # a mail scanner confirms nothing
    assert "is confirmed" in nobody.post(path).content.decode()
    assert confirmed(user)
    assert "_auth_user_id" not in nobody.session


def test_the_account_sends_it_again_or_to_the_right_address(user: User) -> None:
    phone = signed_in(user)
    assert (
        "not confirmed"
        in phone.get("/me/profile/").content.decode() + phone.get("/account/").content.decode()
    )
    wrong = path_of(confirming_address(user))
    phone.post("/account/address/", {"email": "bea@example.org"})
    assert phone.post("/account/address/", {"email": "Bea.L@example.org "}).status_code == 302
    send_waiting_mail()
    assert [letter.to for letter in mail.outbox] == [["bea@example.org"], ["bea.l@example.org"]]
    assert not confirmed(user)
    Client().post(path_of(mail.outbox[1].body))
    assert confirmed(user)
    assert user.email == "bea.l@example.org"
    assert Client().get(wrong).status_code == 410  # the link to the slip has no effect any more
    send_waiting_mail()
    assert len(mail.outbox) == 2  # an address that was never its owner's is told nothing


def test_too_many_links_are_refused(user: User) -> None:
    phone = signed_in(user)
    for _ in range(3):
        assert phone.post("/account/address/", {"email": "bea@example.org"}).status_code == 302
    answer = phone.post("/account/address/", {"email": "bea@example.org"})
    assert answer.status_code == 422
    assert "Too many tries" in answer.content.decode()


def test_a_link_ends_after_a_week_and_can_not_be_made_up(user: User) -> None:
    path = path_of(confirming_address(user))
    with time_machine.travel(timezone.now() + timedelta(days=7, seconds=5), tick=False):
        assert Client().post(path).status_code == 410
    assert Client().post("/confirm/x/").status_code == 410
    assert not confirmed(user)


def test_signing_in_by_a_mailed_link_confirms_too(user: User) -> None:
    Client().post("/sign-in/link/", {"email": user.email})
    send_waiting_mail()
    assert Client().post(path_of(mail.outbox[0].body)).status_code == 302
    assert confirmed(user)
