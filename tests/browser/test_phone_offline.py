"""The phone in a real Chromium: without signal nothing is lost and nothing counts twice."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Playwright, expect

from plans import saying, unread
from plans.models import Log
from tests.browser.conftest import PHONE, Visit
from tests.browser.handset import Handset, entries, log_today, sign_in, until, wait_for_entry, wait_until_kept
from tests.browser.people import cast

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SLOW = {"offline": False, "latency": 300, "downloadThroughput": 50_000, "uploadThroughput": 20_000}


@pytest.fixture
def handset(playwright: Playwright, tmp_path: Path, live_server: Any) -> Iterator[Handset]:
    one = Handset(playwright, tmp_path / "phone", live_server.url)
    yield one
    one.off()


def test_an_entry_made_without_signal_outlives_the_browser_and_arrives_once(handset: Handset) -> None:
    people = cast()
    page = handset.on()
    sign_in(page)
    wait_until_kept(page, people)
    handset.signal(False)
    page.goto("/me/")
    expect(page.locator(".today h1")).to_have_text("5 × 3 min at 10K pace")
    log_today(page)
    expect(page.locator("#waiting")).to_contain_text("5 × 3 min at 10K pace")
    assert entries(people) == []
    handset.off()  # the whole browser ends; it starts again without signal

    page = handset.on(signal=False)
    page.goto("/me/")
    expect(page.locator("#waiting")).to_contain_text("effort 7")
    page.goto(f"/me/sessions/{people.session_on(people.today + timedelta(2))}/")
    expect(page.locator("h1")).to_contain_text("easy")
    page.goto("/me/paces/")
    expect(page.locator("h1")).to_have_text("My paces")
    page.goto("/me/profile/")
    expect(page.locator("h1")).to_contain_text("No signal")
    assert entries(people) == []

    handset.off()

    page = handset.on()
    page.goto("/me/")
    wait_for_entry(page, people)
    expect(page.locator("#waiting")).to_be_hidden()
    page.reload()
    (log,) = entries(people)
    assert (log.outcome, log.effort, log.day) == ("done", 7, people.today)


def test_a_clash_asks_and_signing_out_asks(handset: Handset) -> None:
    """The other phone logs first; then one more entry waits when the athlete signs out."""
    people = cast()
    page = handset.on()
    sign_in(page)
    wait_until_kept(page, people)
    handset.signal(False)
    log_today(page, 8)
    expect(page.locator("#waiting")).to_be_visible()
    Log.objects.create(
        athlete=people.athlete,
        session_id=people.session_on(people.today),
        day=people.today,
        time_zone="UTC",
        received_at="2026-01-01T00:00Z",
        outcome="cut",
        distance_mm=4_000_000,
    )
    handset.signal(True)
    expect(page.locator("#waiting")).to_contain_text("Another entry came in meanwhile: cut short, 4 km")
    page.get_by_role("button", name="Send mine instead").tap()
    expect(page.locator("#waiting")).to_be_hidden()
    standing = Log.objects.standing().get(session_id=people.session_on(people.today))  # type: ignore[attr-defined]
    assert (standing.outcome, standing.effort) == ("done", 8)

    handset.signal(False)
    yesterday = people.session_on(people.today - timedelta(1))
    page.goto(f"/me/sessions/{yesterday}/log/?how=done")
    page.get_by_role("button", name="Done, without a number").tap()
    expect(page.locator("#waiting")).to_be_visible()
    page.get_by_role("button", name="Sign out").tap()
    expect(page.get_by_role("dialog")).to_contain_text("One entry has not been sent yet")
    page.get_by_role("button", name="Stay").tap()
    expect(page.locator("#waiting")).to_be_visible()
    handset.signal(True)
    expect(page.locator("#waiting")).to_be_hidden()  # sent the moment the signal came back
    page.get_by_role("button", name="Sign out").tap()
    page.wait_for_url("**/sign-in/**")
    assert page.evaluate("async () => (await caches.keys()).length") == 0
    assert page.evaluate("async () => (await navigator.serviceWorker.getRegistrations()).length") == 0


def test_signing_out_without_signal_takes_nothing_away(handset: Handset) -> None:
    people = cast()
    page = handset.on()
    sign_in(page)
    wait_until_kept(page, people)
    handset.signal(False)
    page.get_by_role("button", name="Sign out").tap()
    expect(page.get_by_text("Signing out needs it")).to_be_visible()
    page.goto("/me/paces/")
    expect(page.locator("h1")).to_have_text("My paces")  # still kept
    handset.signal(True)
    page.goto("/me/")
    expect(page.locator(".today h1")).to_be_visible()  # still signed in


def test_a_network_that_is_back_later_than_it_says_is_tried_again(handset: Handset) -> None:
    """The browser says that it is online, and the first requests still fail: nobody has to open the page once more."""
    people = cast()
    page = handset.on()
    sign_in(page)
    wait_until_kept(page, people)
    failed: list[str] = []

    def refuse(route: Any) -> None:
        failed.append(route.request.url)
        route.abort()

    page.route("**/me/keep/", refuse)  # before anything is asked: a request that is under way can't be caught
    handset.signal(False)
    log_today(page)
    page.wait_for_url(lambda url: urlsplit(url).path == "/me/")
    expect(page.locator("#waiting")).to_contain_text("effort 7")
    until(page, lambda: len(failed) >= 2, "what the form and this page ask by themselves")
    before = len(failed)
    handset.signal(True)
    until(page, lambda: len(failed) > before, "what is asked when the signal is back")
    assert entries(people) == []
    page.unroute("**/me/keep/")
    wait_for_entry(page, people)
    expect(page.locator("#waiting")).to_be_hidden()


def test_pain_is_told_as_soon_as_the_signal_is_back(handset: Handset) -> None:
    people = cast()
    page = handset.on()
    sign_in(page)
    wait_until_kept(page, people)
    handset.signal(False)
    page.goto("/me/unwell/")
    expect(page.get_by_text("call the emergency number")).to_be_visible()
    page.get_by_text("Something hurts", exact=True).tap()
    page.get_by_label("Where, and since when?").fill("left calf")
    page.get_by_role("button", name="Tell my coach").tap()
    expect(page.locator("#waiting")).to_contain_text("not yet with your coach")
    assert not people.athlete.health_notes.exists()
    handset.signal(True)
    expect(page.locator("#waiting")).to_be_hidden()
    note = people.athlete.health_notes.get()
    assert (note.cause, note.words) == ("pain", "left calf")


def test_a_word_to_the_coach_waits_for_the_signal(handset: Handset) -> None:
    people = cast()
    saying.say(people.athlete, "How was the wind?", by=people.coach.user, by_coach=True)
    page = handset.on()
    sign_in(page)
    wait_until_kept(page, people)
    handset.signal(False)
    page.get_by_role("link", name="Messages").tap()
    expect(page.locator(".thread")).to_contain_text("How was the wind?")
    page.get_by_label("A word to your coach").fill("Strong, from the sea.")
    page.get_by_role("button", name="Send").tap()
    expect(page.locator("#waiting")).to_contain_text("A word to your coach, “Strong, from the sea.”")
    assert people.athlete.messages.count() == 1
    handset.signal(True)
    expect(page.locator("#waiting")).to_be_hidden()
    page.reload()
    expect(page.locator(".thread > li").first).to_contain_text("Strong, from the sea.")
    assert [one.words for one in unread.by_coach(people.coach)] == ["Strong, from the sea."]
    assert not unread.by_athlete(people.athlete).exists()  # the page was shown, so it was read


def test_two_taps_on_a_slow_network_and_a_double_tap(visit: Visit) -> None:
    people = cast()
    page = visit.signed_in("bea@example.org", PHONE)
    page.context.new_cdp_session(page).send("Network.emulateNetworkConditions", SLOW)
    page.get_by_role("link", name="Done as planned").tap()
    page.get_by_role("button", name=re.compile("^7 ")).dblclick()
    expect(page.get_by_text("Logged.")).to_be_visible()
    (log,) = entries(people)
    assert log.effort == 7


def test_two_phones_of_one_athlete_in_another_time_zone(visit: Visit) -> None:
    """The clocks of both phones are in Honolulu, the athlete lives in Auckland: the day is Auckland's."""
    people = cast()
    people.athlete.time_zone = "Pacific/Auckland"
    people.athlete.save()
    one, two = (visit.signed_in("bea@example.org", PHONE, timezone_id="Pacific/Honolulu") for _ in range(2))
    session = people.session_on(people.today)
    for phone in (one, two):
        phone.goto(f"/me/sessions/{session}/log/?how=different")
    one.get_by_role("button", name="Save").tap()
    expect(one.get_by_text("Logged")).to_be_visible()
    two.get_by_text("Cut short").tap()
    two.get_by_label("Distance").fill("4 km")
    two.get_by_role("button", name="Save").tap()
    expect(two.get_by_text("Another entry came in meanwhile")).to_be_visible()
    assert two.get_by_label("Distance").input_value() == "4 km"
    expect(two.locator("#waiting")).to_be_hidden()  # the page asks, and nothing else does
    two.get_by_role("button", name="Save").tap()
    expect(two.get_by_text("Logged")).to_be_visible()
    first, second = Log.objects.filter(session_id=session).order_by("received_at")
    assert (first.replaced_by, second.outcome, second.time_zone) == (second, "cut", "Pacific/Auckland")
    assert second.day == min(people.today, people.athlete.today())


