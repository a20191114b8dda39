"""Where and when a group meets, who is expected there and who came.

A weekly meeting is a row a week: one can be moved or called off without touching the others. Rows made together share
their `series`, so that "this and the later ones" can be said.
"""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint

from athletes.models import Athlete, Group


class GroupSession(models.Model):
    """`at` is by the practice's clock. Without `steps` each one runs what their own plan says."""

    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="sessions")
    series = models.UUIDField(default=uuid.uuid4, db_index=True)
    day = models.DateField(db_index=True)
    at = models.TimeField(null=True, blank=True)
    place = models.CharField(max_length=80)
    steps = models.CharField(max_length=400, blank=True)
    note = models.CharField(max_length=200, blank=True)
    called_off = models.BooleanField(default=False)
    # How often what a calendar shows was changed, and when last (RFC 5545: SEQUENCE, LAST-MODIFIED).
    changes = models.PositiveIntegerField(default=1)
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ["day", "at", "pk"]
        constraints = [
            UniqueConstraint(
                fields=["group", "day", "at", "place"], name="a_group_meets_once_at_a_time_and_place"
            ),
            CheckConstraint(condition=~Q(place=""), name="a_group_meets_somewhere"),
        ]

    def __str__(self) -> str:
        return f"{self.group}, {self.day}"


class Attendance(models.Model):
    """What a coach said of one athlete and one meeting. Nothing said: expected as the plan and the free days have it."""

    group_session = models.ForeignKey(GroupSession, on_delete=models.CASCADE, related_name="attendance")
    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="attendance")
    expected = models.BooleanField(null=True, blank=True)
    came = models.BooleanField(null=True, blank=True)

    class Meta:
        constraints = [
            UniqueConstraint(
                fields=["group_session", "athlete"], name="one_attendance_a_session_and_athlete"
            ),
            CheckConstraint(
                condition=Q(expected__isnull=False) | Q(came__isnull=False), name="attendance_says_something"
            ),
        ]
