"""What the athlete is told of the newest version: one honest sentence, details when asked for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from uuid import UUID

from athletes.running.units import Units
from plans.comparing import versions_apart
from plans.models import Proposal, Schedule, ScheduleVersion
from plans.reading import title_of
from plans.telling import Difference, on_day, summary


@dataclass(frozen=True)
class Told:
    """`details`: one line for each session still to come that is not as it was."""

    sentence: str
    details: tuple[str, ...]


def told_to(schedule: Schedule, today: date) -> Told | None:
    """Of the newest version, as long as something of it lies ahead. None when nothing does."""
    number = schedule.current_version
    if number < 2:
        return None
    version = ScheduleVersion.objects.get(schedule=schedule, number=number)
    units: Units = "mi" if schedule.athlete.units == "mi" else "km"
    apart = {
        pk: d
        for pk, d in versions_apart(schedule, number - 1, number).items()
        if max(c.day for c in (d.before, d.after) if c is not None) >= today
    }
    if not apart:
        return None
    proposal = (
        Proposal.objects.filter(schedule=schedule, issued_version=number, state="accepted")
        .prefetch_related("changes")
        .first()
    )
    reasons = {c.session_id: c.sentence for c in proposal.changes.all()} if proposal else {}
    lines = sorted(apart.items(), key=lambda pair: pair[1].seen.day)
    details = tuple(_line(pk, difference, reasons, units) for pk, difference in lines)
    if proposal is not None and proposal.told:
        return Told(proposal.told, details)
    changed = summary(apart.values(), units, schedule.week_starts)
    return Told(f"{changed}. {_because(version)}", details)


def _because(version: ScheduleVersion) -> str:
    if version.cause.startswith("Undone"):
        return f"{version.by_name or 'Your coach'} put back what stood before."
    if version.cause.startswith("By hand"):
        said = f": “{version.words}”" if version.words else "."
        return f"{version.by_name or 'Your coach'} changed it{said}"
    return f"Why: {version.cause[:1].lower()}{version.cause[1:].rstrip('.')}."


def _line(pk: UUID, difference: Difference, reasons: dict[UUID, str], units: Units) -> str:
    """The core's own sentence, unless the coach wrote something else."""
    after = difference.after
    day = on_day(difference.new.day)
    if pk in reasons and after is not None and not after.pinned_by_id:
        return f"{day}: {reasons[pk]}"
    was = (
        "no run"
        if difference.before is None or difference.before.removed
        else title_of(difference.before.steps, units)
    )
    now = "no run" if after is None or after.removed else title_of(after.steps, units)
    return f"{day}: {now} instead of {was}, as your coach wrote it."
