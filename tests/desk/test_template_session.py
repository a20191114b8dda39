"""A session of a template: typed, understood, kept; or kept as words; never lost."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plans.models import NamedSession, Template
from plans.training.template_editing import find
from tests.factories import AthleteFactory, CoachFactory, template_version

pytestmark = pytest.mark.django_db
KEY = "00000000-0000-4000-8000-000000000001"  # week 1, Tuesday
HTMX = {"HX-Request": "true"}
WHOLE = {"base": 1, "week": 1, "day": "1", "text": "45 min easy", "priority": "supporting", "do": "save"}


@pytest.fixture
def coach() -> Client:
    client = Client()
    client.force_login(CoachFactory().user)
    return client


@pytest.fixture
def template() -> Template:
    return template_version(4).template


def post(client: Client, template: Template, headers: Any = None, **values: Any) -> Any:
    return client.post(
        reverse("template-session", args=[template.pk, KEY]), {**WHOLE, **values}, headers=headers or {}
    )


def test_a_session_is_changed_and_keeps_its_key(coach: Client, template: Template) -> None:
    answer = post(coach, template, text="15 min easy; 6 x 800 m @ 10K, 90 s jog; 10 min easy", priority="key",
                  purpose="Hold the pace\nwhen it bites.")  # fmt: skip
    assert answer.status_code == 302
    week, session = find(template.latest.plan, KEY)
    assert (week, session.day, session.role, session.priority) == (0, 1, "quality", "key")
    assert session.text == "15 min easy; 6 x 800 m @ 10K, 90 s jog; 10 min easy"
    assert session.purpose == "Hold the pace when it bites."


def test_the_form_shows_what_is_there(coach: Client, template: Template) -> None:
    page = coach.get(reverse("template-session", args=[template.pk, KEY])).content.decode()
    assert 'value="2 km easy; 5 x 3 min @ 10K, 2 min jog; 2 km easy"' in page
    assert "quality session" in page
    part = coach.get(reverse("template-session", args=[template.pk, KEY]), headers=HTMX).content.decode()
    assert "<html" not in part
    assert "Save the session" in part


def test_looking_tells_what_is_understood_and_stores_nothing(coach: Client, template: Template) -> None:
    page = post(coach, template, do="look", text="12 x 1 min @ 5K, 1 min jog", headers=HTMX).content.decode()
    assert page.strip().startswith('<div id="understood"')
    assert "12 × 1 min" in page
    assert template.latest.number == 1


def test_looking_marks_the_character(coach: Client, template: Template) -> None:
    page = post(coach, template, do="look", text="6 x 3 min @ 11K, 2 min jog", headers=HTMX).content.decode()
    assert "6 x 3 min @ <mark>11K</mark>, 2 min jog" in page
    assert "Possible paces: 5K, 10K, HM, MP" in page


def test_what_can_not_be_read_is_told_and_kept(coach: Client, template: Template) -> None:
    answer = post(coach, template, text="45 min easi")
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "“easi” is not a word I know here." in page
    assert 'value="45 min easi"' in page
    assert template.latest.number == 1


def test_kept_as_words_with_amounts(coach: Client, template: Template) -> None:
    answer = post(
        coach, template, text="play on the dunes", keep="on", words_time="40 min", words_hard="10 min"
    )
    assert answer.status_code == 302
    session = find(template.latest.plan, KEY)[1]
    assert session.text.startswith("free: play on the dunes = ")
    assert session.role == "quality"
    page = coach.get(reverse("template-session", args=[template.pk, KEY])).content.decode()
    assert 'value="play on the dunes"' in page
    assert 'value="40:00"' in page


@pytest.mark.parametrize(
    "amounts", [{}, {"words_time": "0"}, {"words_distance": "0 km"}, {"words_time": "NaN"}]
)
def test_words_need_an_amount(coach: Client, template: Template, amounts: dict[str, str]) -> None:
    assert post(coach, template, text="play on the dunes", keep="on", **amounts).status_code == 422
    assert template.latest.number == 1


def test_a_share_of_the_week(coach: Client, template: Template) -> None:
    answer = post(coach, template, amount="20-25 %")
    assert answer.status_code == 302
    amount = find(template.latest.plan, KEY)[1].amount
    assert amount is not None
    assert (amount.low, amount.high, amount.unit) == (20, 25, "percent")


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"text": ""}, "Write the session as on the board"),
        ({"text": "x" * 301}, "at most 300"),
        ({"amount": "a lot"}, "The amount “a lot”"),
        ({"amount": "95 %"}, "more than the 80 %"),
        ({"week": "99"}, "Select a valid choice"),
        ({"day": "8"}, "Select a valid choice"),
        ({"priority": "utmost"}, "Select a valid choice"),
        ({"purpose": "x" * 401}, "at most 400"),
        ({"day": "6"}, "Another run wishes for this day"),
    ],
)
def test_each_thing_that_can_be_wrong(
    coach: Client, template: Template, wrong: dict[str, str], said: str
) -> None:
    answer = post(coach, template, **wrong)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert template.latest.number == 1


def test_a_stale_save_keeps_what_was_typed(coach: Client, template: Template) -> None:
    post(coach, template, text="40 min easy")
    answer = post(coach, template, text="50 min easy")
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "What you typed is kept" in page
    assert 'value="50 min easy"' in page
    assert 'name="base" value="2"' in page
    assert find(template.latest.plan, KEY)[1].text == "40 min easy"
    assert post(coach, template, text="50 min easy", base=2).status_code == 302
    assert find(template.latest.plan, KEY)[1].text == "50 min easy"


def test_saving_by_htmx_gives_the_board(coach: Client, template: Template) -> None:
    answer = post(coach, template, headers=HTMX)
    assert answer.status_code == 200
    assert answer["HX-Retarget"] == "#board"
    assert 'data-base="2"' in answer.content.decode()


def test_a_new_session(coach: Client, template: Template) -> None:
    address = reverse("template-session-new", args=[template.pk]) + "?week=2&day=2"
    page = coach.get(address).content.decode()
    assert '<option value="2" selected>Wednesday' in page
    answer = coach.post(address, {**WHOLE, "week": 2, "day": "2", "text": "strength 30 min"})
    assert answer.status_code == 302
    assert (2, "strength 30 min", "strength") in [
        (s.day, s.text, s.role) for s in template.latest.plan.weeks[1].sessions
    ]


def test_a_second_run_of_a_day(coach: Client, template: Template) -> None:
    address = reverse("template-session-new", args=[template.pk])
    assert coach.post(address, {**WHOLE, "second": "on"}).status_code == 302
    assert [s.second for s in template.latest.plan.weeks[0].sessions if s.day == 1] == [False, True]


def test_taking_a_named_session(coach: Client, template: Template) -> None:
    named = NamedSession.objects.create(
        name="Hills", role="quality", steps="8x30s hill, jog back", purpose="Strength for the legs."
    )
    page = post(coach, template, do="take", named=named.pk).content.decode()
    assert 'value="8x30s hill, jog back"' in page
    assert "Strength for the legs." in page
    assert template.latest.number == 1
    assert post(coach, template, do="take", named="").status_code == 200


def test_a_session_removed_meanwhile_can_be_put_back(coach: Client, template: Template) -> None:
    coach.post(reverse("template-session-remove", args=[template.pk, KEY]), {"base": 1})
    answer = post(coach, template, text="50 min easy")
    assert answer.status_code == 409
    assert 'value="50 min easy"' in answer.content.decode()
    assert post(coach, template, text="50 min easy", base=2).status_code == 302
    assert find(template.latest.plan, KEY)[1].text == "50 min easy"


def test_who_may(template: Template) -> None:
    client = Client()
    client.force_login(AthleteFactory().user)
    assert post(client, template).status_code == 404
    assert post(Client(), template).status_code == 302
    assert template.latest.number == 1


def test_no_such_session(coach: Client, template: Template) -> None:
    address = reverse("template-session", args=[template.pk, "00000000-0000-4000-8000-999999999999"])
    assert coach.get(address).status_code == 404
