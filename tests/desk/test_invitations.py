"""A coach invites: one a line, a link and a code each, for their own athletes only."""

from __future__ import annotations

import pytest
from django.core import mail
from django.test import Client

from athletes.models import Athlete, Coach
from coaching.models import Delivery, Erasure, Invitation
from tests.doors.conftest import send_waiting_mail, signed_in
from tests.factories import AthleteFactory, CoachFactory, UserFactory, coaches

pytestmark = pytest.mark.django_db


@pytest.fixture
def coach() -> Coach:
    return CoachFactory(user=UserFactory(name="Marta Quill"))


@pytest.fixture
def desk(coach: Coach) -> Client:
    return signed_in(coach.user)


def test_it_works_with_a_link_and_a_code(desk: Client, coach: Coach) -> None:
    answer = desk.post("/desk/invitations/", {"people": "Rosa Lind"}, follow=True)
    page = answer.content.decode()
    invitation = Invitation.objects.get()
    assert invitation.athlete.name == "Rosa Lind"
    assert list(Athlete.objects.for_user(coach.user)) == [invitation.athlete]
    assert "http://localhost:8000/join/" in page
    assert '<svg class="qr"' in page.replace("\n", "") or 'class="qr"' in page
    assert "style=" not in page


def test_many_at_once_and_a_mail_where_an_address_stands(desk: Client) -> None:
    desk.post("/desk/invitations/", {"people": "Rosa Lind\n\n Per Sandal , per@example.org \n"})
    assert sorted(Athlete.objects.values_list("name", flat=True)) == ["Per Sandal", "Rosa Lind"]
    send_waiting_mail()
    assert [one.to for one in mail.outbox] == [["per@example.org"]]
    assert "http://localhost:8000/join/" in mail.outbox[0].body
    assert Delivery.objects.get().values == {}
    assert desk.get("/desk/invitations/print/").content.decode().count("/join/") == 2


def test_paper_only_makes_no_link(desk: Client) -> None:
    desk.post("/desk/invitations/", {"people": "Orla Finch", "on_paper": "on"})
    assert Athlete.objects.get().name == "Orla Finch"
    assert not Invitation.objects.exists()


@pytest.mark.parametrize(
    ("people", "words"),
    [
        ("", "at least one name"),
        (", per@example.org", "Line 1 needs a name"),
        ("Rosa\nPer, per@", "Line 2"),
        ("x" * 81, "Line 1"),
        ("\n".join(f"Runner {n}" for n in range(61)), "at most 60"),
    ],
)
def test_lines_that_will_not_do(desk: Client, people: str, words: str) -> None:
    answer = desk.post("/desk/invitations/", {"people": people})
    assert answer.status_code == 422
    assert words in str(answer.context["form"].errors)
    assert not Athlete.objects.exists()


def test_invited_again_and_withdrawn(desk: Client, coach: Coach) -> None:
    athlete = AthleteFactory(user=None)
    coaches(coach, athlete)
    desk.post(f"/desk/athletes/{athlete.pk}/invite/")
    first = Invitation.objects.get()
    desk.post(f"/desk/athletes/{athlete.pk}/invite/")
    second = Invitation.objects.get()
    assert first.token_hash != second.token_hash
    desk.post(f"/desk/invitations/{second.pk}/withdraw/")
    assert not Invitation.objects.exists()


def test_whoever_has_an_account_gets_no_second_link(desk: Client, coach: Coach) -> None:
    athlete = AthleteFactory()
    coaches(coach, athlete)
    desk.post(f"/desk/athletes/{athlete.pk}/invite/")
    assert not Invitation.objects.exists()


def test_another_coachs_are_not_there(desk: Client) -> None:
    desk.post("/desk/invitations/", {"people": "Carys Moyle"})
    pk, athlete = Invitation.objects.get().pk, Athlete.objects.get().pk
    other = signed_in(CoachFactory().user)
    assert other.get(f"/desk/invitations/{pk}/").status_code == 404
    assert other.post(f"/desk/invitations/{pk}/withdraw/").status_code == 404
    assert other.post(f"/desk/athletes/{athlete}/invite/").status_code == 404
    assert "Carys Moyle" not in other.get("/desk/invitations/").content.decode()
    assert "/join/" not in other.get("/desk/invitations/print/").content.decode()
    assert Invitation.objects.exists()


def test_the_head_coach_exports_and_erases_and_no_other_coach(desk: Client, coach: Coach) -> None:
    athlete = AthleteFactory(name="Rosa Lind")
    coaches(coach, athlete)
    head = signed_in(CoachFactory(is_head=True).user)
    base = f"/desk/athletes/{athlete.pk}/data/"
    assert [desk.get(base).status_code, desk.get(base + "file/").status_code] == [404, 404]
    assert desk.post(base + "erase/", {"word": "Rosa Lind"}).status_code == 404
    assert head.get(base).status_code == 200
    assert head.get(base + "file/")["Content-Type"] == "application/zip"
    assert head.post(base + "erase/", {"word": "Rosa"}).status_code == 422
    assert Athlete.objects.exists()
    assert head.post(base + "erase/", {"word": "rosa lind"}).status_code == 302
    assert not Athlete.objects.exists()
    assert Erasure.objects.get().rows >= 2
