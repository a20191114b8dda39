"""Accept many proposals: a job for each, so that one that is no longer the answer holds up none of the others.

Law: each is accepted as if it had been alone, and only while it is still small and still the answer. Twice without
harm: what was decided meanwhile is left alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction

from athletes.models import Athlete, User
from plans.clock import shared_now
from plans.deciding import accept
from plans.issuing import Stale
from plans.jobs import carries, enqueue
from plans.models import Job, Proposal

KIND = "accept"
TOLD_FOR = timedelta(minutes=10)
"""For so long the page of proposals says what became of them."""


@dataclass(frozen=True)
class Accepting:
    """How far the acceptances are that somebody asked for lately. `again`: whose proposal had changed meanwhile."""

    total: int
    done: int
    again: tuple[str, ...]
    failed: tuple[str, ...]

    @property
    def working(self) -> bool:
        return self.done < self.total

    @property
    def issued(self) -> int:
        return self.done - len(self.again) - len(self.failed)


@transaction.atomic
def accept_all(proposals: Sequence[Proposal], by: User) -> None:
    """Ask for these to be accepted, in the background."""
    for one in proposals:
        enqueue(KIND, _key(one.pk, by), athlete=one.schedule.athlete)


def _key(proposal: int, by: User) -> str:
    return f"{proposal}:{by.pk}"


def accepting(by: User) -> Accepting | None:
    """None when nothing was asked for lately; one query."""
    rows = (
        Job.objects.filter(kind=KIND, key__endswith=f":{by.pk}", made_at__gte=shared_now() - TOLD_FOR)
        .select_related("athlete")
        .order_by("athlete__name", "pk")
    )
    jobs = [job for job in rows if job.athlete is not None]
    if not jobs:
        return None
    ended = [job for job in jobs if job.state in ("done", "failed")]
    return Accepting(
        len(jobs),
        len(ended),
        tuple(str(job.athlete) for job in ended if job.state == "done" and job.done_count == 0),
        tuple(str(job.athlete) for job in ended if job.state == "failed"),
    )


@carries(KIND)
def accept_one(job: Job) -> None:
    """Issue it if it is still small, still the answer, and still this coach's to decide; count it then."""
    pk, _, user_pk = job.key.partition(":")
    user = User.objects.filter(pk=user_pk, is_active=True).first()
    if user is None:
        return
    mine = Proposal.objects.filter(schedule__athlete__in=Athlete.objects.for_user(user))
    one = mine.filter(pk=pk).first()
    if one is None:
        return
    if one.state == "open" and one.small:
        try:
            accept(one, by=user, coach=getattr(user, "coach", None))
        except Stale:
            return
        one.refresh_from_db()
    if one.state == "accepted" and one.decided_by_id == user.pk:
        Job.objects.filter(pk=job.pk).update(done_count=1, total=1)
