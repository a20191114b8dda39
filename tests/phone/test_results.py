"""My paces on the phone, and adding a result that the coach looks at first."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from athletes.models import Result
from plans import recarding
from plans.models import CardProposal, Schedule, SessionIssue
from tests.factories import AthleteFactory, CoachFactory, ResultFactory, UserFactory

pytestmark = pytest.mark.django_db


def add(client: Client, **values: Any) -> Any:
    yesterday = (timezone.localdate() - timedelta(1)).isoformat()
    return client.post("/me/results/", {"distance": "10", "time": "44:00", "day": yesterday, **values})


def test_my_paces_with_width_effort_and_results(phone: Client, schedule: Schedule) -> None:
    schedule.athlete.resting_rate, schedule.athlete.maximum_rate = 50, 190
    schedule.athlete.save()
    page = phone.get("/me/paces/").content.decode()
    for part in ("4:45–4:51/km", "± 1 %", "134–154 beats", "effort 7, tough", "48:00", "sets the paces"):
        assert part in page
    assert '<figure class="chart">' in page


def test_adding_works_and_the_coach_decides(phone: Client, schedule: Schedule) -> None:
    answer = add(phone, name="Quay 10K")
    assert (answer.status_code, answer["Location"]) == (302, "/me/paces/")
    made = Result.objects.get(name="Quay 10K")
    assert (made.athlete, made.distance_mm, made.time_ms) == (schedule.athlete, 10_000_000, 44 * 60_000)
    proposal = CardProposal.objects.get(state="open")
    assert proposal.why.startswith(f"New result, added by {schedule.athlete.user}: 10K in 44:00 on ")
    page = phone.get("/me/paces/").content.decode()
    assert "Your coach sees the new paces and decides; yours stay until then." in page
    assert "New paces wait for your coach." in page
    assert "4:45–4:51/km" in page
    assert "4:21–4:27/km" not in page


def test_one_that_changes_nothing_says_why(phone: Client, schedule: Schedule) -> None:
    answer = add(phone, time="50:00")
    page = phone.get(answer["Location"]).content.decode()
    assert "Kept. The paces stay as they are: they stand on 10K in 48:00" in page


def test_a_mile_runner_types_miles(phone: Client, schedule: Schedule) -> None:
    schedule.athlete.units = "mi"
    schedule.athlete.save()
    add(phone, distance="6.2", time="44:00")
    # 6.2 x 1609.344 m
    assert Result.objects.filter(distance_mm=9_977_933).exists()


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("distance", "0", "0"),
        ("distance", "-10", "-10"),
        ("distance", "far", "far"),
        ("distance", "60 km", "Paces come from races of 1 to 50 km, and 60 km was given."),
        ("time", "25:99", "25:99"),
        ("time", "NaN", "NaN"),
        ("time", "11:00", "10K in 11:00 is faster than anyone has run."),
        ("day", "2099-01-01", "this day is still to come"),
    ],
)
def test_bad_input_is_told_at_its_field(phone: Client, field: str, value: str, sentence: str) -> None:
    answer = add(phone, **{field: value})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert sentence in " ".join(answer.context["form"].errors[field])
    assert f'value="{value}"' in answer.content.decode()
    assert Result.objects.count() == 1


def test_the_same_twice(phone: Client) -> None:
    add(phone)
    answer = add(phone)
    assert answer.status_code == 422
    assert "This result is here already" in answer.content.decode()


def test_without_paces_the_page_says_what_to_do() -> None:
    client = Client()
    client.force_login(AthleteFactory().user)
    assert "No paces yet." in client.get("/me/paces/").content.decode()
    assert client.get("/me/paces/card.pdf").status_code == 404


def test_my_card_on_paper(phone: Client) -> None:
    answer = phone.get("/me/paces/card.pdf")
    assert answer.content[:5] == b"%PDF-"


def test_only_the_athlete_gets_in(schedule: Schedule) -> None:
    coach = Client()
    coach.force_login(CoachFactory().user)
    for path in ("/me/paces/", "/me/paces/card.pdf", "/me/results/"):
        assert coach.get(path).status_code == 404
        assert Client().get(path)["Location"] == f"/sign-in/?next={path}"


def test_a_past_session_keeps_the_paces_it_was_issued_with(phone: Client, schedule: Schedule) -> None:
    """The long run of last Sunday and the next one, after a new card of today."""
    ResultFactory(athlete=schedule.athlete, time_ms=40 * 60_000, day=timezone.localdate())
    proposal = recarding.propose(schedule.athlete, "New result").proposal
    assert proposal is not None
    issues = SessionIssue.objects.filter(schedule=schedule, role="quality").order_by("day")
    before = issues.filter(day__lt=timezone.localdate()).first()
    after = issues.filter(day__gt=timezone.localdate()).first()
    assert before
    assert after
    recarding.accept(proposal, by=UserFactory())
    assert "4:45–4:51" in phone.get(f"/me/sessions/{before.session_id}/").content.decode()
    # 40:00 over 10 km is 4:00/km, give or take 1 %.
    assert "3:58–4:02" in phone.get(f"/me/sessions/{after.session_id}/").content.decode()
    assert before.day < timezone.localdate()
    assert schedule.versions.get(number=2).issued_at > datetime.combine(
        before.day, time(), timezone.get_current_timezone()
    )
