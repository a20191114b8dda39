"""A message there and back in a real browser: read without a click, a phrase at the cursor, the badge goes."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from coaching.models import Phrase
from plans import saying, unread
from tests.browser.conftest import PHONE, Visit
from tests.browser.people import cast

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_message_there_and_back(visit: Visit) -> None:
    people = cast()
    Phrase.objects.create(coach=people.coach, name="Sleep", words="Sleep first.")
    saying.say(people.athlete, "Windy today.", by=people.athlete.user, by_coach=False)
    desk = visit.signed_in("marta@example.org")
    desk.get_by_role("link", name="Messages 1").click()
    desk.get_by_role("link", name="Bea Lindqvist").click()
    expect(desk.locator(".thread .unread")).to_have_text("new")
    expect(desk.get_by_label("Words")).to_be_visible()
    desk.wait_for_load_state("networkidle")
    assert not unread.by_coach(people.coach).exists()  # the page told that it was seen
    words = desk.get_by_label("Words")
    words.fill("Bea, the hills wait.")
    words.evaluate("box => box.setSelectionRange(4, 4)")
    desk.get_by_role("button", name="Sleep").click()
    expect(words).to_have_value("Bea, Sleep first. the hills wait.")
    desk.get_by_role("button", name="Send").click()
    expect(desk.locator(".thread > li").first).to_contain_text("not read yet")

    phone = visit.signed_in("bea@example.org", PHONE)
    expect(phone.get_by_text("Bea, Sleep first.")).to_be_visible()
    phone.get_by_role("link", name="Messages 1").tap()
    expect(phone.locator(".thread .count")).to_have_text("new")
    phone.wait_for_load_state("networkidle")
    assert not unread.by_athlete(people.athlete).exists()
    phone.get_by_label("A word to your coach").fill("I will.")
    phone.get_by_role("button", name="Send").tap()
    expect(phone.get_by_text("Sent. Your coach reads it on the desk.")).to_be_visible()
    expect(phone.locator(".thread > li").first).to_contain_text("I will.")
    desk.reload()
    expect(desk.locator(".thread > li").nth(1)).to_contain_text("· read")


def test_without_scripts_a_phrase_is_put_in_and_a_button_marks_what_was_read(visit: Visit) -> None:
    people = cast()
    Phrase.objects.create(coach=people.coach, name="Sleep", words="Sleep first.")
    saying.say(people.athlete, "Windy today.", by=people.athlete.user, by_coach=False)
    desk = visit.signed_in("marta@example.org", java_script_enabled=False)
    desk.goto(f"/desk/athletes/{people.athlete.pk}/messages/")
    desk.get_by_label("Words").fill("Bea,")
    desk.get_by_role("button", name="Sleep").click()
    expect(desk.get_by_label("Words")).to_have_value("Bea,\nSleep first.")
    desk.get_by_role("button", name="I have read them").click()
    assert not unread.by_coach(people.coach).exists()
