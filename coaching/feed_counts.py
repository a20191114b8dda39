"""What a calendar was last told of each session, so that SEQUENCE and DTSTAMP never fall (RFC 5545, 3.8.7.4).

A number made up from what is there now falls when something goes: a group session that is removed takes its changes
along, and a session that leaves its group's day too. A calendar may then keep what it had.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import UTC, datetime
from uuid import UUID

from icalendar import Event

from coaching.models import Feed, FeedEvent

COUNTED = {"SEQUENCE", "DTSTAMP", "LAST-MODIFIED"}


def count_up(feed: Feed, events: Iterable[Event], now: datetime) -> None:
    """Let each event that says something else than last time count one up at least. Call while the feed is locked."""
    told = {one.session_id: one for one in FeedEvent.objects.filter(feed=feed)}
    new = []
    for event in events:
        session_id, digest = UUID(str(event["UID"])), digest_of(event)
        sequence, at = int(event.decoded("SEQUENCE")), event.decoded("DTSTAMP")
        if last := told.get(session_id):
            sequence = max(sequence, last.sequence + (digest != last.digest))
            same = (sequence, digest) == (last.sequence, last.digest)
            at = last.at if same else max(last.at, now.astimezone(UTC).replace(microsecond=0))
            stamp(event, sequence, at)
            if same:
                continue
        new.append(FeedEvent(feed=feed, session_id=session_id, sequence=sequence, digest=digest, at=at))
    FeedEvent.objects.bulk_create(
        new,
        update_conflicts=True,
        unique_fields=["feed", "session_id"],
        update_fields=["sequence", "digest", "at"],
    )


def digest_of(event: Event) -> str:
    said = [
        (name, repr(value.params), value.to_ical())
        for name, value in sorted(event.items())
        if name not in COUNTED
    ]
    return hashlib.sha256(repr(said).encode()).hexdigest()[:32]


def stamp(event: Event, sequence: int, at: datetime) -> None:
    for name, value in (("sequence", sequence), ("dtstamp", at), ("last-modified", at)):
        del event[name]
        event.add(name, value)
