"""The template board in a real browser: drag, arrow keys, the form beside the board, and no JavaScript at all."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from plans.models import Template
from tests.browser.conftest import PHONE, Visit, drag
from tests.factories import CoachFactory, UserFactory, template_version

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
EASY = "00000000-0000-4000-8000-000000000003"  # week 1, Thursday: 8 km easy


@pytest.fixture
def template() -> Template:
    CoachFactory(user=UserFactory(name="Marta Quill", email="marta@example.org"))
    return template_version(4).template


def opened(visit: Visit, template: Template, *args: Any, **context: Any) -> Page:
    page = visit.signed_in("marta@example.org", *args, **context)
    page.goto(f"/desk/templates/{template.pk}/")
    return page


def cell(page: Page, week: int, day: int) -> Any:
    return page.locator(f'#week-{week} .cell[data-day="{day}"]')


def days(template: Template, week: int) -> dict[str, int | None]:
    return {s.text: s.day for s in template.latest.plan.weeks[week - 1].sessions}


def test_drag_a_session_and_undo(visit: Visit, template: Template) -> None:
    page = opened(visit, template)
    drag(page, page.locator(f"#s-{EASY}"), cell(page, 2, 4))
    expect(cell(page, 2, 4).get_by_text("8 km easy")).to_be_visible()
    expect(page.locator("#board")).to_have_attribute("data-base", "2")
    assert days(template, 2)["8 km easy"] in (3, 4)
    assert "8 km easy" not in days(template, 1)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#board")).to_have_attribute("data-base", "3")
    expect(cell(page, 1, 3).get_by_text("8 km easy")).to_be_visible()
    assert days(template, 1)["8 km easy"] == 3


def test_move_by_arrow_keys_and_keep_the_focus(visit: Visit, template: Template) -> None:
    page = opened(visit, template)
    page.locator(f"#s-{EASY}").focus()
    page.keyboard.press("Alt+ArrowRight")
    expect(cell(page, 1, 4).locator(f"#s-{EASY}")).to_be_focused()
    page.keyboard.press("Alt+ArrowDown")
    expect(cell(page, 2, 4).locator(f"#s-{EASY}")).to_be_focused()
    expect(page.locator("#board")).to_have_attribute("data-base", "3")
    assert template.latest.number == 3


def test_type_a_session_and_see_what_is_understood(visit: Visit, template: Template) -> None:
    page = opened(visit, template)
    page.locator(f"#s-{EASY}").click()
    line = page.get_by_label("Session", exact=True)
    expect(line).to_be_focused()
    line.fill("")
    line.press_sequentially("6 x 3 min @ 11K, 2 min jog")
    expect(page.locator("#understood mark")).to_have_text("11K")
    line.fill("6 x 3 min @ 10K, 2 min jog")
    expect(page.locator("#understood")).to_contain_text("quality session")
    page.get_by_label("key: kept if at all possible").check()
    page.get_by_role("button", name="Save the session").click()
    expect(cell(page, 1, 3).get_by_text("6 × 3 min at 10K pace")).to_be_visible()
    expect(page.locator("#pane")).to_be_empty()
    expect(page.locator(f"#s-{EASY}")).to_be_focused()


def test_escape_closes_and_gives_the_focus_back(visit: Visit, template: Template) -> None:
    page = opened(visit, template)
    page.locator(f"#s-{EASY}").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_label("Session", exact=True)).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.locator("#pane")).to_be_empty()
    expect(page.locator(f"#s-{EASY}")).to_be_focused()


def test_two_windows(visit: Visit, template: Template) -> None:
    first, second = opened(visit, template), opened(visit, template)
    second.locator(f"#s-{EASY}").click()
    second.get_by_label("Session", exact=True).fill("9 km easy")
    first.locator(f"#s-{EASY}").focus()
    first.keyboard.press("Alt+ArrowRight")
    expect(first.locator("#board")).to_have_attribute("data-base", "2")
    second.get_by_role("button", name="Save the session").click()
    expect(second.get_by_text("What you typed is kept")).to_be_visible()
    expect(second.get_by_label("Session", exact=True)).to_have_value("9 km easy")
    assert template.latest.number == 2


def test_without_javascript(visit: Visit, template: Template) -> None:
    page = opened(visit, template, java_script_enabled=False)
    page.locator(f"#s-{EASY}").click()
    page.get_by_label("Session", exact=True).fill("9 km easy")
    page.get_by_role("button", name="Save the session").click()
    expect(cell(page, 1, 3).get_by_text("9 km easy")).to_be_visible()
    page.locator(f"#s-{EASY}").click()
    page.get_by_role("button", name="A day later").click()
    expect(cell(page, 1, 4).get_by_text("9 km easy")).to_be_visible()
    page.locator("#week-2 summary").click()
    page.locator("#week-2").get_by_role("button", name="Copy it").click()
    expect(page.locator(".board-week")).to_have_count(5)


def test_on_a_phone_nothing_is_wider_than_the_screen(visit: Visit, template: Template) -> None:
    page = opened(visit, template, PHONE)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.locator(f"#s-{EASY}").tap()
    page.get_by_label("Session", exact=True).fill("9 km easy")
    page.get_by_role("button", name="Save the session").tap()
    expect(page.locator(f"#s-{EASY}")).to_have_text("9 km easy")
    expect(page.locator("#pane")).to_be_empty()
