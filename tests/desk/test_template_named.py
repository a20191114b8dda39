"""The library of named sessions."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from plans.models import NamedSession
from plans.training.named_sessions import named_sessions
from tests.factories import AthleteFactory, CoachFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def coach() -> Client:
    client = Client()
    client.force_login(CoachFactory().user)
    return client


def test_fill_from_what_comes_along_once(coach: Client) -> None:
    NamedSession.objects.create(name="easy run", role="easy", steps="30 min easy")
    coach.post(reverse("named-sessions-fill"))
    assert NamedSession.objects.count() == len(named_sessions())
    coach.post(reverse("named-sessions-fill"))
    assert NamedSession.objects.count() == len(named_sessions())
    assert NamedSession.objects.get(name__iexact="easy run").steps == "30 min easy"
    page = coach.get(reverse("named-sessions")).content.decode()
    assert "that come with the program" not in page


def test_add_change_delete(coach: Client) -> None:
    values = {"name": "Pier hills", "text": "8x30s hill, jog back", "purpose": "Strength."}
    assert coach.post(reverse("named-session-add"), values).status_code == 302
    one = NamedSession.objects.get()
    assert (one.name, one.role, one.steps) == ("Pier hills", "quality", "8x30s hill, jog back")
    address = reverse("named-session", args=[one.pk])
    assert 'value="8x30s hill, jog back"' in coach.get(address).content.decode()
    coach.post(address, {**values, "text": "10x30s hill, jog back"})
    one.refresh_from_db()
    assert one.steps == "10x30s hill, jog back"
    assert coach.get(reverse("named-session-delete", args=[one.pk])).status_code == 405
    coach.post(reverse("named-session-delete", args=[one.pk]))
    assert not NamedSession.objects.exists()


def test_what_can_be_wrong(coach: Client) -> None:
    NamedSession.objects.create(name="Hills", role="quality", steps="8x30s hill, jog back")
    add = reverse("named-session-add")
    for values, said in [
        ({"name": "HILLS", "text": "45 min easy"}, "Another session has this name already."),
        ({"name": "", "text": "45 min easy"}, "required"),
        ({"name": "x", "text": "45 min easi"}, "not a word I know"),
        ({"name": "x" * 61, "text": "45 min easy"}, "at most 60"),
    ]:
        answer = coach.post(add, values)
        assert answer.status_code == 422
        assert said in answer.content.decode()
    assert NamedSession.objects.count() == 1


def test_looking_while_typing(coach: Client) -> None:
    page = coach.post(reverse("named-session-add"), {"do": "look", "text": "45 min easy"}).content.decode()
    assert "easy run" in page
    assert not NamedSession.objects.exists()


def test_who_may(coach: Client) -> None:
    one = NamedSession.objects.create(name="Hills", role="quality", steps="8x30s hill, jog back")
    client = Client()
    client.force_login(AthleteFactory().user)
    assert client.get(reverse("named-sessions")).status_code == 404
    assert client.post(reverse("named-session-delete", args=[one.pk])).status_code == 404
    assert coach.get(reverse("named-session", args=[999])).status_code == 404
