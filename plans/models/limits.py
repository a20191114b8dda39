"""Guard rails a coach sets: for the practice, a template or an athlete. The nearest wins, limit by limit."""

from __future__ import annotations

from django.db import models
from django.db.models import CheckConstraint, Q

from athletes.models import Athlete, Practice
from plans.models.template import Template


class GuardRails(models.Model):
    practice = models.OneToOneField(
        Practice, null=True, blank=True, on_delete=models.CASCADE, related_name="rails"
    )
    template = models.OneToOneField(
        Template, null=True, blank=True, on_delete=models.CASCADE, related_name="rails"
    )
    athlete = models.OneToOneField(
        Athlete, null=True, blank=True, on_delete=models.CASCADE, related_name="rails"
    )
    # Only the limits that differ, by their name in `plans.training.guardrails.Rails`.
    limits = models.JSONField(default=dict)

    class Meta:
        constraints = [
            CheckConstraint(
                condition=Q(practice__isnull=False, template__isnull=True, athlete__isnull=True)
                | Q(practice__isnull=True, template__isnull=False, athlete__isnull=True)
                | Q(practice__isnull=True, template__isnull=True, athlete__isnull=False),
                name="guard_rails_belong_to_exactly_one",
            )
        ]
