"""A race's course, an entry's plan for the day, and what became of it."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import CheckConstraint, Q

from athletes.models import User
from plans.models.schedule import Race, RaceEntry
from plans.training.raceday import SHAPES


class RaceCourse(models.Model):
    """The course as it was read from a file: cleaned heights along the way, never the places."""

    race = models.OneToOneField(Race, on_delete=models.CASCADE, related_name="course")
    file_name = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64)
    # As `athletes.running.course.Course.to_values` gives it.
    values: models.JSONField[Any, Any] = models.JSONField()
    by_name = models.CharField(max_length=80, blank=True)
    at = models.DateTimeField()


class RacePlan(models.Model):
    """What a coach chose for one entry. Empty fields mean: as the program proposes."""

    entry = models.OneToOneField(RaceEntry, on_delete=models.CASCADE, related_name="plan")
    target_ms = models.PositiveBigIntegerField(null=True, blank=True)
    shape = models.CharField(max_length=10, choices=[(one.key, one.title) for one in SHAPES], default="even")
    air = models.FloatField(null=True, blank=True)
    humidity = models.FloatField(null=True, blank=True)
    wbgt = models.FloatField(null=True, blank=True)
    words = models.CharField(max_length=400, blank=True)
    by_name = models.CharField(max_length=80, blank=True)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            CheckConstraint(
                condition=Q(target_ms__isnull=True) | Q(target_ms__gt=0), name="target_takes_time"
            )
        ]


class RaceReport(models.Model):
    """Splits as they were run: [mm, ms since the start] each, the last one the finish."""

    entry = models.OneToOneField(RaceEntry, on_delete=models.CASCADE, related_name="report")
    marks: models.JSONField[Any, Any] = models.JSONField()
    source = models.CharField(max_length=5, choices=[("typed", "typed"), ("file", "from a file")])
    sha256 = models.CharField(max_length=64, blank=True)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    at = models.DateTimeField()
