"""The week of the practice in a real browser: a group session made, ticked, and handouts typed in by keys alone."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import expect

from athletes.models import Group, Membership
from plans.models import GroupSession, Log, Schedule
from plans.reading import week_of
from tests.browser.people import cast
from tests.factories import AthleteFactory, coaches, scheduled

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_handouts_are_typed_in_by_keys_and_nothing_typed_is_lost(visit: Any) -> None:
    here = cast()
    for name in ("Abel", "Cleo"):
        coaches(here.coach, scheduled(AthleteFactory(name=name, user=None)).athlete)
    Schedule.objects.filter(pk=here.schedule.pk).update(state="ended")
    monday = week_of(here.today, 0) - timedelta(7)
    page = visit.signed_in("marta@example.org")
    page.goto(f"/desk/week/handouts/?week={monday}")
    tuesday = page.get_by_label("Abel, Tue")
    tuesday.focus()
    page.keyboard.type("ok")
    page.keyboard.press("ArrowDown")
    page.keyboard.type("fish")
    page.keyboard.press("ArrowUp")
    expect(tuesday).to_be_focused()
    # To the right from the end of what is typed, and down as with a pen.
    page.keyboard.press("End")
    page.keyboard.press("ArrowRight")
    expect(page.get_by_label("Abel, Thu")).to_be_focused()
    page.keyboard.type("8.4")
    page.keyboard.press("Enter")
    page.keyboard.type("- tired")
    page.get_by_role("button", name="Store what is typed").click()
    expect(page.get_by_role("alert")).to_contain_text("1 cell needs another look")
    wrong = page.locator("[aria-invalid=true]")
    expect(wrong).to_be_focused()
    expect(wrong).to_have_value("fish")
    expect(page.get_by_label("Abel, Thu")).to_have_value("8.4")
    assert not Log.objects.exclude(athlete=here.athlete).exists()
    wrong.fill("45:00")
    page.get_by_role("button", name="Store what is typed").click()
    expect(page.get_by_text("4 entries of 2 athletes stored")).to_be_visible()
    said = (
        Log.objects.exclude(athlete=here.athlete)
        .order_by("outcome", "distance_mm")
        .values_list("outcome", "reason", "by_coach")
    )
    assert [row[:2] for row in said if row[0] == "missed"] == [("missed", "tired")]
    assert {row[2] for row in said} == {"Marta Quill"}


def test_a_group_session_is_made_and_who_came_is_ticked(visit: Any) -> None:
    here = cast()
    Membership.objects.create(group=Group.objects.create(name="Tuesday group"), athlete=here.athlete)
    page = visit.signed_in("marta@example.org")
    page.goto("/desk/")
    page.get_by_role("link", name="Week", exact=True).click()
    page.get_by_role("link", name="New group session").click()
    page.get_by_label("Group").select_option("Tuesday group")
    page.get_by_label("Day").fill((here.today - timedelta(1)).isoformat())
    page.get_by_label("Time").fill("18:30")
    page.get_by_label("Place").fill("The track")
    page.get_by_label("Weeks in a row").fill("2")
    page.get_by_role("button", name="Make it").click()
    expect(page.get_by_text("The track, 2 weeks in a row.")).to_be_visible()
    page.get_by_role("link", name="18:30 Tuesday group").first.click()
    box = page.get_by_label("Bea Lindqvist")
    box.check()
    page.get_by_role("button", name="Keep who came").click()
    expect(page.get_by_text("1 came.")).to_be_visible()
    expect(box).to_be_checked()
    assert GroupSession.objects.count() == 2
