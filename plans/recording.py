"""Record what was run, or why not, and write the job that follows from it in the same transaction."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from athletes.models import Athlete, HealthNote, TimeOff, User
from plans.jobs import enqueue
from plans.models import Job, Log, Session


class Clash(Exception):
    """Another entry stands for this session that the sender has not seen."""

    def __init__(self, standing: Log) -> None:
        super().__init__("Another entry stands for this session.")
        self.standing = standing


@dataclass(frozen=True)
class Entry:
    """One entry as it was made. `entry_id` is made where the entry is made: sent twice, it counts once."""

    entry_id: UUID
    day: date
    outcome: str
    distance_mm: int | None = None
    moving_s: int | None = None
    effort: int | None = None
    reason: str = ""
    note: str = ""
    seen: UUID | None = None  # the entry the sender saw standing, and so means to replace


def queue_rebalance(athlete: Athlete) -> Job:
    return enqueue("rebalance", str(athlete.pk), athlete=athlete)


def record(athlete: Athlete, session: Session | None, entry: Entry, *, by: User) -> Log:
    """Store the entry and queue the athlete's re-balancing. The same entry again gives the row that stands.

    Raises Clash when another entry than the one seen stands for the session, ValueError when the entry's number is
    another athlete's.
    """
    try:
        with transaction.atomic():
            return _record(athlete, session, entry, by)
    except IntegrityError:  # the same entry, or another for the session, came in at the same moment
        return _record_again(athlete, session, entry, by)


def _record(athlete: Athlete, session: Session | None, entry: Entry, by: User) -> Log:
    known = Log.objects.filter(entry_id=entry.entry_id, athlete=athlete).first()
    if known is not None:
        return known
    standing = Log.objects.standing().filter(session=session).first() if session else None
    if standing is not None:
        if standing.pk != entry.seen:
            raise Clash(standing)
        # Named before it is there: the key is checked when the transaction ends.
        Log.objects.filter(pk=standing.pk).update(replaced_by=entry.entry_id)
    made = Log.objects.create(
        entry_id=entry.entry_id,
        athlete=athlete,
        session=session,
        day=entry.day,
        time_zone=athlete.time_zone,
        received_at=timezone.now(),
        by=by,
        outcome=entry.outcome,
        distance_mm=entry.distance_mm,
        moving_s=entry.moving_s,
        effort=entry.effort,
        reason=entry.reason,
        note=entry.note,
    )
    if entry.outcome == "missed" and entry.reason in ("ill", "pain"):
        open_hold(athlete, entry, by)
    queue_rebalance(athlete)
    return made


def _record_again(athlete: Athlete, session: Session | None, entry: Entry, by: User) -> Log:
    with transaction.atomic():
        known = Log.objects.filter(entry_id=entry.entry_id, athlete=athlete).first()
        if known is not None:
            return known
        standing = Log.objects.standing().filter(session=session).first() if session else None
    if standing is None:
        raise ValueError("This entry's number belongs to another athlete's entry.")
    raise Clash(standing)


def open_hold(athlete: Athlete, entry: Entry, by: User) -> HealthNote | None:
    """Illness or pain holds quality and steps up until a coach clears it; one open note is enough."""
    if athlete.health_notes.filter(closed__isnull=True).exists():
        return None
    return HealthNote.objects.create(
        athlete=athlete, kind="easy", cause=entry.reason, words=entry.note, opened=entry.day, opened_by=by
    )


def clear_hold(note: HealthNote, *, by: User) -> bool:
    """Close the hold; only a coach does. False if it was closed already."""
    with transaction.atomic():
        closed = HealthNote.objects.filter(pk=note.pk, closed__isnull=True).update(
            closed=max(note.athlete.today(), note.opened), closed_by=by, closed_by_name=str(by)
        )
        if closed:
            queue_rebalance(note.athlete)
    return closed == 1


def take_time_off(athlete: Athlete, first: date, last: date, minutes: int, kind: str) -> TimeOff:
    with transaction.atomic():
        made = TimeOff.objects.create(
            athlete=athlete, first_day=first, last_day=last, minutes=minutes, kind=kind
        )
        queue_rebalance(athlete)
    return made
