"""What can go wrong while an entry is sent: the signal goes in between, the server is being started, the phone is
full, somebody signs out, a clock is wrong. None of it loses an entry or counts it twice."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.http import HttpResponse
from playwright.sync_api import Page, Playwright, Route, expect

from coaching.models import DeviceSession
from plans.models import Log
from tests.browser.conftest import PHONE, Visit
from tests.browser.handset import Handset, entries, log_today, sign_in, until, wait_for_entry, wait_until_kept
from tests.browser.people import Cast, cast
from tests.factories import AthleteFactory, UserFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BEA = "bea@example.org"


@pytest.fixture
def people() -> Cast:
    return cast()


@pytest.fixture
def handset(playwright: Playwright, tmp_path: Path, live_server: Any) -> Iterator[Handset]:
    one = Handset(playwright, tmp_path / "phone", live_server.url)
    yield one
    one.off()


@pytest.fixture
def page(visit: Visit, people: Cast) -> Page:
    """Bea's phone without the worker, so that a test sees all that is asked."""
    return visit.signed_in(BEA, PHONE, service_workers="block")


def log_of(people: Cast) -> str:
    return f"/me/sessions/{people.session_on(people.today)}/log/"


class Gate:
    """Stands in the way of what is posted to an address; `answers` says what comes back, nothing for a cut line."""

    def __init__(
        self, page: Page, address: str, answer: dict[str, Any] | None, *, forms: bool = False
    ) -> None:
        self.answer, self.forms, self.closed, self.seen = answer, forms, True, 0
        page.route(re.compile(re.escape(address)), self.meet)

    def meet(self, route: Route) -> None:
        request = route.request
        if not self.closed or request.method != "POST" or request.is_navigation_request() != self.forms:
            return route.continue_()
        self.seen += 1
        return route.fulfill(**self.answer) if self.answer else route.abort()


def test_the_signal_goes_before_the_form_can_be_shown_again(page: Page, people: Cast) -> None:
    """The server refuses an entry, and the page that would say why does not come: the entry is still there."""
    away = {"status": 502, "content_type": "text/html", "body": "<h1>Away</h1>"}
    gate = Gate(page, log_of(people), away, forms=True)
    page.goto(f"{log_of(people)}?how=different")
    page.get_by_text("Cut short").tap()
    page.get_by_label("A word to your coach").fill("Stitch at the lighthouse.")
    page.get_by_role("button", name="Save").tap()
    expect(page.get_by_role("heading", name="Away")).to_be_visible()
    page.goto("/me/")
    expect(page.locator("#waiting")).to_contain_text("Say how far or how long it was.")
    gate.closed = False
    page.get_by_role("link", name="Open it").tap()
    expect(page.get_by_label("A word to your coach")).to_have_value("Stitch at the lighthouse.")
    page.get_by_label("Distance").fill("4 km")
    page.get_by_role("button", name="Save").tap()
    expect(page.get_by_text("Logged.")).to_be_visible()
    expect(page.locator("#waiting")).to_be_hidden()
    (log,) = entries(people)
    assert (log.outcome, log.distance_mm, log.note) == ("cut", 4_000_000, "Stitch at the lighthouse.")


def test_what_is_wrong_is_asked_by_its_page_and_nowhere_else(page: Page, people: Cast) -> None:
    page.goto(f"{log_of(people)}?how=different")
    page.get_by_text("Cut short").tap()
    page.get_by_role("button", name="Save").tap()
    expect(page.get_by_text("Say how far or how long it was.")).to_be_visible()
    page.goto("/me/")
    expect(page.get_by_role("link", name="Done as planned")).to_be_visible()
    expect(page.locator("#waiting")).to_be_hidden()
    assert page.evaluate(WAITING) == 0


WAITING = """async () => { const open = indexedDB.open('entries', 1); await new Promise((done) => { open.onsuccess = done; });
  const asked = open.result.transaction('entries').objectStore('entries').count();
  await new Promise((done) => { asked.onsuccess = done; }); open.result.close(); return asked.result; }"""


@pytest.mark.parametrize(
    "answer",
    [
        {"status": 503, "body": "being started"},
        {"status": 429, "body": "too fast"},
        {"status": 200, "content_type": "text/html", "body": "<h1>Welcome to the ferry's network</h1>"},
    ],
    ids=["server is being started", "proxy is slowing down", "a network with a page of its own"],
)
def test_an_answer_that_is_not_the_servers_is_no_answer(
    page: Page, people: Cast, answer: dict[str, Any]
) -> None:
    gate = Gate(page, log_of(people), answer)
    log_today(page)
    page.wait_for_url(lambda url: urlsplit(url).path == "/me/")
    until(page, lambda: gate.seen >= 2, "what the form and the page after it send")
    expect(page.locator("#waiting")).to_contain_text("effort 7")
    expect(page.locator("#waiting")).not_to_contain_text("no longer in your plan")
    gate.closed = False
    wait_for_entry(page, people)  # by itself: nobody opens a page once more
    expect(page.locator("#waiting")).to_be_hidden()
    (log,) = entries(people)
    assert log.effort == 7


