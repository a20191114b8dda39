"""A coach leaves, comes back, becomes head coach: whoever has left reads no health note any more."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from athletes.models import Coach, CoachAthlete, User
from tests.factories import PASSWORD, AthleteFactory, CoachFactory, coaches

pytestmark = pytest.mark.django_db


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def head() -> Coach:
    return CoachFactory(is_head=True)


def press(head: Coach, what: str, coach: Coach) -> str:
    answer = signed_in(head.user).post(f"/desk/practice/coach/{coach.pk}/{what}/", follow=True)
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_coach_who_leaves_is_signed_out_and_has_no_athletes(head: Coach) -> None:
    jonah, bea = CoachFactory(), AthleteFactory()
    coaches(jonah, bea)
    coaches(head, bea)
    theirs = signed_in(jonah.user)
    assert theirs.get(f"/desk/athletes/{bea.pk}/").status_code == 200
    assert "has left. They can&#x27;t sign in any more" in press(head, "leave", jonah)
    answer = theirs.get("/desk/")
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/")
    assert not Client().login(username=jonah.user.email, password=PASSWORD)
    today = timezone.now().date()
    assert not CoachAthlete.objects.filter(coach=jonah, until__isnull=True).exists()
    assert not CoachAthlete.objects.filter(coach=jonah, until__gte=today).exists()


def test_nobody_is_left_without_a_coach(head: Coach) -> None:
    jonah, bea = CoachFactory(), AthleteFactory()
    coaches(jonah, bea)
    assert f"1 athlete of {jonah} would have no coach then" in press(head, "leave", jonah)
    jonah.user.refresh_from_db()
    assert jonah.user.is_active
    gone = CoachFactory()
    coaches(gone, bea)
    User.objects.filter(pk=gone.user_id).update(is_active=False)  # somebody who has left coaches nobody
    assert "would have no coach then" in press(head, "leave", jonah)


def test_a_coach_who_runs_here_stays_an_athlete(head: Coach) -> None:
    jonah = CoachFactory()
    me = AthleteFactory(user=jonah.user)
    theirs = signed_in(jonah.user)
    press(head, "leave", jonah)
    assert theirs.get("/desk/").status_code == 404
    assert theirs.get("/me/").status_code == 200
    jonah.refresh_from_db()
    me.refresh_from_db()
    assert me.user_id != jonah.user_id
    assert str(jonah) == me.user.name
    assert "add them as a new coach" in press(head, "back", jonah)


def test_an_account_is_opened_again(head: Coach) -> None:
    jonah = CoachFactory()
    press(head, "leave", jonah)
    assert "can sign in again" in press(head, "back", jonah)
    assert signed_in(User.objects.get(pk=jonah.user_id)).get("/desk/").status_code == 200


def test_the_last_head_coach_stays_one_and_nobody_closes_their_own_account(head: Coach) -> None:
    jonah = CoachFactory()
    assert "is the only head coach" in press(head, "head", head)
    assert "close your own account" in press(head, "leave", head)
    assert "is now a head coach" in press(head, "head", jonah)
    assert "is no longer a head coach" in press(jonah, "head", head)
    assert [one.pk for one in Coach.objects.filter(is_head=True)] == [jonah.pk]


def test_who_has_left_is_offered_nowhere(head: Coach) -> None:
    jonah = CoachFactory()
    press(head, "leave", jonah)
    page = signed_in(head.user).get("/desk/practice/coaches/").content.decode()
    assert "has left" in page
    assert f'<option value="{jonah.pk}">' not in page.split('name="whose"')[0]
    answer = signed_in(head.user).post(
        "/desk/practice/coaches/cover/",
        {"coach": jonah.pk, "whose": head.pk, "since": timezone.now().date() + timedelta(1)},
    )
    assert answer.status_code == 422
