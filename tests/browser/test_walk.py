"""The main job, end to end, on this set-up: SQLite with the worker in a thread, or PostgreSQL, Redis and a worker
process of its own."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from plans.models import Job, Log, Proposal, ScheduleVersion, SessionIssue
from plans.models.template import store
from plans.training.template_file import read_template
from tests.browser.conftest import PHONE, Visit
from tests.browser.people import Cast, cast
from tests.factories import AthleteFactory, coaches

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LIBRARY = Path(__file__).parents[2] / "plans" / "library"


def test_the_main_job(visit: Visit, worker: Callable[[], Any]) -> None:
    people = cast()
    worker()
    desk = visit.signed_in("marta@example.org")
    assign_a_season(desk, people)
    phone = visit.signed_in("bea@example.org", PHONE)
    log_three_sessions(phone, people)
    accept_what_follows(desk, phone, people)
    fetch_the_handouts(desk, people)


def assign_a_season(desk: Page, people: Cast) -> None:
    """Read a template, fit it to somebody new, see the dates and the paces, issue it."""
    store(read_template((LIBRARY / "half-marathon-12-weeks-4-days.yaml").read_text()))
    carys = AthleteFactory(name="Carys Moyle", declared_weekly_mm=0, declared_longest_mm=0)
    coaches(people.coach, carys)
    desk.get_by_role("link", name="Templates").click()
    desk.get_by_role("link", name=re.compile("Half marathon in 12 weeks on four")).click()
    expect(desk.get_by_text("Week 12", exact=True)).to_be_visible()
    desk.get_by_label("Assign it to").select_option("Carys Moyle")
    desk.get_by_role("button", name="Fit it").click()
    race = people.today + timedelta(12 * 7 + (6 - people.today.weekday()))
    for label, value in {
        "Race": "Two Piers Half",
        "Race day": race.isoformat(),
        "Usual week": "32 km",
        "Longest run": "12 km",
        "Result over": "5 km",
        "Result time": "23:10",
        "Run on": (people.today - timedelta(20)).isoformat(),
    }.items():
        desk.get_by_label(label, exact=label in ("Race", "Race day")).fill(value)
    for day, minutes in {"Mon": 0, "Tue": 90, "Wed": 0, "Thu": 90, "Fri": 0, "Sat": 75, "Sun": 180}.items():
        desk.get_by_label(day, exact=True).fill(str(minutes))
    for question in desk.locator(".asked fieldset").all():
        question.get_by_label("no", exact=True).check()
    desk.get_by_role("button", name="Show the schedule").click()
    expect(desk.get_by_role("heading", name=re.compile("^The schedule"))).to_be_visible()
    desk.get_by_role("button", name="Issue it to Carys Moyle").click()
    expect(desk.get_by_role("heading", name="Carys Moyle")).to_be_visible()
    expect(
        desk.get_by_role("row", name=re.compile("^5K")).get_by_text(re.compile(r"4:3\d–4:4\d/km"))
    ).to_be_visible()
    assert SessionIssue.objects.filter(schedule__athlete=carys, role="race", day=race).count() == 1


def log_three_sessions(phone: Page, people: Cast) -> None:
    """Today's in two taps; yesterday's cut short; the long run missed with a reason."""
    expect(phone.locator(".today h1")).to_have_text("5 × 3 min at 10K pace")
    phone.locator(".today h1 a").click()
    expect(phone.locator(".steps")).to_contain_text("5 × 3 min")
    expect(phone.locator(".steps")).to_contain_text(re.compile(r"4:4\d–4:5\d/km"))
    phone.get_by_role("link", name="Today", exact=True).click()
    phone.get_by_role("link", name="Done as planned").tap()
    phone.get_by_role("button", name=re.compile("^7")).tap()
    expect(phone.get_by_text("Logged.")).to_be_visible()
    log = Log.objects.get(session_id=people.session_on(people.today))
    assert (log.outcome, log.effort) == ("done", 7)

    open_log(phone, people, 1)
    phone.locator("label", has_text=re.compile("^Cut short$")).tap()
    phone.locator("[name=distance]").fill("4.2 km")
    phone.locator("[name=moving]").fill("26:10")
    phone.locator(".effort label", has_text=re.compile("^6$")).tap()
    phone.get_by_role("button", name="Save").tap()
    expect(phone.get_by_text("Logged.")).to_be_visible()
    cut = Log.objects.get(session_id=people.session_on(people.today - timedelta(1)))
    assert (cut.outcome, cut.distance_mm, cut.moving_s, cut.effort) == ("cut", 4_200_000, 1570, 6)

    open_log(phone, people, 2)
    phone.locator("label", has_text=re.compile("^Missed$")).tap()
    phone.locator("label", has_text=re.compile("^travel$")).tap()
    phone.get_by_role("button", name="Save").tap()
    expect(phone.get_by_text("Noted.")).to_be_visible()


def open_log(phone: Page, people: Cast, days_ago: int) -> None:
    session = people.session_on(people.today - timedelta(days_ago))
    phone.goto(f"/me/sessions/{session}/")
    phone.get_by_role("link", name="Something different").tap()


def accept_what_follows(desk: Page, phone: Page, people: Cast) -> None:
    """The worker proposes; the coach reads why, accepts; the phone shows it; the coach undoes it."""
    assert Job.objects.filter(kind="rebalance", athlete=people.athlete).exists()
    wait_for(desk, lambda: Proposal.objects.filter(schedule=people.schedule, state="open").exists())
    wait_for(
        desk, lambda: not Job.objects.filter(kind="rebalance", state__in=["waiting", "running"]).exists()
    )
    desk.goto("/desk/proposals/")
    desk.get_by_role("link", name="Bea Lindqvist").first.click()
    change = Proposal.objects.get(schedule=people.schedule, state="open").changes.first()
    assert change is not None
    expect(desk.get_by_text(change.sentence).first).to_be_visible()
    desk.get_by_role("button", name=re.compile("^Accept")).first.click()
    expect(desk.get_by_text("Issued as version 2").first).to_be_visible()
    phone.goto("/me/")
    expect(phone.get_by_text("Changed").first).to_be_visible()
    desk.get_by_role("button", name=re.compile("^Undo")).click()
    expect(desk.get_by_text("issued again as version 3").first).to_be_visible()
    assert list(
        ScheduleVersion.objects.filter(schedule=people.schedule).values_list("number", flat=True)
    ) == [1, 2, 3]
    first, now = SessionIssue.objects.at(1), SessionIssue.objects.at(3)  # type: ignore[attr-defined]
    content = ("session", "day", "slot", "steps", "planned_mm", "removed")
    ahead = {"schedule": people.schedule, "day__gte": people.today}
    assert set(first.filter(**ahead).values_list(*content)) == set(now.filter(**ahead).values_list(*content))


def wait_for(page: Page, is_true: Callable[[], bool], seconds: float = 20) -> None:
    for _ in range(int(seconds * 10)):
        if is_true():
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"still not so after {seconds} s")


def fetch_the_handouts(desk: Page, people: Cast) -> None:
    """Next week on paper: a bar that grows, one PDF, a page an athlete, readable back."""
    desk.get_by_role("link", name="Handouts").click()
    desk.get_by_role("button", name="Make the handouts").click()
    expect(desk.get_by_role("progressbar").or_(desk.get_by_text("The file is ready"))).to_be_visible()
    link = desk.get_by_role("link", name="Download the PDF")
    expect(link).to_be_visible(timeout=30_000)
    with desk.expect_download() as waiting:
        link.click()
    pages = [page.extract_text() for page in PdfReader(BytesIO(waiting.value.path().read_bytes())).pages]
    assert len(pages) == 2
    bea = next(text for text in pages if "Bea Lindqvist" in text)
    assert "Saltmarsh Marathon" in bea
    assert "5 × 3 min at 10K pace" in bea
    assert re.search(r"4:4\d\D+4:5\d", bea)
    assert any("Carys Moyle" in text for text in pages)
