"""How fast an athlete is, on what evidence."""

from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint

from athletes.models.people import Athlete
from athletes.running.paces import PaceCard as Card


class Result(models.Model):
    """A race or a time trial. One that does not count is set aside with a reason, never deleted."""

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="results")
    day = models.DateField()
    distance_mm = models.PositiveBigIntegerField()
    time_ms = models.PositiveBigIntegerField()
    name = models.CharField(max_length=80, blank=True)
    set_aside_reason = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["-day", "-id"]
        constraints = [
            CheckConstraint(condition=Q(distance_mm__gt=0), name="result_has_a_distance"),
            CheckConstraint(condition=Q(time_ms__gt=0), name="result_has_a_time"),
        ]


class PaceCard(models.Model):
    """An athlete's paces as of one day. Never updated: a schedule's version names the card it was issued with."""

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="pace_cards")
    number = models.PositiveIntegerField()
    made_on = models.DateField()
    result = models.ForeignKey(Result, null=True, on_delete=models.SET_NULL)
    formula = models.CharField(max_length=200)
    origin = models.CharField(max_length=200)
    values = models.JSONField()

    class Meta:
        ordering = ["-number"]
        constraints = [UniqueConstraint(fields=["athlete", "number"], name="one_pace_card_a_number")]

    @property
    def card(self) -> Card:
        return Card.from_values(self.values)
