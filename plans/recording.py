"""Record what was run, or why not, and write the job that follows from it in the same transaction."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from uuid import NAMESPACE_URL, UUID, uuid5

from django.conf import settings
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
    severe: bool = False  # with ill or pain: fever, chest symptoms, or pain that changes the stride
    seen: UUID | None = None  # the entry the sender saw standing, and so means to replace


def likely_outcome(ran: int, planned: int) -> str:
    """Cut short where clearly less than planned was run (mm or s of both). Whoever enters it decides."""
    return "cut" if ran * 10 < planned * 8 else "done"


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
    standing = _standing(athlete, session, entry)
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
        by_coach="" if by.pk == athlete.user_id else str(by)[:80],
        outcome=entry.outcome,
        distance_mm=entry.distance_mm,
        moving_s=entry.moving_s,
        effort=entry.effort,
        reason=entry.reason,
        note=entry.note,
    )
    if entry.reason in ("ill", "pain"):
        open_hold(athlete, entry, by)
    queue_rebalance(athlete)
    return made


def _standing(athlete: Athlete, session: Session | None, entry: Entry) -> Log | None:
    """The entry this one would replace: the session's, or what became of the run outside the plan that it corrects."""
    if session:
        return Log.objects.standing().filter(session=session).first()
    one = Log.objects.filter(athlete=athlete, session=None, pk=entry.seen).first() if entry.seen else None
    while one is not None and one.replaced_by_id not in (None, one.pk):
        one = one.replaced_by
    return one if one is not None and one.replaced_by_id is None else None


def _record_again(athlete: Athlete, session: Session | None, entry: Entry, by: User) -> Log:
    with transaction.atomic():
        known = Log.objects.filter(entry_id=entry.entry_id, athlete=athlete).first()
        if known is not None:
            return known
        standing = Log.objects.standing().filter(session=session).first() if session else None
    if standing is None:
        raise ValueError("This entry's number belongs to another athlete's entry.")
    raise Clash(standing)


def take_back(log: Log) -> bool:
    """Say that an entry was a mistake: nothing stands in its place, and it stays in the history as its own replacement.

    False if another entry replaced it already.
    """
    with transaction.atomic():
        taken = Log.objects.filter(pk=log.pk, replaced_by__isnull=True).update(replaced_by=log.pk)
        if taken:
            queue_rebalance(log.athlete)
    return taken == 1


def as_planned_id(session: UUID, entries: int) -> UUID:
    """The number of "as planned" said of a session that has so many entries: said twice, it counts once."""
    return uuid5(NAMESPACE_URL, f"as-planned:{session}:{entries}")


def open_hold(athlete: Athlete, entry: Entry, by: User) -> HealthNote:
    """Illness or pain holds quality and steps up until a coach clears it; one open note is enough.

    A severe one holds every run: an open note grows with it, and never shrinks.
    """
    kind = "rest" if entry.severe else "easy"
    note = athlete.health_notes.filter(closed__isnull=True).first()
    if note is None:
        made = HealthNote.objects.create(
            athlete=athlete,
            kind=kind,
            cause=entry.reason,
            words=entry.note,
            opened=min(entry.day, athlete.today()),
            opened_by=by,
        )
        tell_coaches(made)
        return made
    grow_hold(note, entry, kind)
    return note


def grow_hold(note: HealthNote, entry: Entry, kind: str) -> None:
    """What is said on top of an open note is added to it, and the coaches read it again."""
    graver, more = kind == "rest" and note.kind != "rest", entry.note and entry.note not in note.words
    if not graver and not more:
        return
    if graver:
        note.kind = "rest"
    if more:
        note.words = "\n".join(filter(None, [note.words, entry.note]))[-400:]
    note.changed_at = timezone.now()
    note.save(update_fields=["kind", "words", "changed_at"])
    tell_coaches(note)


def tell_coaches(note: HealthNote) -> None:
    """The desk has it at once; where a mail server is set, a job tells the coaches that there is a note to read."""
    if settings.EMAIL_HOST:
        enqueue("health-mail", str(note.pk))


def say_unwell(athlete: Athlete, entry: Entry, by: User) -> HealthNote:
    """Illness or pain without a run to log it with."""
    with transaction.atomic():
        note = open_hold(athlete, entry, by)
        queue_rebalance(athlete)
    return note


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
    """Note days with fewer minutes, or none. The same days said twice are one row."""
    with transaction.atomic():
        made, _ = TimeOff.objects.get_or_create(
            athlete=athlete, first_day=first, last_day=last, minutes=minutes, kind=kind
        )
        queue_rebalance(athlete)
    return made


def free_again(off: TimeOff) -> None:
    """Days that were to be off are free after all."""
    with transaction.atomic():
        athlete = off.athlete
        off.delete()
        queue_rebalance(athlete)
