"""Handouts that were made, and batches of them for the printer."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import UniqueConstraint

from athletes.models import Athlete, Coach, Group


class Handout(models.Model):
    """One athlete's page for one week. Made again only when its content changed."""

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="handouts")
    first_day = models.DateField()
    content_hash = models.CharField(max_length=64)
    file = models.CharField(max_length=120)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            UniqueConstraint(fields=["athlete", "first_day", "content_hash"], name="one_handout_a_content")
        ]


class HandoutBatch(models.Model):
    """One file for the printer, or a file each in a zip. `pages` counts the athletes with such a week."""

    SHAPES = [("one", "one file for the printer"), ("each", "a file for each athlete, in a zip")]

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    coach = models.ForeignKey(Coach, on_delete=models.CASCADE, related_name="+")
    group = models.ForeignKey(Group, null=True, blank=True, on_delete=models.SET_NULL)
    first_day = models.DateField()
    made_at = models.DateTimeField()
    athletes = models.ManyToManyField(Athlete, related_name="+")
    shape = models.CharField(max_length=4, choices=SHAPES, default="one")
    file = models.CharField(max_length=120, blank=True)
    # What became of the athletes, once the file is there: pages in it, and of these the ones made anew.
    pages = models.PositiveIntegerField(default=0)
    made_anew = models.PositiveIntegerField(default=0)
    scheduled = models.BooleanField(default=False)

    class Meta:
        ordering = ["-made_at"]
