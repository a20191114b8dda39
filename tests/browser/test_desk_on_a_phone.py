"""The desk in one hand, at the track: the way around without swiping, one athlete without miles of page."""

from __future__ import annotations

import pytest
from django.conf import settings
from playwright.sync_api import expect

from athletes.models import Athlete
from coaching.demo import club
from coaching.demo.people import PASSWORD
from plans import jobs
from tests.browser.conftest import PHONE, Visit
from tests.browser.people import cast

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(bool(settings.REDIS_URL), reason="pages look the same on either database"),
]


@pytest.fixture
def of_the_demo(transactional_db: None) -> int:
    club.load(lambda line: None)
    for pk in jobs.due_jobs():
        jobs.run(pk)
    return Athlete.objects.get(name="Bea Lindqvist").pk


def test_an_athlete_of_eighteen_weeks_is_a_few_screens(of_the_demo: int, visit: Visit) -> None:
    page = visit.signed_in("coach@example.org", PHONE, PASSWORD)
    page.goto(f"/desk/athletes/{of_the_demo}/")
    expect(page.locator("#log")).not_to_have_attribute("open", "")
    assert page.evaluate("document.documentElement.scrollHeight") <= 4 * PHONE["height"]
    expect(page.locator(".this-week")).to_be_visible()
    expect(page.locator("#week-18")).to_be_hidden()
    page.locator("details:has(#week-18) > summary").click()
    expect(page.locator("#week-18")).to_be_visible()


def test_weeks_stay_as_they_stood_when_one_is_changed(of_the_demo: int, visit: Visit) -> None:
    page = visit.signed_in("coach@example.org", PHONE, PASSWORD)
    page.goto(f"/desk/athletes/{of_the_demo}/")
    ahead, pictures = page.locator("details:has(#week-18)"), page.locator("#pictures")
    ahead.locator("summary").click()
    page.locator("#week-16 .card").first.click()
    page.get_by_role("button", name="Take it out").click()
    expect(page.get_by_text("1 change not sent yet")).to_be_visible()
    expect(ahead).to_have_attribute("open", "")
    expect(pictures).not_to_have_attribute("open", "")
    ahead.locator("summary").click()
    page.get_by_role("button", name="Undo").first.click()
    expect(page.get_by_text("1 change not sent yet")).to_have_count(0)
    expect(ahead).not_to_have_attribute("open", "")


def test_a_link_down_the_page_opens_what_it_leads_to(of_the_demo: int, visit: Visit) -> None:
    page = visit.signed_in("coach@example.org", PHONE, PASSWORD)
    page.goto(f"/desk/athletes/{of_the_demo}/")
    page.get_by_role("link", name="A word", exact=True).click()
    expect(page.get_by_label("A word on the phone and the next handout")).to_be_in_viewport()
    page.goto(f"/desk/athletes/{of_the_demo}/#notes")
    expect(page.get_by_role("heading", name="Notes for coaches")).to_be_in_viewport()
    expect(page.locator("#notes")).to_have_attribute("open", "")


def test_what_was_refused_stays_in_sight(transactional_db: None, visit: Visit) -> None:
    walk = cast()
    page = visit.signed_in("marta@example.org", PHONE)
    page.goto(f"/desk/athletes/{walk.athlete.pk}/#word")
    page.get_by_label("A word on the phone and the next handout").fill(" ")
    page.get_by_role("button", name="Say it").click()
    expect(page.locator("#word .error, #word .errorlist").first).to_be_visible()
    expect(page.locator("#log")).not_to_have_attribute("open", "")


def test_without_script_everything_stands_open(transactional_db: None, visit: Visit) -> None:
    walk = cast()
    page = visit.signed_in("marta@example.org", PHONE, java_script_enabled=False)
    page.goto(f"/desk/athletes/{walk.athlete.pk}/")
    expect(page.get_by_label("A word on the phone and the next handout")).to_be_visible()
    expect(page.locator("#log table")).to_be_visible()
    page.goto("/desk/")
    expect(page.get_by_label("Show")).to_be_visible()


def test_the_way_around_is_in_sight_and_the_filters_wait(transactional_db: None, visit: Visit) -> None:
    cast()
    page = visit.signed_in("marta@example.org", PHONE)
    page.goto("/desk/")
    around = page.get_by_role("navigation", name="Pages").get_by_role("link")
    expect(around).to_have_count(8)
    for link in around.all():
        expect(link).to_be_in_viewport(ratio=1)
        box = link.bounding_box()
        assert box is not None
        assert box["height"] >= 44
    expect(page.get_by_label("Show")).to_be_hidden()
    expect(page.locator(".roster .who a").first).to_be_in_viewport(ratio=1)
    page.goto("/desk/?show=word")
    expect(page.get_by_label("Show")).to_be_visible()