def test_a_line_that_hangs_is_not_waited_for(page: Page, people: Cast) -> None:
    """In the rain nobody looks at a grey button for half a minute: the entry waits, and the phone goes on."""
    held: list[Route] = []
    page.goto(f"{log_of(people)}?how=done")
    page.route("**/me/keep/", lambda route: route.continue_() if held else held.append(route))
    page.get_by_role("button", name=re.compile("^7 ")).tap()
    until(page, lambda: held, "the request that hangs")
    assert urlsplit(page.url).path == log_of(people)
    # After 10 s; the request itself is given up after 15.
    page.wait_for_url(lambda url: urlsplit(url).path == "/me/", timeout=14_000)
    wait_for_entry(page, people)
    expect(page.locator("#waiting")).to_be_hidden()
    assert len(entries(people)) == 1


def test_a_phone_without_room_keeps_what_was_typed_in_its_form(page: Page, people: Cast) -> None:
    page.add_init_script(
        "IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); };"
    )
    page.goto(f"{log_of(people)}?how=different")
    page.get_by_label("A word to your coach").fill("Gulls all the way.")
    page.context.set_offline(True)
    page.get_by_role("button", name="Save").tap()
    expect(page.get_by_text("no room on this phone")).to_be_visible()
    expect(page.get_by_label("A word to your coach")).to_have_value("Gulls all the way.")
    page.context.set_offline(False)
    page.get_by_role("button", name="Save").tap()
    expect(page.get_by_text("Logged.")).to_be_visible()
    (log,) = entries(people)
    assert log.note == "Gulls all the way."


def test_an_entry_that_waits_is_not_thrown_away_when_the_phone_gets_full(page: Page, people: Cast) -> None:
    """The Storage Standard's persist(): what is kept goes only when its owner says so."""
    page.add_init_script("navigator.storage.persist = async () => sessionStorage.setItem('asked', '1');")
    gate = Gate(page, log_of(people), None)
    log_today(page)
    expect(page.locator("#waiting")).to_contain_text("effort 7")
    assert page.evaluate("sessionStorage.getItem('asked')") == "1"
    gate.closed = False


def test_a_second_clash_asks_again(page: Page, people: Cast) -> None:
    gate = Gate(page, log_of(people), None)
    log_today(page, 8)
    expect(page.locator("#waiting")).to_contain_text("effort 8")
    first = other_phone(people, 4)
    gate.closed = False
    page.reload()
    expect(page.locator("#waiting")).to_contain_text("Another entry came in meanwhile: cut short, 4 km")
    Log.objects.filter(pk=first.pk).update(replaced_by=first)
    other_phone(people, 6)
    page.get_by_role("button", name="Send mine instead").tap()
    expect(page.locator("#waiting")).to_contain_text("Another entry came in meanwhile: cut short, 6 km")
    page.get_by_role("button", name="Send mine instead").tap()
    expect(page.locator("#waiting")).to_be_hidden()
    (standing,) = Log.objects.standing().filter(session_id=people.session_on(people.today))  # type: ignore[attr-defined]
    assert standing.effort == 8


def other_phone(people: Cast, km: int) -> Log:
    return Log.objects.create(
        athlete=people.athlete,
        session_id=people.session_on(people.today),
        day=people.today,
        time_zone="UTC",
        received_at=f"2026-01-01T00:0{km}Z",
        outcome="cut",
        distance_mm=km * 1_000_000,
    )


@pytest.mark.parametrize("clock", ["2001-02-03T04:05:06Z", "2031-02-03T04:05:06Z"])
def test_a_clock_that_is_years_out(page: Page, people: Cast, clock: str) -> None:
    page.clock.set_fixed_time(clock)
    page.goto("/me/")
    log_today(page)
    expect(page.get_by_text("Logged.")).to_be_visible()
    (log,) = entries(people)
    assert (log.day, log.effort) == (people.today, 7)


def test_a_run_outside_the_plan_from_a_page_kept_yesterday_is_todays(page: Page, people: Cast) -> None:
    yesterday = people.today - timedelta(1)

    def aged(route: Route) -> None:
        answer = route.fetch()
        text = answer.text().replace(f'data-made="{people.today}"', f'data-made="{yesterday}"')
        text = text.replace(f'name="day" value="{people.today}"', f'name="day" value="{yesterday}"')
        route.fulfill(response=answer, body=text)

    page.route("**/me/runs/", aged)
    page.goto("/me/runs/")
    assert date.fromisoformat(page.locator("[name=day]").input_value()) == people.today


