"""kill -9 in the middle of a re-balancing: nothing is lost, nothing is done twice. PostgreSQL and Redis only."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.db import connection, transaction
from django.utils import timezone

from athletes.models import Athlete
from plans.models import Job, Log, Proposal, Schedule
from plans.recording import Entry, record
from plans.tasks import sweep
from tests.browser.conftest import worker  # noqa: F401  (a fixture)
from tests.browser.people import cast
from tests.faults.waiting import until

pytestmark = [
    pytest.mark.faults,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        not settings.REDIS_URL, reason="needs a worker process of its own: PostgreSQL and Redis"
    ),
]


def test_a_worker_killed_in_the_middle(worker: Callable[[], Any]) -> None:  # noqa: F811
    people = cast()
    first = worker()
    holding, release = threading.Event(), threading.Event()
    thread = threading.Thread(target=hold_the_schedule, args=(people.schedule.pk, holding, release))
    thread.start()
    assert holding.wait(10)
    miss_the_long_run(people)
    # The worker has claimed the row and waits for the schedule that we hold.
    until(lambda: Job.objects.filter(kind="rebalance", state="running").exists())
    until(waits_for_a_lock)
    first.kill()
    release.set()
    thread.join()
    assert Job.objects.get(kind="rebalance").state == "running"
    assert not Proposal.objects.exists()

    second = worker()
    sweep.delay()
    # Its lease has not run out: nobody takes it from a worker that may still be alive.
    until(lambda: Job.objects.filter(kind="look", state="done").exists())
    assert Job.objects.get(kind="rebalance").attempts == 1
    Job.objects.filter(kind="rebalance").update(claimed_until=timezone.now() - timedelta(seconds=1))
    sweep.delay()
    until(lambda: Job.objects.filter(kind="rebalance", state="done").exists())
    second.stop()
    assert Job.objects.filter(kind="rebalance").count() == 1
    assert Job.objects.get(kind="rebalance").attempts == 2
    assert Proposal.objects.filter(schedule=people.schedule).count() == 1
    assert Log.objects.filter(outcome="missed").count() == 1


def miss_the_long_run(people: Any) -> None:
    athlete = Athlete.objects.get(pk=people.athlete.pk)
    day = people.today - timedelta(2)
    session = people.schedule.sessions.get(pk=people.session_on(day))
    record(athlete, session, Entry(uuid.uuid4(), day, "missed", reason="travel"), by=athlete.user)


def hold_the_schedule(pk: int, holding: threading.Event, release: threading.Event) -> None:
    try:
        with transaction.atomic():
            Schedule.objects.select_for_update().get(pk=pk)
            holding.set()
            release.wait(60)
    finally:
        connection.close()


def waits_for_a_lock() -> bool:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE wait_event_type = 'Lock' AND datname = current_database()"
        )
        return bool(cursor.fetchone()[0])
