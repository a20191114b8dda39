"""Change an athlete's free days, and write the job that re-balances with them in the same transaction."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.db import transaction

from athletes.models import DAY_FIELDS, Athlete, Availability
from plans.recording import queue_rebalance


@transaction.atomic
def set_free_days(athlete: Athlete, minutes: Sequence[int], from_day: date) -> bool:
    """Minutes free Monday to Sunday, from a day on. False, and nothing written, when that is what stands."""
    standing = athlete.availabilities.filter(valid_from__lte=from_day).last()
    if standing is not None and standing.minutes() == tuple(minutes):
        return False
    Availability.objects.update_or_create(
        athlete=athlete, valid_from=from_day, defaults=dict(zip(DAY_FIELDS, minutes, strict=True))
    )
    queue_rebalance(athlete)
    return True
