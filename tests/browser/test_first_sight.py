"""What is seen without scrolling, with the demo club; and the README's three pictures (`make pictures`)."""

from __future__ import annotations

import os
import subprocess
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from playwright.sync_api import expect
from pypdf import PdfReader

from athletes.models import Athlete
from coaching.demo import club
from coaching.demo.people import PASSWORD
from plans import jobs
from plans.handouts import make_page
from plans.reading import week_of
from tests.browser.conftest import DESK, PHONE, Visit
from tests.factories import AthleteFactory

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(bool(settings.REDIS_URL), reason="pages look the same on either database"),
]
PICTURES = Path(os.environ.get("PICTURES") or settings.DATA_DIR / "pictures")


@pytest.fixture
def demo_club(transactional_db: None) -> None:
    PICTURES.mkdir(parents=True, exist_ok=True)
    club.load(lambda line: None)
    for pk in jobs.due_jobs():
        jobs.run(pk)


WHOLE_ROWS = """() => [...document.querySelectorAll(".roster tbody tr:not(.head)")].filter((row) => {
  const box = row.getBoundingClientRect(), under = document.querySelector(".roster .cols th").getBoundingClientRect().bottom;
  return box.top >= under - 1 && box.bottom <= innerHeight;
}).length"""

TOO_SMALL = """() => [...document.querySelectorAll(".top a, .top input, .top select, .top button, .roster a, .roster label")]
  .map((one) => [one.textContent.trim(), one.getBoundingClientRect()])
  .filter(([words, box]) => box.width && box.height && (box.width < 24 || box.height < 24)).map(([words]) => words)"""


def test_how_many_athletes_stand_on_one_screen(demo_club: None, visit: Visit) -> None:
    """Forty at first sight at 1280 x 1000, and no two targets nearer than WCAG 2.2 (2.5.8) lets them be: 24 px."""
    page = visit.signed_in("coach@example.org", DESK, PASSWORD)
    page.goto("/desk/")
    page.screenshot(path=PICTURES / "roster.png")
    assert page.locator(".roster tbody tr:not(.head)").count() == 24
    for n in range(60):
        AthleteFactory(name=f"Zora {n:02}", user=None)
    page.goto("/desk/?q=zora")
    assert page.evaluate(WHOLE_ROWS) >= 40
    assert page.evaluate(TOO_SMALL) == []
    page.evaluate("scrollTo(0, 150)")
    assert page.evaluate(WHOLE_ROWS) >= 40
    Athlete.objects.filter(name="Kira Dunmore").update(name="Konstantinopolitanisch Vandersmoot-Achterberg")
    page.goto("/desk/")
    assert page.evaluate("document.documentElement.scrollWidth") == DESK["width"]
    expect(page.get_by_title("Konstantinopolitanisch Vandersmoot-Achterberg")).to_be_visible()


def test_the_phone_shows_today_and_its_button_without_scrolling(demo_club: None, visit: Visit) -> None:
    page = visit.signed_in("athlete@example.org", PHONE, PASSWORD)
    page.goto("/me/")
    expect(page.locator(".today h1").first).to_be_in_viewport()
    button = page.get_by_role("link", name="Done as planned").first
    expect(button).to_be_in_viewport(ratio=1)
    box = button.bounding_box()
    assert box is not None
    assert box["height"] >= 44
    page.screenshot(path=PICTURES / "phone.png")


def test_the_handout_is_one_page(demo_club: None) -> None:
    athlete = Athlete.objects.get(name="Bea Lindqvist")
    path = make_page(athlete, week_of(athlete.today(), 0) + timedelta(7))
    assert path is not None
    assert len(PdfReader(path).pages) == 1
    out = PICTURES / "handout"
    subprocess.run(
        ["pdftoppm", "-png", "-r", "80", "-singlefile", str(path), str(out)], check=True, timeout=30
    )
    assert (PICTURES / "handout.png").stat().st_size > 20_000
