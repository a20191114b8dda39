"""The Celery face of the site's own upkeep."""

from __future__ import annotations

from celery import shared_task

from coaching import backing_up, roster_lines, tidying


@shared_task(name="coaching.tidy")
def tidy() -> None:
    tidying.tidy()
    backing_up.write_nightly_row()
    roster_lines.write_hourly_row()
