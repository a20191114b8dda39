"""A template offered to many at once: who was chosen, what fitting made of it for each, what was issued."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import UniqueConstraint

from athletes.models import Athlete, Coach, Group
from plans.models.schedule import Race
from plans.models.template import TemplateVersion


class Assignment(models.Model):
    """One template version for many athletes. Nothing is issued before the coach has seen the table."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    coach = models.ForeignKey(Coach, on_delete=models.CASCADE, related_name="+")
    template_version = models.ForeignKey(TemplateVersion, on_delete=models.CASCADE, related_name="+")
    group = models.ForeignKey(Group, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    race = models.ForeignKey(Race, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    start = models.DateField(null=True, blank=True)
    joining = models.BooleanField(default=False)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["-made_at"]


class AssignmentRow(models.Model):
    """One athlete of it. `digest` is of the schedule the coach was shown: another one is not issued unseen."""

    STATES = [
        ("waiting", "waiting"),
        ("ready", "ready to issue"),
        ("refused", "can't be fitted"),
        ("chosen", "being issued"),
        ("issued", "issued"),
    ]

    assignment = models.ForeignKey(Assignment, on_delete=models.CASCADE, related_name="rows")
    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="+")
    state = models.CharField(max_length=8, choices=STATES, default="waiting")
    said = models.JSONField(default=dict)
    digest = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["athlete__name"]
        constraints = [UniqueConstraint(fields=["assignment", "athlete"], name="once_in_an_assignment")]
