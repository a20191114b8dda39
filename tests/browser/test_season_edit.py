"""An athlete's season edited in place in a real browser: drag, arrow keys, the form beside it, undo, sending."""

from __future__ import annotations

import time
from datetime import date, timedelta
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from plans.models import Schedule, SeasonDraft, SessionIssue
from tests.browser.conftest import PHONE, Visit, drag
from tests.browser.people import Cast, cast
from tests.browser.test_every_page import look

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def people(transactional_db: None) -> Cast:
    return cast()


@pytest.fixture
def easy(people: Cast) -> SessionIssue:
    """An easy run ahead with a free day after it, in the same week or the next."""
    after = people.today + timedelta(5)
    found = SessionIssue.objects.filter(
        schedule=people.schedule, role="easy", day__gte=after, day__lte=after + timedelta(14), to_version=None
    ).order_by("day")
    return next(one for one in found if free(people, one))


def free(people: Cast, one: SessionIssue) -> bool:
    return not SessionIssue.objects.filter(
        schedule=people.schedule, day=one.day + timedelta(1), to_version=None
    ).exists()


def opened(visit: Visit, people: Cast, *args: Any, **context: Any) -> Page:
    page = visit.signed_in("marta@example.org", *args, **context)
    page.goto(f"/desk/athletes/{people.athlete.pk}/")
    return page


def cell(page: Page, day: date, people: Cast) -> Any:
    week = (day - people.schedule.weeks.earliest("first_day").first_day).days // 7 + 1
    return page.locator(f'#week-{week} .cell[data-day="{day.weekday()}"]')


def card(one: SessionIssue) -> str:
    return f"#s-{one.session_id}"


def days(people: Cast) -> int:
    return Schedule.objects.get(pk=people.schedule.pk).current_version


def test_drag_undo_and_drag_again_then_send(visit: Visit, people: Cast, easy: SessionIssue) -> None:
    page, there = opened(visit, people), easy.day + timedelta(1)
    drag(page, page.locator(card(easy)), cell(page, there, people))
    expect(cell(page, there, people).locator(card(easy))).to_be_visible()
    expect(page.get_by_text("1 change not sent yet")).to_be_visible()
    page.get_by_role("button", name="Undo the last one").click()
    expect(cell(page, easy.day, people).locator(card(easy))).to_be_visible()
    expect(page.get_by_text("not sent yet")).to_have_count(0)
    drag(page, page.locator(card(easy)), cell(page, there, people))
    expect(cell(page, there, people).locator(card(easy))).to_be_visible()
    assert days(people) == 1
    page.get_by_label("A word to Bea Lindqvist").fill("You fly on Friday.")
    page.get_by_role("button", name="Send 1 change").click()
    expect(page.get_by_text("Issued as version 2")).to_be_visible()
    assert SessionIssue.objects.get(session=easy.session_id, to_version=None).day == there
    phone = visit.signed_in("bea@example.org", PHONE)
    phone.goto("/me/")
    expect(phone.get_by_text("You fly on Friday.")).to_have_count(1)


def test_arrow_keys_move_and_keep_the_focus(visit: Visit, people: Cast, easy: SessionIssue) -> None:
    page = opened(visit, people)
    page.locator(card(easy)).focus()
    page.keyboard.press("Alt+ArrowRight")
    expect(cell(page, easy.day + timedelta(1), people).locator(card(easy))).to_be_focused()
    page.keyboard.press("Alt+ArrowLeft")
    expect(cell(page, easy.day, people).locator(card(easy))).to_be_focused()
    expect(page.get_by_text("2 changes not sent yet")).to_be_visible()
    assert len(SeasonDraft.objects.get().steps) == 2


def test_a_hand_that_is_quicker_than_the_answer(visit: Visit, people: Cast, easy: SessionIssue) -> None:
    page = opened(visit, people)
    page.route("**/move/", lambda route: (time.sleep(0.4), route.continue_()))
    page.locator(card(easy)).focus()
    for _ in range(3):
        page.keyboard.press("Alt+ArrowDown")
    expect(cell(page, easy.day + timedelta(21), people).locator(card(easy))).to_be_focused()
    expect(page.get_by_text("3 changes not sent yet")).to_be_visible()
    assert len(SeasonDraft.objects.get().steps) == 3


