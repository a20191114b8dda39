from __future__ import annotations

import pytest
from django.test import Client

from athletes.models import Athlete, Coach
from plans.jobs import due_jobs, run
from tests.factories import AthleteFactory, CoachFactory, UserFactory, coaches


@pytest.fixture
def head() -> Coach:
    return CoachFactory(user=UserFactory(name="Marta Quill", email="marta@example.org"), is_head=True)


@pytest.fixture
def coach() -> Coach:
    return CoachFactory(user=UserFactory(name="Jonah Tarn", email="jonah@example.org"))


@pytest.fixture
def bea(coach: Coach) -> Athlete:
    """An athlete of Jonah's, with an account."""
    user = UserFactory(name="Bea Lindqvist", email="bea@example.org")
    athlete = AthleteFactory(user=user, name="Bea Lindqvist")
    coaches(coach, athlete)
    return athlete


def signed_in(user: object) -> Client:
    client = Client()
    client.force_login(user)  # type: ignore[arg-type]
    return client


def send_waiting_mail() -> None:
    """What the worker does: also the mail that one of these jobs wrote."""
    while due := due_jobs():
        for pk in due:
            run(pk)
