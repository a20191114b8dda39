"""The job row is the queue: claimed once, taken up when nobody carries it, run twice without harm."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import transaction
from django.utils import timezone

from plans import jobs
from plans.models import Job
from tests.factories import AthleteFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def carried(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """A kind of job for the tests: notes its key, or fails when told to."""
    keys: list[str] = []

    def carry(job: Job) -> None:
        keys.append(job.key)
        if job.key == "fails":
            raise RuntimeError("no paper in the tray")

    monkeypatch.setitem(jobs.CARRIERS, "note", carry)
    return keys


def test_it_works(carried: list[str]) -> None:
    job = jobs.enqueue("note", "a")
    assert jobs.run(job.pk) is True
    job.refresh_from_db()
    assert (job.state, job.attempts, job.claimed_until, carried) == ("done", 1, None, ["a"])


def test_a_burst_leaves_one_row_waiting(carried: list[str]) -> None:
    athlete = AthleteFactory()
    rows = {jobs.enqueue("note", "a", athlete=athlete).pk for _ in range(5)}
    assert len(rows) == 1


def test_a_row_that_runs_does_not_hide_what_came_after_it(carried: list[str]) -> None:
    first = jobs.enqueue("note", "a")
    assert jobs.claim(first.pk) is not None
    second = jobs.enqueue("note", "a")
    assert second.pk != first.pk


def test_it_is_claimed_once(carried: list[str]) -> None:
    job = jobs.enqueue("note", "a")
    assert jobs.claim(job.pk) is not None
    assert jobs.claim(job.pk) is None
    assert jobs.run(job.pk) is False
    assert carried == []


def test_a_lease_that_ran_out_is_taken_up_again(carried: list[str]) -> None:
    job = jobs.enqueue("note", "a")
    jobs.claim(job.pk)
    assert jobs.due_jobs() == []
    Job.objects.update(claimed_until=timezone.now() - timedelta(seconds=1))
    assert jobs.due_jobs() == [job.pk]
    assert jobs.run(job.pk) is True
    assert carried == ["a"]


def test_it_waits_until_it_is_due(carried: list[str]) -> None:
    job = jobs.enqueue("note", "a", not_before=timezone.now() + timedelta(minutes=5))
    assert jobs.run(job.pk) is False
    assert jobs.due_jobs() == []


def test_a_failure_is_tried_again_later_with_its_error_kept(carried: list[str]) -> None:
    job = jobs.enqueue("note", "fails")
    jobs.run(job.pk)
    job.refresh_from_db()
    assert (job.state, job.error) == ("waiting", "RuntimeError: no paper in the tray")
    assert timedelta(seconds=15) < job.not_before - timezone.now() <= timedelta(seconds=20)


def test_it_gives_up_after_five_times(carried: list[str]) -> None:
    job = jobs.enqueue("note", "fails")
    for _ in range(5):
        Job.objects.update(not_before=timezone.now())
        assert jobs.run(job.pk) is True
    job.refresh_from_db()
    assert (job.state, job.attempts, jobs.due_jobs()) == ("failed", 5, [])


def test_a_failed_try_steps_aside_for_a_newer_row(carried: list[str]) -> None:
    job = jobs.enqueue("note", "fails")
    jobs.claim(job.pk)
    newer = jobs.enqueue("note", "fails")
    jobs._put_back(Job.objects.get(pk=job.pk), RuntimeError("no paper"))
    states = dict(Job.objects.values_list("pk", "state"))
    assert states == {job.pk: "failed", newer.pk: "waiting"}


def test_the_row_goes_with_the_transaction_that_wrote_it() -> None:

    def write_and_fail() -> None:
        with transaction.atomic():
            jobs.enqueue("note", "a")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        write_and_fail()
    assert not Job.objects.exists()


def test_a_broker_that_is_down_costs_nothing(
    monkeypatch: pytest.MonkeyPatch,
    carried: list[str],
    django_capture_on_commit_callbacks: object,
    caplog: pytest.LogCaptureFixture,
) -> None:
    """Port 9 answers nobody: the row stands, the caller hears nothing of it."""
    from coaching.celery import app

    with app.connection_for_write("redis://127.0.0.1:9/0") as dead:
        monkeypatch.setattr(app, "connection_for_write", lambda *a, **k: dead)
        monkeypatch.setattr(
            app, "producer_or_acquire", lambda producer=None: app.amqp.Producer(dead, auto_declare=False)
        )
        with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
            jobs.enqueue("note", "a")
    assert "could not be told" in caplog.text
    assert jobs.due_jobs() == [Job.objects.get().pk]


def test_done_rows_are_forgotten_after_two_weeks(carried: list[str]) -> None:
    for key, age in (("old", 15), ("young", 13)):
        jobs.run(jobs.enqueue("note", key).pk)
        Job.objects.filter(key=key).update(finished_at=timezone.now() - timedelta(days=age))
    jobs.forget_old()
    assert [job.key for job in Job.objects.all()] == ["young"]
