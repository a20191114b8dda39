"""What the coach's desk remembers for itself."""

from __future__ import annotations

from django.db import models
from django.db.models import UniqueConstraint

from athletes.models import Athlete, Coach
from plans.models import Proposal, Schedule


class RosterLine(models.Model):
    """What the roster says of one athlete, computed and kept: three thousand of them are too many for each look.

    Only derived: it may be deleted at any time, and `coaching.roster_lines` says when it no longer holds.
    """

    athlete = models.OneToOneField(Athlete, on_delete=models.CASCADE, related_name="roster_line")
    made_at = models.DateTimeField()
    until = models.DateTimeField()  # the athlete's next midnight: a day later other things are due
    schedule = models.ForeignKey(Schedule, null=True, on_delete=models.CASCADE, related_name="+")
    version = models.PositiveIntegerField(null=True)
    proposal = models.ForeignKey(Proposal, null=True, on_delete=models.SET_NULL, related_name="+")
    urgency = models.PositiveSmallIntegerField(default=99)  # of the first reason; 99 without one
    values = models.JSONField(default=dict)

    class Meta:
        indexes = [models.Index(fields=["urgency"])]


class Snooze(models.Model):
    """A reason that a coach has seen to: not shown again until that day."""

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="snoozes")
    rule = models.CharField(max_length=20)
    until = models.DateField()
    note = models.CharField(max_length=200, blank=True)
    by_name = models.CharField(max_length=80, blank=True)

    class Meta:
        constraints = [UniqueConstraint(fields=["athlete", "rule"], name="one_snooze_a_rule_and_athlete")]


class Phrase(models.Model):
    """A coach's own saved words, to put into a message."""

    coach = models.ForeignKey(Coach, on_delete=models.CASCADE, related_name="phrases")
    name = models.CharField(max_length=40)
    words = models.CharField(max_length=400)

    class Meta:
        ordering = ["name"]
        constraints = [UniqueConstraint(fields=["coach", "name"], name="one_phrase_a_coach_and_name")]


class SundayRound(models.Model):
    """How far a coach is with one week's round, and what went out in it."""

    coach = models.ForeignKey(Coach, on_delete=models.CASCADE, related_name="rounds")
    first_day = models.DateField()  # of the week that is prepared
    step = models.CharField(max_length=10, default="holds")
    began_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-first_day"]
        constraints = [UniqueConstraint(fields=["coach", "first_day"], name="one_round_a_coach_and_week")]
