"""Mail that went out, or did not."""

from __future__ import annotations

from django.db import models

from athletes.models import User


class Delivery(models.Model):
    """One message to one person, written in the transaction that caused it, sent by a job.

    `values` fill the template when it is sent and are emptied then: what a mail said is not kept.
    """

    STATES = [(s, s) for s in ("waiting", "sent", "failed")]

    kind = models.CharField(max_length=20)
    to = models.EmailField()
    user = models.ForeignKey(User, null=True, on_delete=models.CASCADE, related_name="deliveries")
    subject = models.CharField(max_length=150, blank=True)
    values = models.JSONField(default=dict)
    state = models.CharField(max_length=7, choices=STATES, default="waiting")
    error = models.CharField(max_length=300, blank=True)
    made_at = models.DateTimeField()
    useless_after = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at", "-id"]
