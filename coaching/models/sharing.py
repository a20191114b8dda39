"""What is given to an athlete by a secret address, and what is left of one who was erased."""

from __future__ import annotations

from datetime import time, timedelta

from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint
from django.utils import timezone

from athletes.models import Athlete, Coach

INVITED_FOR = timedelta(days=14)


class Invitation(models.Model):
    """A link that lets one person in, once. Only its hash is stored; the link is made anew from `nonce` and the key."""

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="invitations")
    coach = models.ForeignKey(Coach, null=True, on_delete=models.SET_NULL, related_name="+")
    nonce = models.CharField(max_length=32)
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            CheckConstraint(
                condition=Q(expires__gt=models.F("made_at")), name="invitation_ends_after_it_begins"
            )
        ]

    @property
    def is_open(self) -> bool:
        return self.used_at is None and timezone.now() < self.expires


class Feed(models.Model):
    """An athlete's calendar at a secret address. All-day unless it says when a run begins."""

    athlete = models.OneToOneField(Athlete, on_delete=models.CASCADE, related_name="feed")
    nonce = models.CharField(max_length=32)
    token_hash = models.CharField(max_length=64, unique=True)
    begins = models.TimeField(null=True, blank=True)
    made_at = models.DateTimeField()

    MORNING = time(7)


class FeedEvent(models.Model):
    """What a calendar was last told of a session: the digest of its words, and the count that may only grow."""

    feed = models.ForeignKey(Feed, on_delete=models.CASCADE, related_name="events")
    session_id = models.UUIDField()
    sequence = models.PositiveIntegerField()
    digest = models.CharField(max_length=32)
    at = models.DateTimeField()

    class Meta:
        constraints = [UniqueConstraint(fields=["feed", "session_id"], name="one_event_a_feed_and_session")]


class Erasure(models.Model):
    """That somebody was erased, when and by whom; not who it was."""

    at = models.DateTimeField()
    by_name = models.CharField(max_length=80)
    rows = models.PositiveIntegerField()

    class Meta:
        ordering = ["-at"]
