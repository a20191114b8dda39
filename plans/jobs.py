"""The job row is the queue; the broker only makes it quick.

Law: a job is written in the same transaction as what caused it, can run twice without harm, reads its inputs
when it starts, and is claimed by one conditional update with a lease, by the database's clock. A row that nobody
carries is taken up by the sweep. At most one row waits for a (kind, key): a burst of entries gives one job.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.db.models import F, Q

from athletes.models import Athlete
from plans.clock import shared_now
from plans.models import Job

log = logging.getLogger(__name__)

LEASE = timedelta(minutes=3)
GIVE_UP_AFTER = 5
KEEP_DONE = timedelta(days=14)

# What carries a job out, by kind. Filled by `plans.tasks`.
Carrier = Callable[[Job], None]
CARRIERS: dict[str, Carrier] = {}


def carries(kind: str) -> Callable[[Carrier], Carrier]:
    def register(carrier: Carrier) -> Carrier:
        CARRIERS[kind] = carrier
        return carrier

    return register


def enqueue(kind: str, key: str, athlete: Athlete | None = None, not_before: datetime | None = None) -> Job:
    """A waiting row for this work: the one that waits already, or a new one. Call inside the causing transaction."""
    now = shared_now()
    waiting = Job.objects.filter(kind=kind, key=key, state="waiting").first()
    if waiting is None:
        try:
            with transaction.atomic():
                waiting = Job.objects.create(
                    kind=kind, key=key, athlete=athlete, made_at=now, not_before=not_before or now
                )
        except IntegrityError:  # another transaction was quicker: its row serves both
            waiting = Job.objects.get(kind=kind, key=key, state="waiting")
    pk = waiting.pk
    if waiting.not_before <= now:
        transaction.on_commit(lambda: tell_broker(pk))
    return waiting


def enqueue_many(kind: str, athletes: list[Athlete]) -> None:
    """A waiting row for each athlete that has none, in one query. The sweep takes them up; the broker isn't told."""
    now = shared_now()
    rows = (Job(kind=kind, key=str(a.pk), athlete=a, made_at=now, not_before=now) for a in athletes)
    Job.objects.bulk_create(rows, ignore_conflicts=True)


def tell_broker(pk: int) -> None:
    """Say that a row waits. A broker that is down costs nothing but time: the sweep is the guarantee."""
    from plans.tasks import carry_out

    try:
        carry_out.apply_async((pk,), retry=False)
    except Exception:  # whatever a broker's client raises; the row is safe
        log.warning("The broker could not be told of job %s; the sweep will take it up.", pk, exc_info=True)


def claim(pk: int) -> Job | None:
    """The row, if it was ours to take: waiting and due, or running with its lease run out."""
    now = shared_now()
    due = Q(state="waiting", not_before__lte=now) | Q(state="running", claimed_until__lt=now)
    taken = Job.objects.filter(due, pk=pk).update(
        state="running", claimed_until=now + LEASE, attempts=F("attempts") + 1
    )
    return Job.objects.get(pk=pk) if taken == 1 else None


def progress(job: Job, done: int, total: int) -> None:
    """Write how far it is, and renew the lease."""
    job.done_count, job.total = done, total
    Job.objects.filter(pk=job.pk, state="running").update(
        done_count=done, total=total, claimed_until=shared_now() + LEASE
    )


def run(pk: int) -> bool:
    """Claim and carry out one job. False if it was not ours. A failure waits longer each time, then stays failed."""
    job = claim(pk)
    if job is None:
        return False
    try:
        CARRIERS[job.kind](job)
    except Exception as error:
        log.exception("Job %s (%s) failed, attempt %s", job.pk, job.kind, job.attempts)
        _put_back(job, error)
        return True
    Job.objects.filter(pk=job.pk, state="running").update(
        state="done", finished_at=shared_now(), claimed_until=None, error=""
    )
    return True


def _put_back(job: Job, error: Exception) -> None:
    """Another try later; if a newer row for the same work waits already, that one serves."""
    now = shared_now()
    # The first line: a database's second one quotes the row.
    said = f"{type(error).__name__}: {error}".partition("\n")[0][:300]
    values = {"claimed_until": None, "error": said}
    if job.attempts < GIVE_UP_AFTER:
        later = now + timedelta(seconds=5 * 4**job.attempts)
        try:
            with transaction.atomic():
                Job.objects.filter(pk=job.pk).update(state="waiting", not_before=later, **values)
                return
        except IntegrityError:
            log.info("A newer %s job for %s waits already and serves.", job.kind, job.key)
    Job.objects.filter(pk=job.pk).update(state="failed", finished_at=now, **values)


def due_jobs(limit: int = 200) -> list[int]:
    """Rows that nobody carries: waiting and due, or running past their lease; oldest first."""
    now = shared_now()
    due = Q(state="waiting", not_before__lte=now) | Q(state="running", claimed_until__lt=now)
    return list(Job.objects.filter(due).order_by("not_before").values_list("pk", flat=True)[:limit])


def forget_old() -> None:
    Job.objects.filter(state__in=["done", "failed"], finished_at__lt=shared_now() - KEEP_DONE).delete()
