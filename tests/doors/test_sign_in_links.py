"""One-time links by mail: asked for, sent by the job, shown by GET, spent by POST."""

from __future__ import annotations

import re
from io import StringIO

import pytest
import time_machine
from django.core import mail
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from athletes.models import Athlete, Coach, User
from coaching.doors.links import address_for
from coaching.models import Delivery
from tests.doors.conftest import send_waiting_mail
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db


def path_of(address: str) -> str:
    return re.sub("^https?://[^/]+", "", address)


def said(page: str) -> str:
    return page[page.index("<main") : page.index("</main>")]


def asked_and_sent(client: Client, email: str = "bea@example.org") -> str:
    """The path of the link in the mail."""
    assert client.post("/sign-in/link/", {"email": email}).status_code == 200
    send_waiting_mail()
    found = re.search(r"http://localhost:8000(/sign-in/link/\S+)", mail.outbox[-1].body)
    assert found
    return found[1]


def test_it_works_and_only_once(client: Client, bea: Athlete) -> None:
    link = asked_and_sent(client)
    assert mail.outbox[0].to == ["bea@example.org"]
    assert "Hello, Bea Lindqvist" in client.get(link).content.decode()
    answer = client.post(link)
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert client.get("/me/").status_code == 200
    assert Client().post(link).status_code == 410
    assert Client().get(link).status_code == 410


def test_looking_at_it_spends_nothing(client: Client, bea: Athlete) -> None:
    link = asked_and_sent(client)
    for _ in range(3):
        assert Client().get(link).status_code == 200
        assert Client().head(link).status_code == 200
    assert client.get("/me/").status_code == 302
    assert client.post(link).status_code == 302


def test_a_new_one_is_spent_by_an_older_ones_use(client: Client, bea: Athlete) -> None:
    first, second = asked_and_sent(client), asked_and_sent(client)
    assert client.post(first).status_code == 302
    assert Client().post(second).status_code == 410


def test_it_ends_after_half_an_hour(client: Client, bea: Athlete) -> None:
    link = asked_and_sent(client)
    now = timezone.now().timestamp()
    with time_machine.travel(now + 29 * 60, tick=False):
        assert client.get(link).status_code == 200
    with time_machine.travel(now + 31 * 60, tick=False):
        assert client.get(link).status_code == 410
        assert client.post(link).status_code == 410


def test_a_password_set_since_ends_it(client: Client, bea: Athlete) -> None:
    link = asked_and_sent(client)
    assert bea.user
    bea.user.set_password("another one entirely")
    bea.user.save()
    assert client.post(link).status_code == 410


def test_a_made_up_link(client: Client, bea: Athlete) -> None:
    link = asked_and_sent(client)
    for wrong in ("/sign-in/link/mail/x/", link[:-3] + "AA/", link.replace("/mail/", "/first/")):
        assert client.post(wrong).status_code == 410, wrong
    assert client.post(link.replace("/mail/", "/other/")).status_code == 404
    assert client.post("/sign-in/link/mail/%C3%A9%C3%A9/").status_code == 410


def test_an_unknown_address_gets_the_same_answer_and_no_mail(client: Client, bea: Athlete) -> None:
    known = said(client.post("/sign-in/link/", {"email": "bea@example.org"}).content.decode())
    unknown = said(Client().post("/sign-in/link/", {"email": "nix@example.org"}).content.decode())
    assert "If bea@example.org has an account here" in known
    assert known.replace("bea@", "nix@") == unknown
    assert list(Delivery.objects.values_list("to", flat=True)) == ["bea@example.org"]


@pytest.mark.parametrize("typed", ["", "bea", "bea@", "a" * 300 + "@example.org"])
def test_what_is_no_address(client: Client, typed: str) -> None:
    answer = client.post("/sign-in/link/", {"email": typed})
    assert answer.status_code == 422
    assert answer.context["form"].errors["email"]


def test_three_in_a_quarter_of_an_hour(client: Client, bea: Athlete) -> None:
    for _ in range(3):
        assert client.post("/sign-in/link/", {"email": "bea@example.org"}).status_code == 200
    assert client.post("/sign-in/link/", {"email": "BEA@example.org"}).status_code == 422
    assert Delivery.objects.count() == 3


def test_whoever_came_by_a_link_sets_a_password_without_the_old_one(client: Client, bea: Athlete) -> None:
    client.post(asked_and_sent(client))
    new = "seven herrings and a kite"
    answer = client.post("/account/password/", {"new_password1": new, "new_password2": new})
    assert answer.status_code == 302
    assert User.objects.get(pk=bea.user_id).check_password(new)
    # The grace is used up: now the old one is asked for.
    assert "old_password" in client.get("/account/password/").context["form"].fields


def test_the_links_token_is_stored_nowhere(client: Client, bea: Athlete) -> None:
    link = asked_and_sent(client)
    row = Delivery.objects.get()
    assert (row.state, row.values) == ("sent", {})
    assert link.split("/")[-2] not in str(row.__dict__)


def command(*args: str) -> str:
    out = StringIO()
    call_command("headcoach", *args, stdout=out)
    return out.getvalue()


def test_the_first_head_coach_gets_a_link_and_no_password(client: Client) -> None:
    said = command("Ada@Example.org", "Ada", "Fell")
    ada = Coach.objects.get(user__email="ada@example.org")
    assert (ada.is_head, ada.user.name, ada.user.has_usable_password()) == (True, "Ada Fell", False)
    link = path_of(re.search(r"http\S+", said)[0])  # type: ignore[index]
    assert client.post(link)["Location"] == "/account/"
    assert client.get("/desk/").status_code == 200
    assert Client().post(link).status_code == 410


def test_the_commands_link_lasts_a_day(client: Client) -> None:
    link = path_of(re.search(r"http\S+", command("ada@example.org", "Ada"))[0])  # type: ignore[index]
    now = timezone.now().timestamp()
    with time_machine.travel(now + 23.9 * 3600, tick=False):
        assert client.get(link).status_code == 200
    with time_machine.travel(now + 24.1 * 3600, tick=False):
        assert client.get(link).status_code == 410


def test_the_command_lifts_somebody_known_and_refuses_nonsense(bea: Athlete) -> None:
    command("bea@example.org")
    assert Coach.objects.get(is_head=True).user_id == bea.user_id
    with pytest.raises(CommandError, match="Give the name too"):
        command("nix@example.org")
    with pytest.raises(CommandError, match="not a whole mail address"):
        command("nix", "Nix")


def test_a_closed_account_gets_no_link(client: Client) -> None:
    user = UserFactory(is_active=False)
    client.post("/sign-in/link/", {"email": user.email})
    assert not Delivery.objects.exists()
    assert client.post(path_of(address_for(user))).status_code == 410


def test_a_link_stands_for_the_old_password_for_an_hour_and_not_for_as_long_as_the_phone_lies_open(
    client: Client, bea: Athlete
) -> None:
    link, now = asked_and_sent(client), timezone.now().timestamp()
    assert client.post(link).status_code == 302
    with time_machine.travel(now + 59 * 60, tick=False):
        assert "old_password" not in client.get("/account/password/").content.decode()
    with time_machine.travel(now + 61 * 60, tick=False):
        assert "old_password" in client.get("/account/password/").content.decode()
        new = {"new_password1": "a thief with a phone", "new_password2": "a thief with a phone"}
        assert client.post("/account/password/", new).status_code == 422
