"""Whatever may change the weeks ahead writes a job row in the same transaction; a burst writes one."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import transaction

from athletes.models import HealthNote, TimeOff
from plans import recording
from plans.freeing import set_free_days
from plans.models import Job, Log
from plans.recording import Entry
from tests.factories import AthleteFactory, UserFactory

pytestmark = pytest.mark.django_db


def a_run(athlete):
    recording.record(
        athlete, None, Entry(uuid4(), athlete.today(), "other", distance_mm=5_000_000), by=athlete.user
    )


def a_missed_mark(athlete):
    recording.record(
        athlete, None, Entry(uuid4(), athlete.today(), "missed", reason="tired"), by=athlete.user
    )


def a_run_taken_back(athlete):
    log = Log.objects.create(
        athlete=athlete, day=athlete.today(), time_zone="UTC", received_at="2026-01-01T00:00Z", outcome="done"
    )
    recording.take_back(log)


def time_off(athlete):
    recording.take_time_off(athlete, athlete.today(), athlete.today() + timedelta(3), 0, "travel")


def time_off_taken_back(athlete):
    recording.free_again(
        TimeOff.objects.create(athlete=athlete, first_day=athlete.today(), last_day=athlete.today())
    )


def a_health_note(athlete):
    recording.say_unwell(athlete, Entry(uuid4(), athlete.today(), "missed", reason="ill"), by=athlete.user)


def a_cleared_hold(athlete):
    note = HealthNote.objects.create(athlete=athlete, kind="easy", cause="ill", opened=athlete.today())
    recording.clear_hold(note, by=UserFactory())


def other_free_days(athlete):
    set_free_days(athlete, (60, 0, 60, 0, 60, 0, 120), athlete.today())


WAYS = [
    a_run,
    a_missed_mark,
    a_run_taken_back,
    time_off,
    time_off_taken_back,
    a_health_note,
    a_cleared_hold,
    other_free_days,
]


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
def test_it_writes_one_waiting_row_for_the_athlete(way):
    athlete = AthleteFactory()
    way(athlete)
    job = Job.objects.get()
    assert (job.kind, job.key, job.athlete, job.state) == ("rebalance", str(athlete.pk), athlete, "waiting")


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
def test_in_the_same_transaction(way):
    athlete = AthleteFactory()
    with transaction.atomic():
        way(athlete)
        assert Job.objects.count() == 1
        transaction.set_rollback(True)
    assert Job.objects.count() == 0
    assert Log.objects.count() == TimeOff.objects.count() == HealthNote.objects.count() == 0


def test_five_in_a_row_write_one_row():
    athlete = AthleteFactory()
    for _ in range(5):
        a_run(athlete)
    assert Log.objects.count() == 5
    assert Job.objects.count() == 1


def test_free_days_that_stand_already_write_nothing():
    athlete = AthleteFactory()
    other_free_days(athlete)
    Job.objects.all().delete()
    other_free_days(athlete)
    assert not Job.objects.exists()
