"""Who is on a template, and offering them its newest version."""

from __future__ import annotations

from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from athletes.models import Coach
from plans import drafting, jobs
from plans.models import Job, Proposal, Schedule
from plans.training.template_editing import find, put
from tests.factories import CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db
KEY = "00000000-0000-4000-8000-000005000003"


@pytest.fixture
def coach() -> Coach:
    return CoachFactory()


@pytest.fixture
def schedule(coach: Coach) -> Schedule:
    made = scheduled(weeks=8)
    coaches(coach, made.athlete)
    return made


def change(schedule: Schedule, coach: Coach) -> None:
    template = schedule.template_version.template
    week, session = find(template.latest.plan, KEY)
    drafting.change(
        template, 1, lambda plan: put(plan, week, replace(session, text="9 km easy")), by=coach, what="longer"
    )


def test_offer_and_accept(coach: Coach, schedule: Schedule) -> None:
    change(schedule, coach)
    client = Client()
    client.force_login(coach.user)
    address = reverse("template-offer", args=[schedule.template_version.template_id])
    assert (
        "Offer the changes to 1 on it"
        in client.get(reverse("template", args=[schedule.template_version.template_id])).content.decode()
    )
    assert client.post(address, {"schedule": schedule.pk}).status_code == 302
    assert "being made" in client.get(address).content.decode()
    jobs.run(Job.objects.get(kind="refit").pk)
    assert "waits for you" in client.get(address).content.decode()
    proposal = Proposal.objects.get(kind="refit")
    page = client.get(reverse("proposal", args=[proposal.pk]))
    assert page.status_code == 200
    assert "9 km easy" in page.content.decode()
    client.post(reverse("proposal-accept", args=[proposal.pk]))
    schedule.refresh_from_db()
    assert schedule.template_version.number == 2
    assert schedule.plan_version == schedule.current_version == 2


def test_nobody_ticked(coach: Coach, schedule: Schedule) -> None:
    client = Client()
    client.force_login(coach.user)
    address = reverse("template-offer", args=[schedule.template_version.template_id])
    # On the newest version already: there is nothing to offer.
    assert client.post(address, {"schedule": schedule.pk}).status_code == 422
    assert client.post(address, {}).status_code == 422
    assert not Job.objects.filter(kind="refit").exists()


def test_only_ones_own_athletes(coach: Coach, schedule: Schedule) -> None:
    change(schedule, coach)
    client = Client()
    client.force_login(CoachFactory().user)
    address = reverse("template-offer", args=[schedule.template_version.template_id])
    assert schedule.athlete.name not in client.get(address).content.decode()
    assert client.post(address, {"schedule": schedule.pk}).status_code == 422
    assert not Job.objects.filter(kind="refit").exists()
