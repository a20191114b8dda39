"""Forget what has served: sessions that ran out, tries at the doors, old rows of mail, links nobody used.

And what a practice has no more reason to keep: the health notes and the words of athletes who left it long ago. Their
runs and schedules stay until they are erased. The beat calls this each hour (`coaching.tasks`); twice is once.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db.models import QuerySet
from django.utils import timezone

from athletes.models import Athlete, DeskNote, HealthNote, NoteReading, Screening
from coaching.models import Attempt, Delivery, DeviceSession, Invitation
from plans.models import Message

KEEP_ATTEMPTS = timedelta(days=1)
KEEP_INVITATIONS = timedelta(days=90)


def tidy() -> None:
    now = timezone.now()
    DeviceSession.objects.filter(expire_date__lt=now).delete()
    Attempt.objects.filter(at__lt=now - KEEP_ATTEMPTS).delete()
    if days := settings.KEEP_MAIL_DAYS:
        Delivery.objects.filter(made_at__lt=now - timedelta(days=days)).delete()
    Invitation.objects.filter(expires__lt=now - KEEP_INVITATIONS).delete()
    if days := settings.KEEP_READINGS_DAYS:
        NoteReading.objects.filter(at__lt=now - timedelta(days=days)).delete()
    if days := settings.KEEP_LEFT_HEALTH_DAYS:
        for kind in (HealthNote, Screening):
            kind.objects.filter(athlete__in=left_before(now, days)).delete()
    if days := settings.KEEP_LEFT_WORDS_DAYS:
        for words in (Message, DeskNote):
            words.objects.filter(athlete__in=left_before(now, days)).delete()


def left_before(now: datetime, days: int) -> QuerySet[Athlete]:
    return Athlete.objects.filter(left_on__lt=(now - timedelta(days=days)).date())


def kept_for() -> list[tuple[str, int]]:
    """What is kept and for how many days, as a page says it; 0 is until it is erased."""
    return [
        ("Which mail went out, and whether it arrived", settings.KEEP_MAIL_DAYS),
        ("Which coach read which health note", settings.KEEP_READINGS_DAYS),
        ("Health notes and answers of athletes who left", settings.KEEP_LEFT_HEALTH_DAYS),
        ("Messages with athletes who left, and notes about them", settings.KEEP_LEFT_WORDS_DAYS),
    ]
