"""An athlete joins on a phone, 390 pixels wide, by touch, from the coach's link to today's page."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from athletes.models import Athlete
from coaching.desk.invitations import address_of, invite
from tests.browser.conftest import PHONE, Visit
from tests.factories import CoachFactory, UserFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
QUESTIONS = 6


def sound(page: Page) -> None:
    """No finding of axe, and nothing wider than the phone."""
    found = Axe().run(page).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"]) for one in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_joining(visit: Visit) -> None:
    coach = CoachFactory(user=UserFactory(name="Marta Quill"))
    invitation = invite(coach, Athlete.objects.create(name="Rosa L."))
    page = visit.page(PHONE)
    page.set_default_timeout(30_000)
    page.goto(address_of(invitation).removeprefix("http://localhost:8000"))
    sound(page)
    page.get_by_label("Your name").fill("Rosa Lind")
    page.get_by_label("Your mail address").fill("rosa@example.org")
    page.get_by_label("miles").check()
    page.get_by_label("I have read this and agree").check()
    page.get_by_role("button", name="Join").tap()

    expect(page.get_by_role("heading", name="Your health")).to_be_visible(timeout=30_000)
    sound(page)
    page.get_by_label("Born on").fill("1979-03-02")
    for number in range(QUESTIONS):
        page.locator(".asked fieldset").nth(number).get_by_label("no", exact=True).check()
    page.get_by_role("button", name="Go on").tap()

    expect(page.get_by_role("heading", name="Your running")).to_be_visible(timeout=30_000)
    sound(page)
    page.get_by_label("In a usual week").fill("20")
    page.get_by_label("Longest run").fill("8")
    page.get_by_role("button", name="Go on").tap()

    expect(page.get_by_role("heading", name="Your days")).to_be_visible(timeout=30_000)
    sound(page)
    for day in ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"):
        page.get_by_label(day).fill("60" if day in ("Tuesday", "Sunday") else "0")
    page.get_by_role("button", name="Go on").tap()

    expect(page.get_by_role("heading", name="Coming back")).to_be_visible(timeout=30_000)
    sound(page)
    page.get_by_role("button", name="Links by mail are enough for me").tap()
    expect(page.get_by_text("That was all")).to_be_visible(timeout=30_000)
    rosa = Athlete.objects.get(user__email="rosa@example.org")
    assert (rosa.units, rosa.joining, rosa.availabilities.get().minutes()) == (
        "mi",
        "",
        (0, 60, 0, 0, 0, 0, 60),
    )
