"""What is forgotten, when, and what stays."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from athletes.models import Athlete, DeskNote, HealthNote, NoteReading, Screening
from coaching import mailing
from coaching.models import Delivery
from coaching.tidying import tidy
from plans.models import Log, Message
from tests.factories import AthleteFactory, UserFactory

pytestmark = pytest.mark.django_db


def who_left(days_ago: int | None) -> Athlete:
    """Somebody with a health note that was read, answers, a message, a note about them, and a run."""
    now = timezone.now()
    left = now.date() - timedelta(days_ago) if days_ago is not None else None
    athlete = AthleteFactory(left_on=left)
    note = HealthNote.objects.create(athlete=athlete, kind="easy", cause="pain", opened=now.date())
    NoteReading.objects.create(note=note, reader=UserFactory(), reader_name="Jonah", day=now.date(), at=now)
    Screening.objects.create(athlete=athlete, at=now, answers={"any_yes": True})
    Message.objects.create(athlete=athlete, author_name="Jonah", by_coach=True, words="Go easy.", at=now)
    DeskNote.objects.create(athlete=athlete, coach_name="Jonah", day=now.date(), words="Tired.", at=now)
    Log.objects.create(athlete=athlete, day=now.date(), time_zone="UTC", received_at=now, outcome="other")
    return athlete


def counts(athlete: Athlete) -> dict[str, int]:
    kinds = (HealthNote, Screening, Message, DeskNote, Log)
    return {kind.__name__: kind.objects.filter(athlete=athlete).count() for kind in kinds}


def test_health_and_words_of_who_left_go_after_a_year_and_runs_stay() -> None:
    here, lately, long_ago = who_left(None), who_left(364), who_left(366)
    tidy()
    everything = {"HealthNote": 1, "Screening": 1, "Message": 1, "DeskNote": 1, "Log": 1}
    assert counts(here) == counts(lately) == everything
    assert counts(long_ago) == {**dict.fromkeys(everything, 0), "Log": 1}


def test_nought_keeps_it(settings: Any) -> None:
    settings.KEEP_LEFT_HEALTH_DAYS = settings.KEEP_LEFT_WORDS_DAYS = settings.KEEP_READINGS_DAYS = 0
    settings.KEEP_MAIL_DAYS = 0
    mailing.post("test", "x@example.org", {})
    long_ago = who_left(4000)
    NoteReading.objects.update(at=timezone.now() - timedelta(days=4000))
    tidy()
    assert set(counts(long_ago).values()) == {1}
    assert NoteReading.objects.count() == 1
    assert Delivery.objects.count() == 1  # and not deleted before it was sent


def test_the_log_of_reading_goes_after_three_years() -> None:
    who_left(None)
    for days, left in ((1094, 1), (1096, 0)):
        NoteReading.objects.update(at=timezone.now() - timedelta(days=days))
        tidy()
        assert NoteReading.objects.count() == left


def test_the_privacy_page_says_for_how_long(client: Client, settings: Any) -> None:
    settings.KEEP_LEFT_HEALTH_DAYS, settings.KEEP_READINGS_DAYS = 200, 0
    page = client.get("/privacy/").content.decode()
    assert "Health notes and answers of athletes who left: 200 days." in page
    assert "Which coach read which health note: until it is erased." in page
