"""Work to be done: a row written in the same transaction as what caused it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q, UniqueConstraint

from athletes.models import Athlete


class Job(models.Model):
    STATES = [(s, s) for s in ("waiting", "running", "done", "failed")]

    kind = models.CharField(max_length=20)
    key = models.CharField(max_length=80)
    athlete = models.ForeignKey(Athlete, null=True, blank=True, on_delete=models.CASCADE, related_name="jobs")
    state = models.CharField(max_length=7, choices=STATES, default="waiting")
    made_at = models.DateTimeField()
    not_before = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    done_count = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    finished_at = models.DateTimeField(null=True, blank=True)
    error = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            UniqueConstraint(
                fields=["kind", "key"], condition=Q(state="waiting"), name="one_waiting_job_a_key"
            )
        ]
        indexes = [models.Index(fields=["state", "not_before"])]
