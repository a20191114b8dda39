"""Changes to a running schedule that a coach has made and not sent yet."""

from __future__ import annotations

from django.db import models
from django.db.models import UniqueConstraint

from athletes.models import Coach
from plans.models.schedule import Schedule


class SeasonDraft(models.Model):
    """One a coach and schedule; it outlives the browser. `plans.editing` reads and writes the steps.

    `revision` counts every change of the draft: two windows of one coach overwrite nothing of each other.
    """

    schedule = models.ForeignKey(Schedule, on_delete=models.CASCADE, related_name="drafts")
    coach = models.ForeignKey(Coach, on_delete=models.CASCADE, related_name="+")
    revision = models.PositiveIntegerField(default=0)
    steps = models.JSONField(default=list)
    words = models.CharField(max_length=300, blank=True)
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [UniqueConstraint(fields=["schedule", "coach"], name="one_draft_a_schedule_and_coach")]
