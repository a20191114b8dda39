"""Who is signed in where, and who tried."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.contrib.sessions.base_session import AbstractBaseSession, BaseSessionManager
from django.db import models
from django.utils import timezone

from athletes.models import User


class SessionManager(BaseSessionManager["DeviceSession"]):
    use_in_migrations = True


class DeviceSession(AbstractBaseSession):
    """A signed-in device. Django's own session with its user beside it, so that a person's can be listed and ended."""

    user = models.ForeignKey(User, null=True, on_delete=models.CASCADE, related_name="device_sessions")
    device = models.CharField(max_length=80, blank=True)
    began = models.DateTimeField(default=timezone.now)
    last_seen = models.DateTimeField(default=timezone.now)

    objects: ClassVar[SessionManager] = SessionManager()

    class Meta:
        ordering = ["-last_seen"]

    @classmethod
    def get_session_store_class(cls) -> type[DatabaseStore]:
        from coaching.sessions import SessionStore

        return SessionStore


class Attempt(models.Model):
    """One try at a door, counted for an account or an address; forgotten after a day.

    `subject` is a keyed hash: who tried can be counted, not read.
    """

    kind = models.CharField(max_length=10)
    subject = models.CharField(max_length=64)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["kind", "subject", "at"])]
