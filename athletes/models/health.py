"""What the body says. For the athlete and their coaches only."""

from django.db import models
from django.db.models import CheckConstraint, Q
from django.utils import timezone

from athletes.models.people import Athlete, User


class HealthNote(models.Model):
    """A note that holds the schedule until a coach clears it.

    `kind` decides what is held: `rest` every run (fever, illness below the neck, pain that changes the stride),
    `easy` quality and steps up (any other illness or pain).
    """

    KINDS = [("rest", "no running"), ("easy", "easy running only")]
    CAUSES = [("ill", "illness"), ("pain", "pain"), ("other", "something else")]

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="health_notes")
    kind = models.CharField(max_length=4, choices=KINDS)
    cause = models.CharField(max_length=5, choices=CAUSES)
    words = models.CharField(max_length=400, blank=True)
    opened = models.DateField()
    changed_at = models.DateTimeField(
        default=timezone.now
    )  # when it last grew: whoever read it before has to again
    opened_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    closed = models.DateField(null=True, blank=True)
    closed_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    closed_by_name = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["-opened", "-id"]
        constraints = [
            # The name stays when the account is erased: someone signed for it.
            CheckConstraint(
                condition=Q(closed__isnull=True, closed_by_name="")
                | Q(closed__isnull=False) & ~Q(closed_by_name=""),
                name="a_closed_note_says_who_closed_it",
            ),
            CheckConstraint(
                condition=Q(closed__isnull=True) | Q(closed__gte=models.F("opened")),
                name="a_note_closes_after_it_opens",
            ),
        ]

    @property
    def is_open(self) -> bool:
        return self.closed is None


class NoteReading(models.Model):
    """That a coach read a health note, once a day. The athlete sees it. The name stays without the account."""

    note = models.ForeignKey(HealthNote, on_delete=models.CASCADE, related_name="readings")
    reader = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    reader_name = models.CharField(max_length=80)
    day = models.DateField()
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at"]
        constraints = [
            models.UniqueConstraint(fields=["note", "reader", "day"], name="a_reading_once_a_day_and_reader")
        ]


class Screening(models.Model):
    """The health questions before a first plan, and who cleared a yes."""

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="screenings")
    at = models.DateTimeField()
    answers = models.JSONField()
    cleared_by_name = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["-at"]
