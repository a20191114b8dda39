"""Every page of the phone: no barrier that axe knows in light and dark, targets of 44 px, nothing wider than the
screen with letters of twice the size, nothing that moves, the first view under 60 kB, all of it by keyboard and
without JavaScript. Every page: the list is held against the URL configuration."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import resolve
from playwright.sync_api import Page, expect

from coaching.phone.welcome import STEPS
from plans.models import Log, Message
from tests.browser.conftest import PHONE, Visit
from tests.browser.people import Cast, cast
from tests.everybody import routes

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BUDGET = 60_000
SMALL = """() => [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')]
  .filter((one) => one.checkVisibility({ opacityProperty: true }) && !one.classList.contains('skip'))
  .map((one) => [one, (one.closest('label') || one).getBoundingClientRect(), one.closest('li')?.querySelector('a') === one ? one.closest('li').getBoundingClientRect() : null])
  .filter(([one, own, row]) => Math.max(own.height, row ? row.height : 0) < 43.5 && !(one.closest('p, h1') && !one.matches('.more, button')))
  .map(([one, own]) => `${one.outerHTML.slice(0, 90)}: ${own.width} x ${own.height}`)"""


# Under /me/, and nothing that is looked at: what is only sent, files, and what the worker fetches.
NOT_PAGES = {
    *("my-messages-read", "session-say", "entry-take-back", "all-as-planned", "my-time-off-free"),
    *("my-race-splits", "my-leave", "my-erase"),
    *("my-card", "my-handout", "my-season", "my-race-pdf", "my-export"),
    *("phone-keep", "phone-worker", "manifest"),
}
MOVING = """() => [...document.querySelectorAll('*')].filter((one) => { const css = getComputedStyle(one);
  return [css.transitionDuration, css.animationDuration].some((all) => all.split(',').some((each) => parseFloat(each) > 0.01)); })
  .map((one) => one.outerHTML.slice(0, 90))"""


def addresses(people: Cast) -> list[str]:
    today = f"/me/sessions/{people.session_on(people.today)}/"
    past = f"/me/sessions/{people.session_on(people.today - timedelta(1))}/"
    return [
        "/me/",
        f"/me/?week={people.schedule.first_day}",
        "/me/plan/",
        "/me/paces/",
        today,
        past,
        f"{today}effort/?air=28&humidity=60",
        f"{today}log/?how=done",
        f"{today}log/?how=different",
        "/me/runs/",
        f"/me/runs/{people.athlete.logs.get(session=None).pk}/",
        "/me/runs/file/",
        "/me/runs/history/",
        "/me/time-off/",
        "/me/unwell/",
        "/me/not-kept/",
        "/me/messages/",
        "/me/results/",
        "/me/race/",
        f"/me/race/{people.schedule.race_entry_id}/",
        "/me/profile/",
        "/me/profile/about/",
        "/me/profile/days/",
        "/me/profile/calendar/",
        "/me/profile/data/",
        *(f"/me/welcome/{step}/" for step in STEPS),
        # not under /me/, and an athlete's all the same
        "/account/",
        "/account/address/",
        "/account/password/",
        "/account/passkeys/",
        "/privacy/",
    ]


@pytest.fixture
def people() -> Cast:
    """With something on every page: an entry corrected, words, days off, a hold."""
    people = cast()
    past = people.session_on(people.today - timedelta(1))
    common = {"athlete": people.athlete, "session_id": past, "day": people.today, "time_zone": "UTC"}
    new = Log.objects.create(
        **common, received_at="2026-01-02T00:00Z", outcome="cut", distance_mm=4_000_000, effort=6
    )
    Log.objects.create(**common, received_at="2026-01-01T00:00Z", outcome="done", replaced_by=new)
    for by_coach in (True, False):
        Message.objects.create(
            athlete=people.athlete,
            session_id=past,
            author_name="Marta Quill",
            by_coach=by_coach,
            words="Hm.",
            at="2026-01-01T00:00Z",
        )
    people.athlete.time_off.create(
        first_day=people.today, last_day=people.today + timedelta(2), kind="travel"
    )
    people.athlete.health_notes.create(kind="easy", cause="pain", opened=people.today)
    outside = {"day": people.today, "time_zone": "UTC", "outcome": "other", "distance_mm": 5_000_000}
    Log.objects.create(athlete=people.athlete, received_at="2026-01-01T00:00Z", **outside)
    return people


def test_no_page_of_the_phone_is_forgotten(people: Cast) -> None:
    there = {route.name for route in routes() if route.path.startswith("me/")}
    seen = {resolve(urlsplit(address).path).url_name for address in addresses(people)}
    assert there - seen == NOT_PAGES


def test_no_page_puts_up_a_barrier(visit: Visit, people: Cast) -> None:
    """WCAG 2.2 AA as far as axe sees it, in light and dark; targets by WCAG 2.5.5; reflow at 390 and 320 px (1.4.10);
    letters of twice the size (1.4.4); nothing moves for whoever wants it still."""
    page = visit.signed_in("bea@example.org", PHONE, service_workers="block", reduced_motion="reduce")
    axe, found = Axe(), []
    for address in addresses(people):
        answer = page.goto(address)
        assert answer is not None
        assert answer.status == 200, address
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            result = axe.run(
                page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"]}
            )
            found += [
                f"{address} {scheme}: {one['id']} {[node['target'] for node in one['nodes']]}"
                for one in result.response["violations"]
            ]
        found += [f"{address}: {small}" for small in page.evaluate(SMALL)]
        found += [f"{address}: moves: {one}" for one in page.evaluate(MOVING)]
        for width, letters in ((390, 100), (320, 100), (390, 200)):
            page.set_viewport_size({"width": width, "height": 844})
            page.evaluate(f"document.documentElement.style.fontSize = '{letters}%'")
            wide = page.evaluate("document.documentElement.scrollWidth")
            if wide > width:
                found.append(f"{address}: {wide} px wide on a screen of {width}, letters of {letters} %")
    assert found == []


def wire(page: Page, address: str) -> tuple[int, dict[str, int]]:
    """Bytes that came over the wire for a first view, as Chromium counts them."""
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.clearBrowserCache")
    names: dict[str, str] = {}
    sizes: dict[str, int] = {}
    session.on("Network.requestWillBeSent", lambda e: names.update({e["requestId"]: e["request"]["url"]}))
    session.on(
        "Network.loadingFinished",
        lambda e: sizes.update({names.get(e["requestId"], e["requestId"]): int(e["encodedDataLength"])}),
    )
    page.goto(address, wait_until="networkidle")
    return sum(sizes.values()), sizes


@pytest.mark.parametrize(
    "first", ["/me/", "/me/plan/", "/me/paces/", "/me/messages/", "/me/profile/", "session", "log"]
)
def test_the_first_view_is_under_sixty_kilobytes(visit: Visit, people: Cast, first: str) -> None:
    """Not even compressed: html, css, js and icons as the test server sends them. Whichever page is the first."""
    session = f"/me/sessions/{people.session_on(people.today)}/"
    page = visit.signed_in("bea@example.org", PHONE, service_workers="block")
    total, sizes = wire(page, {"session": session, "log": f"{session}log/?how=different"}.get(first, first))
    assert any(".css" in url for url in sizes)
    assert any("phone.js" in url for url in sizes)
    assert total < BUDGET, sizes


def test_today_is_logged_by_keyboard_alone(visit: Visit, people: Cast) -> None:
    page = visit.signed_in("bea@example.org", PHONE, service_workers="block")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page")).to_be_focused()
    tab_to(page, page.get_by_role("link", name="Done as planned"))
    page.keyboard.press("Enter")
    page.wait_for_url("**/log/?how=done")
    tab_to(page, page.locator("button[name=effort][value='6']"))
    page.keyboard.press("Enter")
    expect(page.get_by_text("Logged.")).to_be_visible()
    assert Log.objects.get(session_id=people.session_on(people.today)).effort == 6


def tab_to(page: Page, locator: Any) -> None:
    for _ in range(60):
        page.keyboard.press("Tab")
        if locator.evaluate("(one) => one === document.activeElement"):
            return
    raise AssertionError("not reached by sixty tabs")


def test_it_works_without_javascript(visit: Visit, people: Cast) -> None:
    page = visit.signed_in("bea@example.org", PHONE, java_script_enabled=False)
    page.get_by_role("link", name="Done as planned").click()
    page.get_by_role("button", name="Done, without a number").click()
    expect(page.get_by_text("Logged.")).to_be_visible()
    assert Log.objects.get(session_id=people.session_on(people.today)).outcome == "done"


def test_no_page_needs_javascript(visit: Visit, people: Cast) -> None:
    """Each says what it is, and each of its forms has a button to send it with."""
    page, found = visit.signed_in("bea@example.org", PHONE, java_script_enabled=False), []
    for address in addresses(people):
        page.goto(address)
        if page.locator("h1:visible").count() != 1:
            found.append(f"{address}: {page.locator('h1:visible').count()} headings")
        forms = page.locator("form")
        if forms.count() != forms.filter(has=page.locator("button:visible, summary:visible")).count():
            found.append(f"{address}: a form without a button")
    assert found == []


@pytest.mark.parametrize(
    ("address", "said"), [("/me/runs/file/", "bigger than 10 MB"), ("/me/runs/history/", "At most 1 MB")]
)
def test_a_file_too_big_is_said_before_it_is_sent(
    visit: Visit, people: Cast, tmp_path: Path, address: str, said: str
) -> None:
    """40 MB, which a proxy may cut off without a word that an athlete understands."""
    big = tmp_path / "run.gpx"
    big.write_bytes(b"x" * 40_000_000)
    page, sent = visit.signed_in("bea@example.org", PHONE, service_workers="block"), []
    page.goto(address)
    page.on("request", lambda request: sent.append(request.url) if request.method == "POST" else None)
    page.locator("input[type=file]").set_input_files(big)
    page.get_by_role("button", name="Read it").tap()
    expect(page.get_by_role("status")).to_contain_text(said)
    assert sent == []
    big.write_bytes(b"")
    page.locator("input[type=file]").set_input_files(big)
    page.get_by_role("button", name="Read it").tap()
    expect(page.get_by_text("This file is empty.")).to_be_visible()
