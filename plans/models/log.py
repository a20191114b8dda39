"""What was run, or why not. An entry is never changed: a correction replaces it and history is kept."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint

from athletes.models import Athlete, User
from plans.models.schedule import Session

OUTCOMES = [("done", "done"), ("cut", "cut short"), ("missed", "missed"), ("other", "something else")]
REASONS = [
    ("time", "no time"),
    ("travel", "travel"),
    ("tired", "tired"),
    ("ill", "ill"),
    ("pain", "pain"),
]


class LogQuerySet(models.QuerySet["Log"]):
    def standing(self) -> LogQuerySet:
        return self.filter(replaced_by__isnull=True)


class Log(models.Model):
    """The entry's id is made by the phone, so that an entry sent twice counts once."""

    entry_id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="logs")
    session = models.ForeignKey(Session, null=True, blank=True, on_delete=models.CASCADE, related_name="logs")
    day = models.DateField()
    time_zone = models.CharField(max_length=60)
    received_at = models.DateTimeField()
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    outcome = models.CharField(max_length=6, choices=OUTCOMES)
    distance_mm = models.PositiveBigIntegerField(null=True, blank=True)
    moving_s = models.PositiveIntegerField(null=True, blank=True)
    effort = models.PositiveSmallIntegerField(null=True, blank=True)
    reason = models.CharField(max_length=6, choices=REASONS, blank=True)
    note = models.CharField(max_length=400, blank=True)
    # The coach who entered it for the athlete; empty: the athlete said it. The name stays without the account.
    by_coach = models.CharField(max_length=80, blank=True)
    replaced_by = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="replaces"
    )

    objects = LogQuerySet.as_manager()

    class Meta:
        ordering = ["day"]
        constraints = [
            UniqueConstraint(
                fields=["session"], condition=Q(replaced_by__isnull=True), name="one_standing_log_a_session"
            ),
            CheckConstraint(condition=Q(effort__isnull=True) | Q(effort__lte=10), name="effort_0_to_10"),
        ]
        indexes = [models.Index(fields=["athlete", "day"])]


class LogFile(models.Model):
    """A file that entries came from: one run's track, or a history of past runs (then `log` is empty).

    `facts` is what a page shows of it (`tracks.Track.to_values`), never the places: they are not kept.
    """

    log = models.ForeignKey(Log, null=True, blank=True, on_delete=models.CASCADE, related_name="files")
    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="log_files")
    sha256 = models.CharField(max_length=64)
    name = models.CharField(max_length=120)
    at = models.DateTimeField()
    facts = models.JSONField(default=dict)

    class Meta:
        ordering = ["-at"]
        constraints = [UniqueConstraint(fields=["athlete", "sha256"], name="the_same_file_once_an_athlete")]
