"""Many at once in a real browser: a spreadsheet with broken rows, then one plan for those ticked on the roster."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from athletes import screening
from athletes.carding import compute_card, store_card
from athletes.models import Athlete, Coach
from plans.models import Schedule, ScheduleVersion
from tests.browser.conftest import Visit
from tests.factories import (
    AthleteFactory,
    AvailabilityFactory,
    CoachFactory,
    ResultFactory,
    UserFactory,
    coaches,
    next_sunday,
    template_version,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SHEET = """Name,E-mail,Born,Weekly
Dina Moor,dina@example.org,1990-05-04,40
,nobody@example.org,,
Carl Osei,carl at home,,
"""


@pytest.fixture
def coach() -> Coach:
    return CoachFactory(user=UserFactory(name="Marta Quill", email="marta@example.org"))


def ready(coach: Coach, name: str) -> Athlete:
    athlete = AthleteFactory(name=name, user=None)
    coaches(coach, athlete)
    AvailabilityFactory(athlete=athlete)
    result = ResultFactory(athlete=athlete)
    store_card(athlete, compute_card(athlete, [result]), result, result.day)
    screening.keep(athlete, {}, "", timezone.now())
    return athlete


def test_a_sheet_with_broken_rows(visit: Visit, coach: Coach) -> None:
    coaches(coach, AthleteFactory(name="Bea Lindqvist", user=None))
    page = visit.signed_in("marta@example.org")
    page.goto("/desk/roster/read/")
    sheet = {"name": "club.csv", "mimeType": "text/csv", "buffer": SHEET.encode()}
    page.locator("input[type=file]").set_input_files([sheet])
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_text("1 to add, 2 with errors")).to_be_visible()
    expect(page.locator("tbody .error")).to_have_count(2)
    assert Athlete.objects.count() == 1, "nothing is stored before it is confirmed"
    page.get_by_role("button", name="Add 1 athlete, leave out 2").click()
    expect(page.get_by_role("link", name="Dina Moor").first).to_be_visible()
    assert list(Athlete.objects.order_by("name").values_list("name", flat=True)) == [
        "Bea Lindqvist",
        "Dina Moor",
    ]


def test_one_plan_for_those_ticked(visit: Visit, coach: Coach, worker: Callable[[], Any]) -> None:
    version = template_version(6)
    for name in ("Ada Brook", "Ben Crane", "Cem Dorn"):
        ready(coach, name)
    worker()
    page = visit.signed_in("marta@example.org")
    page.goto("/desk/")
    page.get_by_label("Tick Ada Brook").check()
    page.get_by_label("Tick Cem Dorn").check()
    page.get_by_role("button", name="Assign a plan").click()
    page.get_by_role("link", name=version.template.name).click()
    page.get_by_label("Race", exact=True).fill("Low Tide Marathon")
    page.get_by_label("Race day").fill(next_sunday(6).isoformat())
    page.get_by_role("button", name="Fit them and show the table").click()
    button = page.get_by_role("button", name="Issue to those ticked")
    expect(button).to_be_visible(timeout=20_000)
    assert Schedule.objects.count() == 0, "nothing is issued before the table was seen"
    page.get_by_label("Issue to Ada Brook").check()
    page.get_by_label("Issue to Cem Dorn").uncheck()
    button.click()
    expect(page.get_by_role("cell", name="issued", exact=True)).to_be_visible(timeout=20_000)
    version = ScheduleVersion.objects.get()
    assert (version.schedule.athlete.name, version.number) == ("Ada Brook", 1)