def test_two_tabs_send_once(handset: Handset, people: Cast) -> None:
    page = handset.on()
    sign_in(page)
    wait_until_kept(page, people)
    posts: list[str] = []
    assert handset.context
    handset.context.on("request", lambda one: posts.append(one.url) if one.method == "POST" else None)
    other = handset.context.new_page()
    other.goto("/me/plan/")
    handset.signal(False)
    page.bring_to_front()
    log_today(page)
    expect(page.locator("#waiting")).to_contain_text("effort 7")
    handset.signal(True)
    wait_for_entry(page, people)
    expect(page.locator("#waiting")).to_be_hidden()
    other.bring_to_front()
    expect(other.locator("#waiting")).to_be_hidden()
    assert len([url for url in posts if "/log/" in url]) == 1
    assert len(entries(people)) == 1


KEPT_FOR = """async () => { const note = await (await caches.open('pages')).match('/me/kept/');
  const { whole, athlete } = note ? await note.json() : {}; return whole ? athlete : 0; }"""


def test_a_sign_in_that_has_ended_keeps_the_entry_for_its_athlete_alone(
    handset: Handset, people: Cast
) -> None:
    finn = AthleteFactory(user=UserFactory(name="Finn", email="finn@example.org"), name="Finn")
    page = handset.on()
    sign_in(page)
    wait_until_kept(page, people)
    handset.signal(False)
    log_today(page)
    expect(page.locator("#waiting")).to_contain_text("effort 7")
    DeviceSession.objects.all().delete()
    handset.signal(True)
    page.goto("/me/")
    page.wait_for_url("**/sign-in/**")
    sign_in(page, "finn@example.org")
    expect(page.get_by_role("heading", name="No plan yet")).to_be_visible()
    expect(page.locator("#waiting")).to_be_hidden()
    until(page, lambda: page.evaluate(KEPT_FOR) == finn.pk, "what is kept for Finn")
    page.get_by_role("button", name="Sign out").tap()
    expect(page.get_by_role("dialog")).to_contain_text("One entry has not been sent yet")
    page.get_by_role("button", name="Stay").tap()
    assert entries(people) == []
    DeviceSession.objects.all().delete()
    page.goto("/me/")
    page.wait_for_url("**/sign-in/**")
    sign_in(page)
    wait_for_entry(page, people)
    expect(page.locator("#waiting")).to_be_hidden()
    (log,) = entries(people)
    assert (log.athlete, log.effort) == (people.athlete, 7)


def test_signing_out_while_an_entry_is_being_sent_leaves_nothing_behind(
    handset: Handset, people: Cast
) -> None:
    """What was on its way comes back after the store was wiped, and must not fill it again."""
    page = handset.on()
    sign_in(page)
    wait_until_kept(page, people)
    sending: list[Route] = []
    leaving: list[Route] = []
    assert handset.context
    other = handset.context.new_page()
    other.goto("/privacy/")
    page.bring_to_front()
    page.route("**/log/", lambda route: sending.append(route))
    page.route("**/sign-out/", lambda route: leaving.append(route))
    log_today(page)
    until(page, lambda: sending, "the entry on its way")
    page.goto("/me/")
    until(page, lambda: len(sending) > 1, "the entry on its way once more")
    page.get_by_role("button", name="Sign out").tap()
    page.get_by_role("button", name="Sign out, lose it").tap()
    until(page, lambda: leaving, "the sign-out")
    sending[-1].fulfill(status=503)
    page.wait_for_timeout(1500)  # what would be kept now is not to be; a shorter time would only see less
    assert other.evaluate("async () => (await caches.keys()).length") == 0
    leaving[-1].continue_()
    page.wait_for_url("**/sign-in/**")
    assert entries(people) == []


ENDED = """async () => { const pages = await caches.open('pages'), note = await (await pages.match('/me/kept/')).json();
  await pages.put('/me/kept/', new Response(JSON.stringify({ athlete: note.athlete, zone: note.zone, stamps: {} }))); }"""


def test_a_bad_signal_takes_no_page_away_that_is_kept(
    handset: Handset, people: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The worker was ended before its note of what it has, and next time the pages don't come: the old ones stay."""
    page = handset.on()
    sign_in(page)
    wait_until_kept(page, people)
    page.evaluate(ENDED)
    monkeypatch.setattr("coaching.phone.today.render", lambda *said, **more: HttpResponse(status=503))
    page.goto("/me/paces/")
    wait_until_kept(page, people)
    handset.signal(False)
    page.goto("/me/")
    expect(page.locator(".today h1")).to_have_text("5 × 3 min at 10K pace")


def test_a_server_that_is_being_started_is_no_reason_to_show_nothing(
    handset: Handset, people: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = handset.on()
    sign_in(page)
    wait_until_kept(page, people)
    monkeypatch.setattr("coaching.phone.today.render", lambda *said, **more: HttpResponse("Away", status=503))
    page.goto("/me/")
    expect(page.locator(".today h1")).to_have_text("5 × 3 min at 10K pace")
    answer = page.goto(
        "/me/?week=2001-01-01"
    )  # of a page that was never kept the proxy's answer is all there is
    assert answer is not None
    assert answer.status == 503
