"""Sign in by password; how often one may try; which devices are signed in."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from athletes.models import Athlete, User
from coaching.models import Attempt, Delivery, DeviceSession
from tests.doors.conftest import signed_in
from tests.factories import PASSWORD, UserFactory

pytestmark = pytest.mark.django_db
IPHONE = (
    "Mozilla/5.0 (iPhone; CPU iPhone OS 17_4 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko)"
    " Version/17.4 Mobile/15E148 Safari/604.1"
)


def try_it(client: Client, email: str = "bea@example.org", password: str = PASSWORD, **extra: str) -> int:
    return client.post("/sign-in/", {"username": email, "password": password}, **extra).status_code


def test_it_works_whatever_the_case_of_the_address(client: Client, bea: Athlete) -> None:
    answer = client.post("/sign-in/", {"username": " Bea@Example.org ", "password": PASSWORD})
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert client.get("/", follow=True).redirect_chain[-1][0] == "/me/"


def test_it_goes_on_to_where_one_was(client: Client, bea: Athlete) -> None:
    answer = client.post(
        "/sign-in/", {"username": "bea@example.org", "password": PASSWORD, "next": "/me/plan/"}
    )
    assert answer["Location"] == "/me/plan/"


@pytest.mark.parametrize("away", ["https://else.example/", "//else.example/", "javascript:alert(1)"])
def test_never_to_another_site(client: Client, bea: Athlete, away: str) -> None:
    answer = client.post("/sign-in/", {"username": "bea@example.org", "password": PASSWORD, "next": away})
    assert answer["Location"] == "/"


def test_a_wrong_password_keeps_the_address(client: Client, bea: Athlete) -> None:
    answer = client.post("/sign-in/", {"username": "bea@example.org", "password": "wrong"})
    assert answer.status_code == 422
    assert "do not belong together" in answer.content.decode()
    assert 'value="bea@example.org"' in answer.content.decode()


def test_without_the_csrf_token_nobody_gets_in(bea: Athlete) -> None:
    assert try_it(Client(enforce_csrf_checks=True)) == 403


def test_an_account_is_closed_for_a_while_after_eight_tries(client: Client, bea: Athlete) -> None:
    UserFactory(email="other@example.org")
    for _ in range(8):
        assert try_it(client, password="wrong") == 422
    answer = client.post("/sign-in/", {"username": "bea@example.org", "password": PASSWORD})
    assert answer.status_code == 422
    assert "Too many tries" in answer.content.decode()
    # Another account at the same address, and after a quarter of an hour the same one.
    assert try_it(Client(), email="other@example.org") == 302
    Attempt.objects.update(at=timezone.now() - timedelta(minutes=16))
    assert try_it(client) == 302


def test_seven_tries_and_the_right_one_start_anew(client: Client, bea: Athlete) -> None:
    for _ in range(7):
        try_it(client, password="wrong")
    assert try_it(Client()) == 302
    for _ in range(7):
        try_it(client, password="wrong")
    assert try_it(Client()) == 302


def test_an_address_is_closed_after_forty_tries_over_many_accounts(client: Client, bea: Athlete) -> None:
    for number in range(40):
        try_it(client, email=f"nobody{number}@example.org", password="wrong", REMOTE_ADDR="203.0.113.7")
    assert try_it(client, REMOTE_ADDR="203.0.113.7") == 422
    assert try_it(Client(), REMOTE_ADDR="203.0.113.8") == 302


def test_a_made_up_forwarded_address_doesnt_help(client: Client, bea: Athlete) -> None:
    for number in range(40):
        try_it(
            client,
            email=f"nobody{number}@example.org",
            password="wrong",
            REMOTE_ADDR="203.0.113.7",
            HTTP_X_FORWARDED_FOR=f"198.51.100.{number}",
        )
    assert try_it(client, REMOTE_ADDR="203.0.113.7", HTTP_X_FORWARDED_FOR="198.51.100.99") == 422


def test_of_ipv6_a_whole_connection_counts_as_one(client: Client, bea: Athlete) -> None:
    """A connection has 2^64 addresses below its own prefix: one for each try, if each counted for itself."""
    for number in range(40):
        try_it(
            client,
            email=f"nobody{number}@example.org",
            password="wrong",
            REMOTE_ADDR=f"2001:db8:0:7::{number:x}",
        )
    assert try_it(client, REMOTE_ADDR="2001:db8:0:7:ffff::1") == 422
    assert try_it(Client(), REMOTE_ADDR="2001:db8:0:8::1") == 302


def test_who_tried_is_stored_as_a_hash_only(client: Client, bea: Athlete) -> None:
    try_it(client, password="wrong", REMOTE_ADDR="203.0.113.7")
    kept = {(one.kind, len(one.subject)) for one in Attempt.objects.all()}
    assert kept == {("password", 64)}
    assert Attempt.objects.count() == 2
    assert not Attempt.objects.filter(subject__contains="bea").exists()


def test_devices_are_listed_in_words_and_one_is_ended(bea: Athlete) -> None:
    phone, desktop = Client(), Client()
    try_it(phone, HTTP_USER_AGENT=IPHONE)
    try_it(desktop)
    page = phone.get("/account/").content.decode()
    assert "Mobile Safari on iOS" in page
    assert page.count("this device") == 1
    other = next(s for s in phone.get("/account/").context["sessions"] if not s[2])
    assert phone.post(f"/account/devices/{other[1]}/end/").status_code == 302
    assert desktop.get("/me/").status_code == 302
    assert phone.get("/me/").status_code == 200


def test_a_strangers_device_is_not_there(bea: Athlete) -> None:
    phone = Client()
    try_it(phone)
    key = phone.get("/account/").context["sessions"][0][1]
    stranger = signed_in(UserFactory())
    assert stranger.post(f"/account/devices/{key}/end/").status_code == 404
    assert phone.get("/me/").status_code == 200


def test_everywhere_else_at_once(bea: Athlete) -> None:
    clients = [Client() for _ in range(3)]
    for one in clients:
        try_it(one)
    clients[0].post("/account/devices/end/")
    assert [one.get("/me/").status_code for one in clients] == [200, 302, 302]


def test_a_new_password_signs_out_the_others_and_sends_word(bea: Athlete) -> None:
    here, there = signed_in(bea.user), signed_in(bea.user)
    new = "seven herrings and a kite"
    answer = here.post(
        "/account/password/",
        {"old_password": PASSWORD, "new_password1": new, "new_password2": new},
    )
    assert answer.status_code == 302
    assert [one.get("/me/").status_code for one in (here, there)] == [200, 302]
    assert User.objects.get(pk=bea.user_id).check_password(new)
    assert Delivery.objects.get().kind == "password_changed"


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"old_password": "wrong"}, "old_password"),
        ({"old_password": ""}, "old_password"),
        ({"new_password2": "seven herrings and a boat"}, "new_password2"),
        ({"new_password1": "short", "new_password2": "short"}, "new_password2"),
        ({"new_password1": "password123", "new_password2": "password123"}, "new_password2"),
    ],
)
def test_a_new_password_that_will_not_do(bea: Athlete, values: dict[str, str], field: str) -> None:
    new = "seven herrings and a kite"
    typed = {"old_password": PASSWORD, "new_password1": new, "new_password2": new, **values}
    answer = signed_in(bea.user).post("/account/password/", typed)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert User.objects.get(pk=bea.user_id).check_password(PASSWORD)


def test_a_busy_device_writes_its_last_seen_once_in_ten_minutes(bea: Athlete) -> None:
    phone = signed_in(bea.user)
    phone.get("/me/")
    seen = DeviceSession.objects.get().last_seen
    phone.get("/me/")
    assert DeviceSession.objects.get().last_seen == seen
    session = phone.session
    session["seen"] -= 601
    session.save()
    before = DeviceSession.objects.get().last_seen
    phone.get("/me/")
    row = DeviceSession.objects.get()
    assert row.last_seen > before
    assert row.began < row.last_seen


def test_a_closed_account_stays_out(client: Client, bea: Athlete) -> None:
    User.objects.update(is_active=False)
    assert try_it(client) == 422


def test_somebody_who_is_neither_coach_nor_athlete_sees_their_account() -> None:
    assert signed_in(UserFactory()).get("/")["Location"] == "/account/"
