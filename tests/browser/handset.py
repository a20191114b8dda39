"""A phone that is switched off and on again, with signal and without; and what is done with it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import BrowserContext, Page, Playwright

from plans.models import Log
from tests.browser.conftest import CHROMIUM, FLAGS, PATIENCE, PHONE
from tests.browser.people import Cast
from tests.factories import PASSWORD

# A proxy that is not there, for this machine's own addresses too: the worker's requests fail as the page's do.
NO_NETWORK = ["--proxy-server=127.0.0.1:9", "--proxy-bypass-list=<-loopback>"]

KEPT = """async (url) => { const pages = await caches.open('pages'), note = await pages.match('/me/kept/');
  return !!note && (await note.json()).whole && !!(await pages.match(url)); }"""


class Handset:
    """A browser with a folder of its own, that can be switched off and on again."""

    def __init__(self, playwright: Playwright, folder: Path, base: str) -> None:
        self.playwright, self.folder, self.base = playwright, folder, base
        self.context: BrowserContext | None = None

    def on(self, *, signal: bool = True) -> Page:
        self.context = self.playwright.chromium.launch_persistent_context(
            str(self.folder),
            executable_path=CHROMIUM,
            args=FLAGS if signal else [*FLAGS, *NO_NETWORK],
            viewport=PHONE,  # type: ignore[arg-type]
            has_touch=True,
            is_mobile=True,
            base_url=self.base,
        )
        self.context.set_default_timeout(PATIENCE)
        return self.context.pages[0] if self.context.pages else self.context.new_page()

    def signal(self, there: bool) -> None:
        assert self.context
        self.context.set_offline(not there)

    def off(self) -> None:
        if self.context:
            self.context.close()
            self.context = None


def sign_in(page: Page, email: str = "bea@example.org") -> None:
    page.goto("/sign-in/")
    page.locator("[name=username]").fill(email)
    page.locator("[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda url: urlsplit(url).path == "/me/")


def until(page: Page, found: Callable[[], Any], what: str) -> None:
    """Waits for a state that no page shows; the page goes on meanwhile."""
    for _ in range(300):
        if found():
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"{what} did not come within 30 s")


def wait_until_kept(page: Page, people: Cast) -> None:
    """The worker has the log page of today's session, and has come to an end."""
    log = f"/me/sessions/{people.session_on(people.today)}/log/?how=done"
    until(page, lambda: page.evaluate(KEPT, log), "what is kept")


def log_today(page: Page, effort: int = 7) -> None:
    page.get_by_role("link", name="Done as planned").tap()
    page.get_by_role("button", name=re.compile(f"^{effort} ")).tap()


def entries(people: Cast) -> list[Log]:
    return list(Log.objects.filter(session_id=people.session_on(people.today)))


def wait_for_entry(page: Page, people: Cast) -> None:
    until(page, lambda: entries(people), "the entry")
