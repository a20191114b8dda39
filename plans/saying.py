"""Say a word to an athlete, the same to many at once, or back to the coach.

Mail that a word is there is a job row, written with it, where a mail server is set; the page is there anyway.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from uuid import UUID, uuid4, uuid5

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import timezone

from athletes.models import Athlete, Coach, User
from plans import unread
from plans.jobs import enqueue
from plans.models import Message, Sending, Session, SessionIssue
from plans.reading import RUNS

FRESH, STILL_SHOWN = timedelta(days=28), timedelta(days=7)


def say(
    athlete: Athlete,
    words: str,
    *,
    by: User | None,
    by_coach: bool,
    key: UUID | None = None,
    session: Session | None = None,
    on_paper: bool = False,
) -> Message:
    """One word in the athlete's thread. Whoever answers has read what stood before.

    `key` is made where the words are written: with the same key it is the same message.
    """
    number = own_key(key or uuid4(), athlete, by_coach)
    try:
        with transaction.atomic():
            if known := Message.objects.filter(key=number).first():
                return known
            made = Message.objects.create(
                key=number,
                athlete=athlete,
                session=session,
                author=by,
                author_name=(str(by) if by_coach else athlete.name)[:80],
                by_coach=by_coach,
                words=words,
                at=timezone.now(),
                on_paper=on_paper,
            )
            if by is not None:
                unread.mark(athlete.messages.filter(by_coach=not by_coach, pk__lt=made.pk), by)
            if by_coach:
                queue_mail("message-mail", made.key)
            return made
    except IntegrityError:  # the same form came in at the same moment
        if known := Message.objects.filter(key=number).first():
            return known
        raise


def answer(message: Message, words: str, *, key: UUID | None = None) -> Message:
    """The athlete's answer to one mailed message, about the same session; the first answer stands."""
    user = message.athlete.user
    number = own_key(key or uuid4(), message.athlete, False)
    try:
        with transaction.atomic():
            return Message.objects.create(
                key=number,
                athlete=message.athlete,
                session=message.session,
                author=user,
                author_name=message.athlete.name[:80],
                by_coach=False,
                words=words,
                at=timezone.now(),
                answers=message,
            )
    except IntegrityError:  # sent twice: there is one answer by one link
        return Message.objects.get(answers=message)


def own_key(key: UUID, athlete: Athlete, by_coach: bool) -> UUID:
    """The key within one thread, so that nobody can take another's."""
    return uuid5(key, f"{athlete.pk}:{by_coach}")


def say_to_many(
    athletes: Sequence[Athlete],
    words: str,
    *,
    coach: Coach,
    to: str,
    key: UUID,
    day: date | None = None,
    on_paper: bool = False,
) -> Sending:
    """The same words to each of them, in a constant number of queries; with `day`, each one's session of that day."""
    now = timezone.now()
    with transaction.atomic():
        sending, fresh = Sending.objects.get_or_create(
            key=key,
            defaults={
                "coach": coach,
                "coach_name": str(coach)[:80],
                "to": to[:200],
                "words": words,
                "day": day,
                "at": now,
            },
        )
        if not fresh:
            return sending
        sessions = sessions_on(athletes, day) if day else {}
        Message.objects.bulk_create(
            Message(
                key=own_key(key, one, True),
                athlete=one,
                session_id=sessions.get(one.pk),
                author=coach.user,
                author_name=str(coach)[:80],
                by_coach=True,
                words=words,
                at=now,
                on_paper=on_paper,
                sending=sending,
            )
            for one in athletes
        )
        queue_mail("sending-mail", key)
    return sending


def sessions_on(athletes: Sequence[Athlete], day: date) -> dict[int, UUID]:
    """Each athlete's run of that day, the key one before another."""
    live = SessionIssue.objects.filter(
        schedule__athlete__in=athletes,
        schedule__state="running",
        day=day,
        to_version=None,
        removed=False,
        role__in=RUNS,
    )
    rows = live.order_by("-slot").values_list("schedule__athlete_id", "session_id")
    return dict(rows)


def queue_mail(kind: str, key: UUID) -> None:
    if settings.EMAIL_HOST:
        enqueue(kind, str(key))


def shown_today(athlete: Athlete) -> list[Message]:
    """What the first page shows, the oldest first: what was not read yet; else the last word, for a week."""
    now = timezone.now()
    fresh = unread.with_reading(athlete.messages.filter(by_coach=True, at__gte=now - FRESH))
    newest = list(fresh.order_by("-at", "-pk")[:3])
    waiting = [one for one in reversed(newest) if not one.read]  # type: ignore[attr-defined]
    return waiting or [one for one in newest[:1] if one.at >= now - STILL_SHOWN]
