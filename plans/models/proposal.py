"""A set of changes with reasons, waiting for the coach."""

from __future__ import annotations

from django.db import models
from django.db.models import Q, UniqueConstraint

from athletes.models import User
from plans.models.schedule import Schedule, Session


class Proposal(models.Model):
    STATES = [(s, s) for s in ("open", "accepted", "refused", "superseded", "undone")]

    KINDS = [("rebalance", "re-balancing"), ("refit", "fitted anew")]

    schedule = models.ForeignKey(Schedule, on_delete=models.CASCADE, related_name="proposals")
    kind = models.CharField(max_length=9, choices=KINDS, default="rebalance")
    base_version = models.PositiveIntegerField()
    made_at = models.DateTimeField()
    recomputed = models.BooleanField(default=False)
    inputs_digest = models.CharField(max_length=64)
    changes_digest = models.CharField(max_length=64)
    state = models.CharField(max_length=10, choices=STATES, default="open")
    # The alternative a coach chose instead of the plain answer; empty: the plain one.
    choice = models.CharField(max_length=40, blank=True)
    why = models.CharField(max_length=300)
    summary = models.CharField(max_length=400, blank=True)
    verdicts = models.JSONField(default=list)
    conflicts = models.JSONField(default=list)
    urgency = models.PositiveSmallIntegerField(default=9)
    # What the practice's own idea of small is judged by.
    cut_percent = models.PositiveSmallIntegerField(default=0)
    touches_key = models.BooleanField(default=False)
    small = models.BooleanField(default=False)
    # What the athlete reads: one sentence of what was issued and why.
    told = models.CharField(max_length=500, blank=True)
    decided_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)
    words = models.CharField(max_length=300, blank=True)
    # Of a refit: the template version, race and weeks it leads to, and what they were (`plans.offering`).
    refit = models.JSONField(default=dict, blank=True)
    issued_version = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            UniqueConstraint(
                fields=["schedule"], condition=Q(state="open"), name="one_open_proposal_a_schedule"
            ),
            UniqueConstraint(
                fields=["schedule", "inputs_digest", "changes_digest"],
                condition=Q(state__in=["refused", "undone"]),
                name="a_refusal_is_remembered_once",
            ),
        ]


class Change(models.Model):
    """One session before and after, with the rule, its numbers and a sentence."""

    proposal = models.ForeignKey(Proposal, on_delete=models.CASCADE, related_name="changes")
    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="changes")
    before = models.JSONField()
    after = models.JSONField()
    rule = models.CharField(max_length=60)
    numbers = models.JSONField(default=dict)
    sentence = models.CharField(max_length=300)

    class Meta:
        ordering = ["id"]
        constraints = [UniqueConstraint(fields=["proposal", "session"], name="one_change_a_session")]