def test_a_day_gone_by_takes_nothing(visit: Visit, people: Cast) -> None:
    page = opened(visit, people)
    today = SessionIssue.objects.get(session=people.session_on(people.today), to_version=None)
    page.locator(card(today)).focus()
    page.keyboard.press("Alt+ArrowUp")
    expect(page.get_by_text("What lies behind is logged, not changed.")).to_be_visible()
    assert not SeasonDraft.objects.exists()


def test_type_and_be_answered_by_the_guard_rails(visit: Visit, people: Cast, easy: SessionIssue) -> None:
    page = opened(visit, people)
    page.locator(card(easy)).click()
    line = page.get_by_label("Session", exact=True)
    expect(line).to_be_focused()
    line.fill("")
    line.press_sequentially("34 km easy")
    expect(page.locator("#understood")).to_contain_text("at most in the 30 days before")
    line.fill("7 km easy with 4 x 20 s strides")
    expect(page.locator("#understood")).to_contain_text("Its week:")
    page.get_by_role("button", name="Save the change").click()
    expect(page.locator(card(easy))).to_contain_text("not sent")
    expect(page.locator("#pane")).to_be_empty()
    expect(page.locator(card(easy))).to_be_focused()
    # It outlives the browser.
    again = opened(visit, people)
    expect(again.get_by_text("1 change not sent yet")).to_be_visible()
    again.get_by_role("button", name="Drop it").click()
    expect(again.get_by_text("not sent yet")).to_have_count(0)


def test_log_what_was_told_on_a_call(visit: Visit, people: Cast) -> None:
    page = opened(visit, people)
    key = people.session_on(people.today - timedelta(1))
    page.locator(f"#s-{key}").click()
    page.get_by_label("Missed", exact=True).check()
    page.get_by_label("no time", exact=True).check()
    page.get_by_role("button", name="Log it for Bea Lindqvist").click()
    expect(page.locator(f"#s-{key} .state")).to_have_text("missed")
    expect(page.locator("#pane")).to_be_empty()


def test_without_javascript(visit: Visit, people: Cast, easy: SessionIssue) -> None:
    page = opened(visit, people, java_script_enabled=False)
    page.locator(card(easy)).click()
    page.get_by_label("Session", exact=True).fill("5 km easy")
    page.get_by_role("button", name="Save the change").click()
    expect(page.locator(card(easy))).to_contain_text("5 km easy")
    page.locator(card(easy)).click()
    page.get_by_role("button", name="A day later").click()
    expect(cell(page, easy.day + timedelta(1), people).locator(card(easy))).to_be_visible()
    page.get_by_role("button", name="Undo the last one").click()
    page.get_by_role("button", name="Send 1 change").click()
    expect(page.get_by_text("Issued as version 2")).to_be_visible()


def test_a_draft_and_an_open_form_are_for_everybody(visit: Visit, people: Cast, easy: SessionIssue) -> None:
    """Axe in light and dark with changes waiting, guard rails broken and the form open; nothing too wide."""
    page = opened(visit, people)
    page.locator(card(easy)).click()
    page.get_by_label("Session", exact=True).fill("34 km easy")
    page.get_by_role("button", name="Save the change").click()
    expect(page.get_by_text("Once sent, re-balancing would")).to_be_visible()
    page.locator(card(easy)).click()
    expect(page.get_by_label("Session", exact=True)).to_be_focused()
    assert look(page, "season with a draft", PHONE["width"]) == []
    for path in (
        f"/desk/athletes/{people.athlete.pk}/health/",
        f"/desk/athletes/{people.athlete.pk}/runs/",
        f"/desk/sessions/{people.session_on(people.today - timedelta(1))}/log/",
        f"/desk/schedules/{people.schedule.pk}/sessions/{easy.session_id}/",
        f"/desk/schedules/{people.schedule.pk}/sessions/",
    ):
        page.goto(path)
        assert look(page, path, PHONE["width"]) == []


def test_on_a_phone(visit: Visit, people: Cast, easy: SessionIssue) -> None:
    page = opened(visit, people, PHONE)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.locator(card(easy)).tap()
    page.get_by_label("Session", exact=True).fill("5 km easy")
    page.get_by_role("button", name="Save the change").tap()
    expect(page.locator(card(easy))).to_contain_text("5 km easy")
    page.get_by_role("button", name="Send 1 change").tap()
    expect(page.get_by_text("Issued as version 2")).to_be_visible()
