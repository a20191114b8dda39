"""Words of coaches among themselves. What coach and athlete say to each other is in `plans.models.messages`."""

from __future__ import annotations

from django.db import models
from django.db.models import CheckConstraint, Q

from athletes.models.people import Athlete, Coach


class DeskNote(models.Model):
    """What coaches note about an athlete for themselves. No page of the athlete's shows it; the export has it."""

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="desk_notes")
    coach = models.ForeignKey(Coach, null=True, on_delete=models.SET_NULL, related_name="+")
    coach_name = models.CharField(max_length=80)
    day = models.DateField()
    words = models.CharField(max_length=1000)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-day", "-id"]
        constraints = [CheckConstraint(condition=~Q(words=""), name="a_desk_note_says_something")]
