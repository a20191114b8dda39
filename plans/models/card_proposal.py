"""New paces that wait for the coach, with the card they would take the place of."""

from __future__ import annotations

from django.db import models
from django.db.models import Q, UniqueConstraint

from athletes.models import Athlete, PaceCard, Result, User
from athletes.running.paces import PaceCard as Card


class CardProposal(models.Model):
    """Computed from the results as they were; accepted, it becomes a pace card and is issued."""

    STATES = [(s, s) for s in ("open", "accepted", "refused", "superseded")]

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="card_proposals")
    made_at = models.DateTimeField()
    why = models.CharField(max_length=200)
    values = models.JSONField()
    formula = models.CharField(max_length=200)
    origin = models.CharField(max_length=200)
    result = models.ForeignKey(Result, null=True, on_delete=models.SET_NULL, related_name="+")
    # The card that stood when it was made: another one since, and the proposal is computed again.
    replaces = models.ForeignKey(PaceCard, null=True, on_delete=models.SET_NULL, related_name="+")
    # Days without a run that the paces allow for; None when they come from the results alone.
    days_off = models.PositiveSmallIntegerField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=STATES, default="open")
    decided_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)
    words = models.CharField(max_length=300, blank=True)
    card = models.ForeignKey(
        PaceCard, null=True, blank=True, on_delete=models.SET_NULL, related_name="proposals"
    )

    class Meta:
        ordering = ["-made_at", "-id"]
        constraints = [
            UniqueConstraint(
                fields=["athlete"], condition=Q(state="open"), name="one_open_card_proposal_an_athlete"
            )
        ]

    @property
    def paces(self) -> Card:
        return Card.from_values(self.values)
