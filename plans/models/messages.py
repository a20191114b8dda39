"""What coach and athlete say to each other: one thread an athlete, some of it about a session."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint

from athletes.models import Athlete, Coach, User
from plans.models.schedule import Session

MOST_WORDS = 1000


class Sending(models.Model):
    """The same words said to many at once. Each of them gets a message of their own: an answer is for the coach alone.

    `to` says whom in words and never by name: it stays when one of them is erased.
    """

    key = models.UUIDField(primary_key=True, default=uuid.uuid4)  # the form's: sent twice, it counts once
    coach = models.ForeignKey(Coach, null=True, on_delete=models.SET_NULL, related_name="sendings")
    coach_name = models.CharField(max_length=80)
    to = models.CharField(max_length=200)
    words = models.CharField(max_length=MOST_WORDS)
    day = models.DateField(null=True)  # each one's own session of that day goes with it
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at"]


class Message(models.Model):
    """One word in an athlete's thread. The author's name stays without the account.

    `answers`: the message whose mailed link this came by; a link answers once.
    """

    key = models.UUIDField(
        unique=True, default=uuid.uuid4
    )  # made where it is written: sent twice, it counts once
    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="messages")
    session = models.ForeignKey(Session, null=True, on_delete=models.SET_NULL, related_name="words")
    author = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    author_name = models.CharField(max_length=80)
    by_coach = models.BooleanField()
    words = models.CharField(max_length=MOST_WORDS)
    at = models.DateTimeField()
    on_paper = models.BooleanField(
        default=False
    )  # also on the next handout, which hangs where others read it
    sending = models.ForeignKey(Sending, null=True, on_delete=models.SET_NULL, related_name="messages")
    answers = models.OneToOneField("self", null=True, on_delete=models.SET_NULL, related_name="answer")

    class Meta:
        ordering = ["at", "id"]
        indexes = [models.Index(fields=["athlete", "at"])]
        constraints = [
            CheckConstraint(
                condition=Q(by_coach=True) | Q(on_paper=False, sending__isnull=True),
                name="only_a_coach_writes_to_many_or_on_paper",
            ),
            CheckConstraint(
                condition=Q(by_coach=False) | Q(answers__isnull=True), name="only_an_athlete_answers_a_mail"
            ),
        ]


class Receipt(models.Model):
    """That somebody has read a message: the athlete, or each coach for themself."""

    message = models.ForeignKey(Message, on_delete=models.CASCADE, related_name="receipts")
    reader = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            UniqueConstraint(fields=["message", "reader"], name="one_receipt_a_message_and_reader")
        ]
