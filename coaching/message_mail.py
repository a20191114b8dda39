"""Mail about words between coach and athlete, and about a health note. It says that something is there to be read.

Never what it says: mail is read by others, and what is said here is about a body. An athlete gets a link that shows
one message and takes an answer; a coach gets a link to the desk, behind the sign-in.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from athletes.models import Athlete, Coach, CoachAthlete, HealthNote, User
from coaching import answering
from coaching.addresses import absolute
from coaching.mailing import post
from plans.jobs import carries
from plans.models import Job, Message

USEFUL_FOR = timedelta(days=3)


@carries("message-mail")
def tell_one(job: Job) -> None:
    _once(job, lambda: _tell(Message.objects.filter(key=UUID(job.key))))


@carries("sending-mail")
def tell_many(job: Job) -> None:
    _once(job, lambda: _tell(Message.objects.filter(sending=UUID(job.key))))


@carries("health-mail")
def tell_coaches(job: Job) -> None:
    """An open health note, to each coach of the athlete; to the head coaches where the athlete has none."""
    note = HealthNote.objects.select_related("athlete").filter(pk=int(job.key), closed__isnull=True).first()
    if note is not None:
        _once(job, lambda: _tell_of_note(note))


def _once(job: Job, send: Callable[[], None]) -> None:
    """All the rows of one job in one transaction: carried out twice, nobody is written to twice."""
    if not settings.EMAIL_HOST:
        return
    with transaction.atomic():
        if Job.objects.select_for_update().filter(pk=job.pk, done_count=0).update(done_count=1):
            send()


def _tell(messages: QuerySet[Message]) -> None:
    for one in messages.select_related("athlete__user"):
        user = one.athlete.user
        if user is None or not may_have(one.athlete, user) or one.receipts.filter(reader=user).exists():
            continue
        values = {"name": one.athlete.name, "coach": one.author_name, "message": one.pk}
        post("message", user.email, values, user=user, useful_for=answering.LASTS)


def may_have(athlete: Athlete, user: User) -> bool:
    """Whether mail about the training may go to this athlete: the address is theirs, and they want it."""
    return user.confirmed_at is not None and athlete.wants_mail and athlete.left_on is None


def _tell_of_note(note: HealthNote) -> None:
    for coach in coaches_of(note.athlete):
        values = {"name": coach.user.name, "link": absolute("athlete", pk=note.athlete_id)}
        post("health", coach.user.email, values, user=coach.user, useful_for=USEFUL_FOR)


def coaches_of(athlete: Athlete) -> list[Coach]:
    today = timezone.now().date()
    rows = CoachAthlete.objects.filter(athlete=athlete, since__lte=today)
    current = rows.filter(Q(until__isnull=True) | Q(until__gte=today)).values("coach")
    found = list(Coach.objects.filter(pk__in=current, user__is_active=True).select_related("user"))
    return found or list(Coach.objects.filter(is_head=True, user__is_active=True).select_related("user"))


def link_of(values: dict[str, Any]) -> str:
    """Made when the mail is sent, and stored nowhere."""
    return answering.address_of(Message.objects.get(pk=values["message"]))