def test_a_page_kept_yesterday_logs_today(visit: Visit) -> None:
    """A form that was kept on an earlier day: its entry gets today's day where the athlete is, across the end of
    daylight saving, when the phone's clock shows an hour twice."""
    people = cast()
    people.athlete.time_zone = "Europe/Berlin"
    people.athlete.save()
    page = visit.signed_in("bea@example.org", PHONE, timezone_id="America/New_York", service_workers="block")
    session = people.session_on(people.today)
    page.clock.set_fixed_time("2026-10-25T00:30:00Z")  # 2:30 in Berlin, and an hour later 2:30 again
    page.route("**/log/?how=done", lambda route: aged(route, "2026-10-24"))
    page.goto(f"/me/sessions/{session}/log/?how=done")
    assert page.locator("[name=day]").input_value() == "2026-10-25"
    page.clock.set_fixed_time("2026-10-24T21:30:00Z")  # 23:30 in Berlin: still the 24th there
    page.goto(f"/me/sessions/{session}/log/?how=done")
    assert page.locator("[name=day]").input_value() == "2026-10-24"


def aged(route: Any, made: str) -> None:
    answer = route.fetch()
    text = re.sub(r'data-made="[^"]*"', f'data-made="{made}"', answer.text())
    text = re.sub(r'name="day" value="[^"]*"', f'name="day" value="{made}"', text)
    route.fulfill(response=answer, body=text)


def test_a_strangers_session_is_not_there(visit: Visit) -> None:
    people = cast()
    session = people.session_on(people.today)
    page = visit.signed_in("marta@example.org", PHONE)
    answer = page.goto(f"/me/sessions/{session}/")
    assert answer is not None
    assert answer.status == 404
