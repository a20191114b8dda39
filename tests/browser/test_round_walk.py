"""Sunday's round in a real browser: from the roster's keys to the line at the end, left once and taken up again."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import expect

from athletes.models import HealthNote
from coaching.models import SundayRound
from plans.models import HandoutBatch, Message
from tests.browser.conftest import PHONE
from tests.browser.people import cast
from tests.factories import AthleteFactory, coaches

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_round_is_walked_left_and_finished(visit: Any) -> None:
    here = cast()
    away = AthleteFactory(name="Abel Ander", user=None)
    coaches(here.coach, away)
    HealthNote.objects.create(athlete=away, kind="easy", cause="pain", words="left calf", opened=here.today)
    page = visit.signed_in("marta@example.org")
    page.goto("/desk/")

    # The keys: down to the first line, tick it, and the bar of acts appears; "/" finds.
    expect(page.locator(".unread")).to_have_count(1)
    expect(page.locator(".picked")).to_be_hidden()
    page.keyboard.press("j")
    expect(page.get_by_role("link", name="Abel Ander")).to_be_focused()
    page.keyboard.press("x")
    expect(page.locator(".picked")).to_be_visible()
    page.keyboard.press("x")
    page.keyboard.press("/")
    page.keyboard.type("bea")
    expect(page.get_by_role("link", name="Abel Ander")).to_have_count(0)
    expect(page).to_have_url(re.compile(r"q=bea"))
    expect(page.get_by_role("link", name="Bea Lindqvist")).to_be_visible()

    page.get_by_role("link", name="Sunday’s round").click()
    expect(page.get_by_text("left calf")).to_be_visible()
    page.get_by_role("button", name="Go on: Proposals").click()
    expect(page.get_by_role("heading", name="Proposals")).to_be_visible()
    page.get_by_role("link", name="Leave it here").click()

    # Taken up on the phone where it was left.
    phone = visit.signed_in("marta@example.org", PHONE)
    phone.goto("/desk/round/")
    expect(phone.get_by_role("heading", name="Proposals")).to_be_visible()
    phone.get_by_role("button", name="Go on: Those who need a word").click()
    phone.get_by_role("button", name="Go on: Next week’s handouts").click()
    phone.get_by_role("button", name="Make the handouts").click()
    expect(phone.get_by_text("1 handout is being made.")).to_be_visible()
    phone.get_by_role("button", name="Go on: Messages").click()
    expect(phone.get_by_text("Everything the athletes wrote is read.")).to_be_visible()
    phone.get_by_role("button", name="Go on: Done").click()
    expect(phone.get_by_text("1 handout.", exact=True)).to_be_visible()
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    assert SundayRound.objects.get().step == "done"
    assert HandoutBatch.objects.count() == 1
    assert not Message.objects.exists()
