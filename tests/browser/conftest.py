"""A real Chromium against the live site. Any breach of the content policy, any request to another host and any
error in a page fails the test that caused it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from playwright.sync_api import Browser, Locator, Page, Playwright, expect, sync_playwright
from playwright.sync_api import TimeoutError as LateError

from coaching.celery import app
from tests.factories import PASSWORD

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-dev-shm-usage",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
PATIENCE = 30_000
"""How long a state is waited for, in ms: a busy machine is slow, and a phone tries again after 4 s, then 8."""
expect.set_options(timeout=PATIENCE)
DESK = {"width": 1280, "height": 1000}
PHONE = {"width": 390, "height": 844}
PICTURES = Path(os.environ.get("PICTURES", ""))

# One queue of this run's own. Celery keeps the first it hears of, so it is named before anything is sent.
app.conf.task_default_queue = f"test-{uuid.uuid4()}"


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as running:
        yield running


@pytest.fixture(scope="session")
def browser(playwright: Playwright) -> Iterator[Browser]:
    chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield chromium
    chromium.close()


class Visit:
    """Opens pages for people and remembers what went wrong in them."""

    def __init__(self, browser: Browser, base: str) -> None:
        self.browser, self.base = browser, base
        self.faults: list[str] = []
        self.contexts: list[Any] = []

    def page(self, viewport: dict[str, int] = DESK, **context: Any) -> Page:
        touch = {"has_touch": True, "is_mobile": True} if viewport == PHONE else {}
        made = self.browser.new_context(viewport=viewport, base_url=self.base, **touch, **context)  # type: ignore[arg-type]
        made.set_default_timeout(PATIENCE)
        self.contexts.append(made)
        page = made.new_page()
        page.on("console", self._heard)
        page.on("pageerror", lambda error: self.faults.append(f"error in the page: {error}"))
        page.on("request", self._asked)
        return page

    def signed_in(
        self, email: str, viewport: dict[str, int] = DESK, password: str = PASSWORD, **context: Any
    ) -> Page:
        page = self.page(viewport, **context)
        page.goto("/sign-in/")
        page.locator("[name=username]").fill(email)
        page.locator("[name=password]").fill(password)
        page.get_by_role("button", name="Sign in").click()
        try:
            page.wait_for_url(lambda url: "sign-in" not in url)
        except LateError as late:
            raise AssertionError(
                f"not signed in; the page says: {page.locator('main').inner_text()}"
            ) from late
        return page

    def _heard(self, message: Any) -> None:
        if "Content Security Policy" in message.text or "Content-Security-Policy" in message.text:
            self.faults.append(message.text)

    def _asked(self, request: Any) -> None:
        if not request.url.startswith(
            (self.base, "data:", "blob:", "about:", "chrome-extension:", "chrome:")
        ):
            self.faults.append(f"asked another host: {request.url}")

    def close(self) -> None:
        for context in self.contexts:
            context.close()


def drag(page: Page, card: Locator, cell: Locator) -> None:
    """Take a card of the board to a cell and let go there once the cell says that it would take it.

    Playwright's own drag lets go at once: a busy browser has not yet answered the last move and drops nothing.
    """
    card.hover()
    page.mouse.down()
    cell.hover()
    cell.hover()  # the first move begins the drag, the second is over the cell
    expect(cell).to_have_class(re.compile(r"\bover\b"))
    page.mouse.up()


@pytest.fixture
def visit(browser: Browser, live_server: Any) -> Iterator[Visit]:
    visitor = Visit(browser, live_server.url)
    yield visitor
    visitor.close()
    assert visitor.faults == []


@pytest.fixture
def worker(transactional_db: None) -> Iterator[Callable[[], Any]]:
    """Starts a worker as this set-up has it: a thread of this process, or a separate Celery process on Redis."""
    started: list[Any] = []

    def start() -> Any:
        one = RedisWorker() if settings.REDIS_URL else ThreadWorker()
        started.append(one)
        return one

    app.control.purge()  # what earlier tests sent would be carried out first
    yield start
    for one in started:
        one.stop()


class ThreadWorker:
    def __init__(self) -> None:
        from celery.contrib.testing.worker import start_worker

        self.running = start_worker(
            app, pool="threads", concurrency=1, perform_ping_check=False, shutdown_timeout=30
        )
        self.running.__enter__()

    def stop(self) -> None:
        self.running.__exit__(None, None, None)


class RedisWorker:
    """A Celery worker of its own on the test's database and queue."""

    def __init__(self) -> None:
        database = connection.settings_dict
        url = (
            f"postgres://{database['USER']}@{database['HOST']}:{database['PORT'] or 5432}/{database['NAME']}"
        )
        self.name = f"{uuid.uuid4()}@test"
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "celery", "-A", "coaching", "worker", "--concurrency", "1"),
                *("-n", self.name, "-Q", app.conf.task_default_queue, "--loglevel", "WARNING"),
                *("--without-mingle", "--without-gossip"),
            ],
            env={**os.environ, "DATABASE_URL": url, "DATA_DIR": os.environ["DATA_DIR"]},
            start_new_session=True,
        )
        self._wait_until_ready()

    def _wait_until_ready(self) -> None:
        deadline = time.monotonic() + 30
        while time.monotonic() < deadline:
            if app.control.inspect([self.name], timeout=0.5).active_queues():
                return
            assert self.process.poll() is None, "the worker ended at once"
        raise AssertionError("the worker did not come up in 30 s")

    def kill(self) -> None:
        """kill -9: the worker and its children, as a power cut would."""
        os.killpg(self.process.pid, 9)
        self.process.wait()

    def stop(self) -> None:
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait(timeout=30)
