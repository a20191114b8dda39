"""A session: steps, effort, by effort in heat and on hills, words to and from the coach."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest
from django.test import Client

from plans.models import Message, Schedule, SessionIssue
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


@pytest.fixture
def quality(schedule: Schedule) -> UUID:
    return SessionIssue.objects.filter(schedule=schedule, role="quality").earliest("day").session_id


def test_it_works(phone: Client, quality: UUID) -> None:
    page = phone.get(f"/me/sessions/{quality}/").content.decode()
    assert "5 × 3 min" in page
    assert "Run by effort today" in page
    # The picture's table: warm-up, five pieces, four jogs between them, cool-down.
    figures = page[page.index("Effort over time</caption>") :]
    assert figures[: figures.index("</table>")].count("7 of 10") == 5


def test_repeats_of_repeats_are_drawn_in_their_order(phone: Client, quality: UUID) -> None:
    SessionIssue.objects.filter(session=quality).update(
        steps="2 km easy; 2 x (3 x 1 min @ 5K, 1 min jog), 4 min jog; 1 km easy"
    )
    page = phone.get(f"/me/sessions/{quality}/").content.decode()
    figures = page[page.index("Effort over time</caption>") :]
    rows = [
        part.split("</td>")[0]
        for part in figures[: figures.index("</table>")].split('<td class="num">')[1::2]
    ]
    assert rows[1:-1] == [
        "1:00",
        "1:00",
        "1:00",
        "1:00",
        "1:00",
        "4:00",
        "1:00",
        "1:00",
        "1:00",
        "1:00",
        "1:00",
    ]


def test_by_effort_says_words_and_what_heat_costs(phone: Client, quality: UUID) -> None:
    """28 °C and 60 %: vapour 0.6 x 6.105 x exp(17.27 x 28 / 265.7) = 22.6 hPa, WBGT 0.567 x 28 + 0.393 x 22.6 + 3.94 = 28.7."""
    page = phone.get(f"/me/sessions/{quality}/effort/?air=28&humidity=60").content.decode()
    assert "effort 7" in page
    assert "tough: one word at a time" in page
    assert "about 29 °C" in page
    assert "at least 4.1 to 5.5 % slower" in page  # 13.7 degrees over 15, 0.3 to 0.4 % each
    assert "race" in page.lower()
    assert "6 % up" in page


def test_a_cool_day_costs_nothing(phone: Client, quality: UUID) -> None:
    page = phone.get(f"/me/sessions/{quality}/effort/?air=8&humidity=60").content.decode()
    assert "Not hot enough to slow you" in page


@pytest.mark.parametrize("query", ["air=80", "air=NaN", "humidity=50", "air=20&humidity=120", "air=x"])
def test_weather_that_cannot_be(phone: Client, quality: UUID, query: str) -> None:
    assert phone.get(f"/me/sessions/{quality}/effort/?{query}").status_code == 422


def test_words_go_to_the_coach_and_back(phone: Client, quality: UUID, schedule: Schedule) -> None:
    answer = phone.post(f"/me/sessions/{quality}/words/", {"words": "May I run it on the <b>track</b>?"})
    assert answer.status_code == 302
    coach = CoachFactory()
    coaches(coach, schedule.athlete)
    desk = Client()
    desk.force_login(coach.user)
    page = desk.get(f"/desk/sessions/{quality}/").content.decode()
    assert "May I run it on the &lt;b&gt;track&lt;/b&gt;?" in page
    assert "May I run it" in desk.get(f"/desk/athletes/{schedule.athlete_id}/").content.decode()
    assert desk.post(f"/desk/sessions/{quality}/", {"words": "Yes, lane four."}).status_code == 302
    assert "Yes, lane four." in phone.get(f"/me/sessions/{quality}/").content.decode()
    assert list(Message.objects.values_list("by_coach", flat=True)) == [False, True]


def test_a_double_tap_says_it_once(phone: Client, quality: UUID) -> None:
    for _ in range(2):
        said = {"words": "Legs heavy.", "entry_id": "5f0c0000-0000-4000-8000-000000000001"}
        assert phone.post(f"/me/sessions/{quality}/words/", said).status_code == 302
    assert Message.objects.count() == 1


@pytest.mark.parametrize("words", ["", "   ", "x" * 1001])
def test_empty_and_endless_words_are_told(phone: Client, quality: UUID, words: str) -> None:
    assert phone.post(f"/me/sessions/{quality}/words/", {"words": words}).status_code == 422
    assert not Message.objects.exists()


def test_strangers_see_and_say_nothing(quality: UUID) -> None:
    other, coach = Client(), Client()
    other.force_login(scheduled().athlete.user)
    coach.force_login(CoachFactory().user)
    for client, address in ((other, "/me/sessions/"), (coach, "/desk/sessions/")):
        assert client.get(f"{address}{quality}/").status_code == 404
    assert other.post(f"/me/sessions/{quality}/words/", {"words": "x"}).status_code == 404
    assert other.get(f"/me/sessions/{quality}/effort/").status_code == 404
    assert coach.post(f"/desk/sessions/{quality}/", {"words": "x"}).status_code == 404
    assert Client().get(f"/me/sessions/{quality}/")["Location"].startswith("/sign-in/")
    assert not Message.objects.exists()


def test_a_session_that_is_not_there(phone: Client) -> None:
    assert phone.get(f"/me/sessions/{uuid4()}/").status_code == 404


def test_no_plan_no_pages(quality: UUID) -> None:
    client = Client()
    client.force_login(AthleteFactory().user)
    assert client.get("/me/plan/").status_code == 200
    assert client.get("/me/handout/").status_code == 404
