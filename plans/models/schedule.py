"""A plan come true for one athlete, version by version.

Version n is the rows with `from_version <= n < to_version`; a version writes only what changed.
A session's identity (its UUID) is for life: address, calendar UID and logs point at it.
"""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Self, TypeVar

from django.db import models
from django.db.models import CheckConstraint, F, Q, UniqueConstraint

from athletes.models import WEEKDAYS, Athlete, Coach, PaceCard, User
from plans.models.template import ROLES, WEEK_KINDS, TemplateVersion


class Race(models.Model):
    name = models.CharField(max_length=80)
    day = models.DateField()
    distance_mm = models.PositiveBigIntegerField()

    class Meta:
        ordering = ["day", "name"]
        constraints = [CheckConstraint(condition=Q(distance_mm__gt=0), name="race_has_a_distance")]

    def __str__(self) -> str:
        return self.name


class RaceEntry(models.Model):
    PURPOSES = [("goal", "goal race"), ("tune-up", "tune-up race")]

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="race_entries")
    race = models.ForeignKey(Race, on_delete=models.CASCADE, related_name="entries")
    purpose = models.CharField(max_length=8, choices=PURPOSES, default="goal")
    goal_ms = models.PositiveBigIntegerField(null=True, blank=True)

    class Meta:
        constraints = [UniqueConstraint(fields=["athlete", "race"], name="once_in_a_race")]


class Schedule(models.Model):
    STATES = [("running", "running"), ("paused", "paused"), ("ended", "ended")]

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="schedules")
    # Of the part under way (`SchedulePart`), where plans were appended.
    template_version = models.ForeignKey(TemplateVersion, null=True, on_delete=models.PROTECT)
    # The next goal still ahead; once all have been run, the last one.
    race_entry = models.ForeignKey(RaceEntry, null=True, on_delete=models.RESTRICT)
    week_starts = models.PositiveSmallIntegerField(default=0, choices=list(enumerate(WEEKDAYS)))
    first_day = models.DateField()
    current_version = models.PositiveIntegerField(default=1)
    # The version whose content is what the coach wrote and signed: re-balancing never goes above it.
    plan_version = models.PositiveIntegerField(default=1)
    state = models.CharField(max_length=7, choices=STATES, default="running")
    paused_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            UniqueConstraint(
                fields=["athlete"], condition=Q(state="running"), name="one_running_schedule_an_athlete"
            )
        ]


class SchedulePart(models.Model):
    """One plan of several in a row: a schedule to which nothing was appended has no rows here.

    A session belongs to the part on whose days it stands.
    """

    schedule = models.ForeignKey(Schedule, on_delete=models.CASCADE, related_name="parts")
    first_day = models.DateField()
    template_version = models.ForeignKey(TemplateVersion, null=True, on_delete=models.PROTECT)
    race_entry = models.ForeignKey(RaceEntry, null=True, on_delete=models.RESTRICT)

    class Meta:
        ordering = ["first_day"]
        constraints = [
            UniqueConstraint(fields=["schedule", "first_day"], name="one_part_of_a_schedule_a_first_day")
        ]


class ScheduleVersion(models.Model):
    """Who issued what, when and why. Never updated."""

    schedule = models.ForeignKey(Schedule, on_delete=models.CASCADE, related_name="versions")
    number = models.PositiveIntegerField()
    issued_at = models.DateTimeField()
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    by_name = models.CharField(max_length=80, blank=True)
    cause = models.CharField(max_length=300)
    # What the coach says to the athlete about it.
    words = models.CharField(max_length=300, blank=True)
    pace_card = models.ForeignKey(PaceCard, null=True, on_delete=models.RESTRICT)
    rails = models.JSONField(default=dict)

    class Meta:
        ordering = ["number"]
        constraints = [UniqueConstraint(fields=["schedule", "number"], name="one_schedule_version_a_number")]


_Row = TypeVar("_Row", bound=models.Model)


class VersionedQuerySet(models.QuerySet[_Row]):
    def at(self, version: int) -> Self:
        return self.filter(from_version__lte=version).filter(
            Q(to_version__isnull=True) | Q(to_version__gt=version)
        )


class ScheduleWeek(models.Model):
    schedule = models.ForeignKey(Schedule, on_delete=models.CASCADE, related_name="weeks")
    first_day = models.DateField()
    kind = models.CharField(max_length=8, choices=WEEK_KINDS)
    purpose = models.CharField(max_length=400)
    from_version = models.PositiveIntegerField(default=1)
    to_version = models.PositiveIntegerField(null=True, blank=True)

    objects = VersionedQuerySet["ScheduleWeek"].as_manager()

    class Meta:
        ordering = ["first_day"]
        constraints = [
            UniqueConstraint(
                fields=["schedule", "first_day"],
                condition=Q(to_version__isnull=True),
                name="one_live_week_a_first_day",
            )
        ]


class Session(models.Model):
    """The identity of a session, for life."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    schedule = models.ForeignKey(Schedule, on_delete=models.CASCADE, related_name="sessions")
    template_key = models.UUIDField(null=True, blank=True)
    repeat = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [
            UniqueConstraint(fields=["schedule", "template_key", "repeat"], name="one_session_a_template_key")
        ]


class SessionIssue(models.Model):
    """What was issued about a session, from one version of the schedule to another."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="issues")
    schedule = models.ForeignKey(Schedule, on_delete=models.CASCADE, related_name="issues")
    from_version = models.PositiveIntegerField()
    to_version = models.PositiveIntegerField(null=True, blank=True)
    day = models.DateField()
    slot = models.PositiveSmallIntegerField(default=0)
    role = models.CharField(max_length=8, choices=ROLES)
    supporting = models.BooleanField(default=False)
    steps = models.CharField(max_length=400)
    purpose = models.CharField(max_length=400, blank=True)
    planned_mm = models.PositiveBigIntegerField(default=0)
    planned_s = models.PositiveIntegerField(default=0)
    pinned_by = models.ForeignKey(Coach, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    # How it differs from what the coach wrote, as the planner wants to be told it again.
    bent = models.JSONField(default=dict)
    sequence = models.PositiveIntegerField(default=0)
    removed = models.BooleanField(default=False)

    objects = VersionedQuerySet["SessionIssue"].as_manager()

    class Meta:
        ordering = ["day", "slot"]
        constraints = [
            UniqueConstraint(fields=["session", "from_version"], name="one_issue_a_session_and_version"),
            UniqueConstraint(
                fields=["session"], condition=Q(to_version__isnull=True), name="one_live_issue_a_session"
            ),
            UniqueConstraint(
                fields=["schedule", "day", "slot"],
                condition=Q(to_version__isnull=True, removed=False),
                name="one_live_session_a_slot",
            ),
            CheckConstraint(
                condition=Q(to_version__isnull=True) | Q(to_version__gt=F("from_version")),
                name="an_issue_ends_after_it_begins",
            ),
        ]
        indexes = [models.Index(fields=["schedule", "day"])]


def version_before(versions: list[tuple[int, datetime]], moment: datetime) -> int:
    """The number that stood at `moment`; the first one if none had been issued yet."""
    stood = [number for number, issued_at in versions if issued_at < moment]
    return max(stood, default=min(number for number, _ in versions))
