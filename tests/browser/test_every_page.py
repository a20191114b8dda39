"""Every page that links lead to, with the demo club: opened wide and narrow, light and dark.

One example of each address. A page fails when it does not answer, has a link to a place on it that is not there,
breaks the content policy, asks another host, scrolls sideways on a phone, or when axe (WCAG 2.2 A and AA) finds fault
with it. With PICTURES set to a folder, a picture of each is kept there.
"""

from __future__ import annotations

import os
from collections import deque
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.urls import Resolver404, resolve
from playwright.sync_api import Page

from coaching.demo import club
from coaching.demo.people import PASSWORD
from plans import jobs
from tests.browser.conftest import DESK, PHONE, Visit

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(bool(settings.REDIS_URL), reason="pages look the same on either database"),
]
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}
NOT_PAGES = (
    ".pdf",
    ".zip",
    ".ics",
    ".csv",
    ".yaml",
    ".json",
    ".js",
    ".webmanifest",
    ".gpx",
    "/file/",
    "/sign-out/",
)
LEADS_NOWHERE = """() => [...document.querySelectorAll('a[href^="#"]')].map((one) => one.getAttribute("href"))
  .filter((href) => href.length > 1 && !document.getElementById(href.slice(1)))"""
PICTURES = os.environ.get("PICTURES", "")


@pytest.fixture
def demo_club(transactional_db: None) -> None:
    club.load(lambda line: None)
    for pk in jobs.due_jobs():
        jobs.run(pk)


def test_the_desk(demo_club: None, visit: Visit) -> None:
    page = visit.signed_in("coach@example.org", DESK, PASSWORD)
    seen, faults = walk(page, "/desk/", "/desk/", PHONE["width"])
    assert not faults, "\n".join(faults)
    assert {"roster", "athlete", "templates", "template", "proposals", "proposal", "handouts"} <= seen


def test_the_phone(demo_club: None, visit: Visit) -> None:
    page = visit.signed_in("athlete@example.org", PHONE, PASSWORD)
    seen, faults = walk(page, "/me/", "/me/", PHONE["width"])
    assert not faults, "\n".join(faults)
    assert {"today", "my-plan", "my-paces", "my-session", "log"} <= seen


def test_the_doors(demo_club: None, visit: Visit) -> None:
    page = visit.page(PHONE)
    faults = []
    for path in ("/sign-in/", "/no-such-page/"):
        page.goto(path)
        faults += look(page, path, PHONE["width"])
    assert not faults, "\n".join(faults)


def walk(page: Page, start: str, under: str, narrow: int) -> tuple[set[str], list[str]]:
    """Breadth first, one example of each address. The names seen and the faults found."""
    waiting, seen, faults = deque([start]), set[str](), list[str]()
    while waiting:
        path = waiting.popleft()
        try:
            name = resolve(urlsplit(path).path).url_name or path
        except Resolver404:
            faults.append(f"{path}: a link that leads nowhere")
            continue
        if name in seen:
            continue
        seen.add(name)
        answer = page.goto(path)
        if answer is None or answer.status != 200:
            faults.append(f"{path}: answered {answer and answer.status}")
            continue
        if not answer.headers.get("content-type", "").startswith("text/html"):
            continue  # a PDF or another file: the browser's own viewer is not ours to judge
        faults += look(page, name, narrow)
        faults += [f"{path}: nothing on the page is called {one}" for one in page.evaluate(LEADS_NOWHERE)]
        links: list[str] = page.eval_on_selector_all("a[href]", "all => all.map(a => a.getAttribute('href'))")
        waiting.extend(
            link for link in links if link.startswith(under) and not any(part in link for part in NOT_PAGES)
        )
    return seen, faults


def look(page: Page, name: str, narrow: int) -> list[str]:
    """Axe in light and dark, and no sideways scrolling when narrow."""
    faults = []
    wide = page.viewport_size
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        found = Axe().run(page, options=RULES).response["violations"]
        faults += [f"{name}, {scheme}: {v['id']}: {v['nodes'][0]['html'][:120]}" for v in found]
        keep(page, f"{name}-{scheme}")
    page.set_viewport_size({"width": narrow, "height": 844})
    over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    if over > 1:
        faults.append(f"{name}: {over} px wider than a phone of {narrow} px")
    keep(page, f"{name}-{narrow}")
    page.emulate_media(color_scheme="light")
    if wide:
        page.set_viewport_size(wide)
    return faults


def keep(page: Page, name: str) -> None:
    if PICTURES:
        Path(PICTURES).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=f"{PICTURES}/{name}.png", full_page=True)
