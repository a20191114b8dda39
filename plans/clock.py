"""One clock for everybody who carries jobs: the database's. Two machines' clocks differ, and a lease is a promise in time."""

from __future__ import annotations

from datetime import datetime

from django.db import connection
from django.utils import timezone


def shared_now() -> datetime:
    """The database server's time, also inside a transaction. With SQLite there is one machine, and so one clock."""
    if connection.vendor != "postgresql":
        return timezone.now()
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        now: datetime = cursor.fetchone()[0]
    return now
