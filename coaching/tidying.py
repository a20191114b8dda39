"""Forget what has served: sessions that ran out, tries at the doors, old rows of mail, links nobody used."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.utils import timezone

from coaching.models import Attempt, Delivery, DeviceSession, Invitation

KEEP_ATTEMPTS = timedelta(days=1)
KEEP_INVITATIONS = timedelta(days=90)


def tidy() -> None:
    now = timezone.now()
    DeviceSession.objects.filter(expire_date__lt=now).delete()
    Attempt.objects.filter(at__lt=now - KEEP_ATTEMPTS).delete()
    Delivery.objects.filter(made_at__lt=now - timedelta(days=settings.KEEP_MAIL_DAYS)).delete()
    Invitation.objects.filter(expires__lt=now - KEEP_INVITATIONS).delete()
