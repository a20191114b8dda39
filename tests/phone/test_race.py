"""Race day on the phone: the plan, the race gone by and its splits, the papers."""

from __future__ import annotations

import io
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from plans.models import CardProposal, Race, RaceEntry, RacePlan, RaceReport, Schedule
from tests.factories import AthleteFactory, scheduled

pytestmark = pytest.mark.django_db


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def entry(schedule: Schedule) -> RaceEntry:
    assert schedule.race_entry
    RacePlan.objects.create(
        entry=schedule.race_entry, target_ms=13_500_000, words="Smile.", by_name="Mara", at=timezone.now()
    )
    return schedule.race_entry


def test_it_works(phone: Client, entry: RaceEntry) -> None:
    page = text(phone.get("/me/race/"))
    for said in (
        "Saltmarsh Marathon",
        "3:45:00",
        "5:20/km",
        "26:40",
        "Half-way",
        "1:52:30",
        "Mara:</b> Smile.",
        "Race week",
        "Drink to thirst",
    ):
        assert said in page
    assert "What did you run?" not in page


def test_a_tune_up_has_a_plan_too(phone: Client, schedule: Schedule) -> None:
    race = Race.objects.create(
        name="Quay Ten", day=timezone.localdate() + timedelta(5), distance_mm=10_000_000
    )
    RaceEntry.objects.create(athlete=schedule.athlete, race=race, purpose="tune-up")
    page = text(phone.get("/me/race/"))
    assert "Quay Ten" in page
    # The result of the factory, 10 km in 48:00, is over this very distance.
    assert "<h1>48:00</h1>" in page


def test_after_the_race_the_splits_are_asked_for(phone: Client, entry: RaceEntry) -> None:
    Race.objects.update(day=timezone.localdate())
    assert "What did you run?" in text(phone.get("/me/race/"))
    answer = phone.post(f"/me/race/{entry.pk}/splits/", {"splits": "half: 1:52:00\nfinish: 3:44:10"})
    assert answer.status_code == 302
    assert RaceReport.objects.get().source == "typed"
    assert CardProposal.objects.get().state == "open"
    page = text(phone.get(answer["Location"]))
    assert "Your coach sees it, with the paces it gives." in page
    assert "How it went" in page


def test_wrong_splits_are_told_and_kept(phone: Client, entry: RaceEntry) -> None:
    Race.objects.update(day=timezone.localdate())
    answer = phone.post(f"/me/race/{entry.pk}/splits/", {"splits": "half 1:52"})
    assert answer.status_code == 422
    assert "half 1:52" in text(answer)


def test_papers(phone: Client, entry: RaceEntry) -> None:
    plan = phone.get(f"/me/race/{entry.pk}/race-day.pdf")
    assert len(PdfReader(io.BytesIO(plan.content)).pages) == 2
    season = PdfReader(io.BytesIO(phone.get("/me/season.pdf").content))
    assert len(season.pages) == 1
    assert "The whole plan, 4 weeks" in " ".join(season.pages[0].extract_text().split())
    assert season.trailer["/Root"]["/MarkInfo"]["/Marked"]


def test_nothing_entered_says_so(client: Client) -> None:
    client.force_login(AthleteFactory().user)
    assert "No race yet" in text(client.get("/me/race/"))
    assert client.get("/me/season.pdf").status_code == 404


def test_who_may(phone: Client, entry: RaceEntry, client: Client) -> None:
    others = scheduled().race_entry
    assert others
    for path in ("", "race-day.pdf"):
        assert phone.get(f"/me/race/{others.pk}/{path}").status_code == 404
        assert client.get(f"/me/race/{entry.pk}/{path}")["Location"].startswith("/sign-in/")
    assert phone.post(f"/me/race/{others.pk}/splits/", {"splits": "finish 3:44:10"}).status_code == 404
    assert phone.get(f"/me/race/{entry.pk}/splits/").status_code == 405
    assert phone.get("/me/race/987654/").status_code == 404
