"""A confirmed address is changed by its owner: a link to the new one, a button, and the old one is told."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.utils import timezone

from athletes.models import Athlete, Coach, User
from coaching.doors.links import address_for
from tests.doors.conftest import send_waiting_mail, signed_in
from tests.doors.test_confirming import path_of
from tests.factories import PASSWORD

pytestmark = pytest.mark.django_db
ASK = "/account/address/"
NEW = {"email": " Bea.New@Example.org", "password": PASSWORD}


@pytest.fixture
def user(bea: Athlete) -> User:
    User.objects.filter(pk=bea.user_id).update(confirmed_at=timezone.now() - timedelta(90))
    return User.objects.get(pk=bea.user_id)


def asked(user: User) -> str:
    """The link that came to the new address."""
    assert signed_in(user).post(ASK, NEW).status_code == 302
    send_waiting_mail()
    assert mail.outbox[-1].to == ["bea.new@example.org"]
    return path_of(mail.outbox[-1].body)


def email_of(user: User) -> str:
    user.refresh_from_db()
    return user.email


def signs_in(email: str) -> bool:
    return Client().post("/sign-in/", {"username": email, "password": PASSWORD}).status_code == 302


def test_it_works(user: User) -> None:
    assert "/account/address/" in signed_in(user).get("/me/profile/").content.decode()
    link, nobody = asked(user), Client()
    page = nobody.get(link).content.decode()
    assert "Is bea.new@example.org yours?" in page
    assert email_of(user) == "bea@example.org"  # a mail scanner changes nothing
    assert signs_in("bea@example.org")
    before, old_way_in = timezone.now(), path_of(address_for(user))
    assert "bea.new@example.org is confirmed" in nobody.post(link).content.decode()
    assert email_of(user) == "bea.new@example.org"
    assert user.confirmed_at is not None
    assert user.confirmed_at >= before
    assert "_auth_user_id" not in nobody.session
    assert signs_in("bea.new@example.org")
    assert not signs_in("bea@example.org")
    assert Client().post(old_way_in).status_code == 410  # a sign-in link that went to the old address
    send_waiting_mail()
    told = mail.outbox[-1]
    assert told.to == ["bea@example.org"]
    assert "tell your coach at once" in told.body
    assert "bea.new" not in told.body + str(told.subject)


def test_the_link_works_once_and_is_not_good_again_when_the_old_address_comes_back(user: User) -> None:
    link = asked(user)
    assert Client().post(link).status_code == 200
    for method in ("get", "post"):
        assert getattr(Client(), method)(link).status_code == 410
    User.objects.filter(pk=user.pk).update(email="bea@example.org")
    assert Client().post(link).status_code == 410
    assert email_of(user) == "bea@example.org"


def test_the_link_ends_after_a_week_with_a_new_password_and_can_not_be_made_up(user: User) -> None:
    link = asked(user)
    with time_machine.travel(timezone.now() + timedelta(days=7, seconds=5), tick=False):
        assert Client().post(link).status_code == 410
    user.set_password("another one altogether")
    user.save()
    assert Client().post(link).status_code == 410
    assert Client().post("/new-address/x/").status_code == 410
    confirm = link.replace("new-address", "confirm")
    assert Client().post(confirm).status_code == 410
    assert email_of(user) == "bea@example.org"


def test_a_taken_address_looks_like_a_free_one_and_gets_no_letter(user: User, coach: Coach) -> None:
    phone = signed_in(user)
    said = {}
    for email in ("jonah@example.org", "free@example.org"):
        page = phone.post(ASK, {"email": email, "password": PASSWORD}, follow=True)
        said[email] = (
            page.status_code,
            page.content.decode().replace(email, "").split("<main")[1].split("<form")[0],
        )
    assert said["jonah@example.org"] == said["free@example.org"]
    send_waiting_mail()
    assert [letter.to for letter in mail.outbox] == [["free@example.org"]]


def test_an_address_that_is_taken_meanwhile_stays_the_others(user: User) -> None:
    link = asked(user)
    other = User.objects.create_user("bea.new@example.org", None, "Bea Newman")
    assert Client().get(link).status_code == 410
    assert Client().post(link).status_code == 410
    assert email_of(user) == "bea@example.org"
    assert email_of(other) == "bea.new@example.org"


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"email": "bea.new@example.org", "password": "not it"}, "That is not your password."),
        ({"email": "bea.new@example.org"}, "so that nobody else changes"),
        ({"email": "bea.new", "password": PASSWORD}, "not a whole mail address"),
        ({"email": "BEA@example.org", "password": PASSWORD}, "your address already"),
    ],
)
def test_what_is_wrong_is_said_and_no_letter_goes(user: User, sent: dict[str, str], said: str) -> None:
    answer = signed_in(user).post(ASK, sent)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert f'value="{sent["email"]}"' in answer.content.decode()
    send_waiting_mail()
    assert mail.outbox == []


def test_the_password_is_not_guessed_here(user: User) -> None:
    phone = signed_in(user)
    for _ in range(8):
        phone.post(ASK, {**NEW, "password": "not it"})
    answer = phone.post(ASK, NEW)
    assert answer.status_code == 422
    assert "Too many tries" in answer.content.decode()
    assert 'value=" Bea.New@Example.org"' in answer.content.decode()  # what was typed stays


def test_whoever_has_no_password_needs_none(user: User) -> None:
    user.set_unusable_password()
    user.save()
    phone = signed_in(user)
    assert "password" not in phone.get(ASK).content.decode().split("<main")[1]
    assert phone.post(ASK, {"email": "bea.new@example.org"}).status_code == 302
    send_waiting_mail()
    Client().post(path_of(mail.outbox[-1].body))
    assert email_of(user) == "bea.new@example.org"


def test_a_stranger_is_sent_to_sign_in() -> None:
    assert Client().post(ASK, NEW)["Location"].startswith("/sign-in/")
