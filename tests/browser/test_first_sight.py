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


def test_a_row_of_the_roster_is_low(demo_club: None, visit: Visit) -> None:
    """At most 26 px where there is nothing to say: some thirty athletes on 1000 px (24 px a target, WCAG 2.2)."""
    page = visit.signed_in("coach@example.org", DESK, PASSWORD)
    page.goto("/desk/")
    rows = page.locator(".roster tbody tr:not(.head)")
    assert rows.count() == 24
    heights = sorted(box["height"] for row in rows.all() if (box := row.bounding_box()))
    assert heights[len(heights) // 2] <= 26
    page.screenshot(path=PICTURES / "roster.png")


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
