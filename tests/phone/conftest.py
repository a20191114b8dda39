from __future__ import annotations

from uuid import UUID

import pytest
from django.test import Client

from plans.models import Schedule, SessionIssue
from tests.factories import scheduled


@pytest.fixture
def schedule() -> Schedule:
    return scheduled()


@pytest.fixture
def phone(schedule: Schedule) -> Client:
    """Signed in as the athlete of the schedule."""
    client = Client()
    client.force_login(schedule.athlete.user)
    return client


@pytest.fixture
def past(schedule: Schedule) -> UUID:
    """A session of the first week, whose day has gone by."""
    return SessionIssue.objects.filter(schedule=schedule).earliest("day").session_id
