"""What somebody has not read yet, and that they have. Opening a page reads nothing: a page says so by a POST."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone

from athletes.models import Athlete, Coach, CoachAthlete, User
from plans.models import Message, Receipt


def by_athlete(athlete: Athlete) -> QuerySet[Message]:
    """Words of the coaches that the athlete has not read."""
    return unread_of(athlete.messages.filter(by_coach=True), athlete.user_id)


def by_coach(coach: Coach, today: date | None = None) -> QuerySet[Message]:
    """Words of athletes that this coach has not read, said since the athlete is theirs.

    A head coach may see everybody; only those whom no coach has are a head coach's to answer.
    """
    day = today or timezone.now().date()
    current = CoachAthlete.objects.filter(athlete=OuterRef("athlete"), since__lte=day)
    current = current.filter(Q(until__isnull=True) | Q(until__gte=day))
    mine = Exists(current.filter(coach=coach, since__lte=OuterRef("at__date")))
    theirs = Q(mine) | ~Q(Exists(current)) if coach.is_head else Q(mine)
    said = Message.objects.filter(theirs, by_coach=False, athlete__left_on__isnull=True)
    return unread_of(said, coach.user_id)


def unread_of(messages: QuerySet[Message], reader_id: int | None) -> QuerySet[Message]:
    read = Receipt.objects.filter(message=OuterRef("pk"), reader=reader_id)
    return messages.filter(~Exists(read))


def mark(messages: QuerySet[Message], reader: User) -> int:
    """Write down that this person has read them; how many of them were new."""
    now = timezone.now()
    fresh = list(unread_of(messages, reader.pk).order_by().values_list("pk", flat=True))
    rows = [Receipt(message_id=pk, reader=reader, at=now) for pk in fresh]
    Receipt.objects.bulk_create(rows, ignore_conflicts=True)
    return len(rows)


def with_reading(messages: QuerySet[Message]) -> QuerySet[Message]:
    """Each with `read`: whether the athlete has read it."""
    read = Receipt.objects.filter(message=OuterRef("pk"), reader=OuterRef("athlete__user"))
    return messages.annotate(read=Exists(read), to_name=F("athlete__name"))


def keys_of(texts: Iterable[str]) -> list[int]:
    """Numbers of messages as a form sends them; what is no number is left out."""
    return [int(text) for text in texts if text.isascii() and text.isdecimal() and len(text) < 19]
