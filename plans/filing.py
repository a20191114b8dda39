"""Entries that come from a file: one run from a watch, or a history of past runs. The same file counts once."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import NAMESPACE_URL, uuid5
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.utils import timezone

from athletes.models import Athlete, User
from athletes.running.history import PastRun
from athletes.running.paces import PaceCard
from athletes.running.tracks import Split, Track
from athletes.running.units import Units
from plans import recording
from plans.models import Log, LogFile, Session
from plans.recording import Entry, queue_rebalance
from plans.training.laps import find_pieces
from plans.training.profile import profile
from plans.training.steps import Session as Steps

ALIKE_PERCENT = 3


class SameFile(Exception):
    """This file was taken in before."""

    def __init__(self, known: LogFile) -> None:
        super().__init__("This file was taken in before.")
        self.known = known


def digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def known_file(athlete: Athlete, sha256: str) -> LogFile | None:
    return LogFile.objects.filter(athlete=athlete, sha256=sha256).first()


def facts_of(track: Track) -> dict[str, Any]:
    """What is kept of a run's file: sums and splits, no places."""
    return {
        "distance_mm": track.distance.mm,
        "moving_s": round(track.moving.s),
        "elapsed_s": round(track.elapsed.s),
        "climb_mm": track.climb_mm,
        "km": _values(track.splits("km")),
        "mi": _values(track.splits("mi")),
        "laps": _values(track.pieces()) if track.breaks else [],
    }


def _values(splits: Sequence[Split]) -> list[list[int]]:
    """[mm, s] each."""
    return [[split.distance.mm, round(split.duration.s)] for split in splits]


def pieces_of(track: Track, steps: Steps, card: PaceCard) -> list[list[int]]:
    """The planned hard pieces as run, [mm, s, planned s] each; empty where they can't be told apart."""
    found = find_pieces(track.samples, profile(steps, card))
    return [[piece.distance.mm, round(piece.duration.s), piece.planned_s] for piece in found]


def day_of(track: Track, athlete: Athlete) -> Any:
    """The calendar date of its start where the athlete is."""
    return track.started.astimezone(ZoneInfo(athlete.time_zone)).date()


def record_track(
    athlete: Athlete,
    session: Session | None,
    entry: Entry,
    *,
    sha256: str,
    name: str,
    facts: dict[str, Any],
    by: User,
) -> Log:
    """Store a run with the file it came from. Raises SameFile, and what `recording.record` raises."""
    try:
        with transaction.atomic():
            log = recording.record(athlete, session, entry, by=by)
            LogFile.objects.create(
                log=log, athlete=athlete, sha256=sha256, name=name[:120], at=timezone.now(), facts=facts
            )
            return log
    except IntegrityError as error:
        known = known_file(athlete, sha256)
        if known is None:
            raise
        raise SameFile(known) from error


@dataclass(frozen=True)
class Sifted:
    """Past runs that are new, and those that are here already (same day, about as far)."""

    new: tuple[PastRun, ...]
    here: tuple[PastRun, ...]
    units: Units


def sift(athlete: Athlete, runs: Sequence[PastRun]) -> Sifted:
    first = min((run.day for run in runs), default=athlete.today()) - timedelta(1)
    known: dict[Any, list[int]] = {}
    for log in Log.objects.standing().filter(athlete=athlete, day__gte=first, distance_mm__isnull=False):
        known.setdefault(log.day, []).append(log.distance_mm or 0)
    new: list[PastRun] = []
    here: list[PastRun] = []
    for run in runs:
        mm = run.distance.mm
        twice = any(abs(mm - there) * 100 <= ALIKE_PERCENT * mm for there in known.get(run.day, ()))
        (here if twice else new).append(run)
    return Sifted(tuple(new), tuple(here), "mi" if athlete.units == "mi" else "km")


def record_history(athlete: Athlete, runs: Sequence[PastRun], *, sha256: str, name: str, by: User) -> int:
    """Store past runs as runs outside the plan; how many. Raises SameFile when this file was taken in before."""
    now = timezone.now()
    try:
        with transaction.atomic():
            LogFile.objects.create(
                athlete=athlete, sha256=sha256, name=name[:120], at=now, facts={"runs": len(runs)}
            )
            Log.objects.bulk_create(
                Log(
                    entry_id=uuid5(NAMESPACE_URL, f"history:{athlete.pk}:{sha256}:{run.row}"),
                    athlete=athlete,
                    day=run.day,
                    time_zone=athlete.time_zone,
                    received_at=now,
                    by=by,
                    outcome="other",
                    distance_mm=run.distance.mm,
                    moving_s=round(run.time.s) if run.time else None,
                )
                for run in runs
            )
            queue_rebalance(athlete)
    except IntegrityError as error:
        known = known_file(athlete, sha256)
        if known is None:
            raise
        raise SameFile(known) from error
    return len(runs)
