"""Re-balance one athlete: read the situation, ask the core, keep what it says as a proposal.

A proposal waits for the coach. A newer one supersedes what still waits; one that was refused or undone is not
raised again until its inputs change; nothing is written when nothing changed.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import date, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Exists, OuterRef
from django.utils import timezone

from athletes.models import User
from athletes.running.units import Units
from plans import issuing
from plans.issuing import Content, Stale
from plans.jobs import carries, enqueue
from plans.models import Change, Job, Log, Proposal, Schedule, SessionIssue
from plans.reading import RUNS, title_of, understood
from plans.situation import Situation, situation_of
from plans.training import schedule as core
from plans.training.easing import eased
from plans.training.levels import at_level
from plans.training.replanning import rebalance
from plans.training.sizing import resized, written_in
from plans.training.writing import write

SMALL_SHARE = 15  # a change is small when no week loses more than this, in per cent, and no key session


@carries("rebalance")
def rebalance_athlete(job: Job) -> None:
    """One athlete's job. Twice without harm: the same inputs give the same proposal, which stands already."""
    schedule = (
        Schedule.objects.filter(athlete=job.athlete, state="running")
        .select_related("athlete", "race_entry__race", "template_version")
        .first()
    )
    if schedule is not None:
        propose(schedule)


def propose(schedule: Schedule, *, recomputed: bool = False) -> Proposal | None:
    """Compute the athlete's proposal as of now. None when nothing is to change, or it was refused before."""
    base = schedule.current_version
    found = situation_of(schedule, timezone.now())
    result = rebalance(found.inputs)
    # With an open hold nothing is said beyond two weeks: the way back is computed when it is cleared.
    until = result.shown_until or date.max
    changes = [(c, *contents(found, c)) for c in result.changes if min(c.before.day, c.after.day) <= until]
    verdicts = [{"name": v.name, "sentence": v.sentence} for v in result.verdicts]
    digest = _changes_digest([(c.key, after) for c, _, after in changes])
    with transaction.atomic():
        # Two workers may have computed at once: whoever holds the row decides on what stands now.
        locked = Schedule.objects.select_for_update().get(pk=schedule.pk)
        if locked.current_version != base or locked.state != "running":
            enqueue("rebalance", str(schedule.athlete_id), athlete=schedule.athlete)
            return None
        standing = Proposal.objects.filter(schedule=schedule, state="open").first()
        if standing and standing.base_version == base and standing.changes_digest == digest and changes:
            return standing
        if standing:
            Proposal.objects.filter(pk=standing.pk, state="open").update(state="superseded")
        if not changes or _was_refused(schedule, found.digest, digest):
            return None
        made = Proposal.objects.create(
            schedule=schedule,
            base_version=base,
            made_at=timezone.now(),
            recomputed=recomputed,
            inputs_digest=found.digest,
            changes_digest=digest,
            why=why(found, schedule)[:300],
            verdicts=verdicts,
            small=is_small(found.inputs, result),
        )
        Change.objects.bulk_create(
            Change(
                proposal=made,
                session_id=UUID(change.key),
                before=before.as_json(),
                after=after.as_json(),
                rule=change.reason.rule,
                numbers=json.loads(json.dumps(dict(change.reason.numbers), default=str)),
                sentence=change.reason.sentence[:300],
            )
            for change, before, after in changes
        )
    return made


def _changes_digest(after: list[tuple[str, Content]]) -> str:
    parts = sorted((key, content.as_json()) for key, content in after)
    return hashlib.sha256(json.dumps(parts, default=str, sort_keys=True).encode()).hexdigest()


def _was_refused(schedule: Schedule, inputs: str, changes: str) -> bool:
    return Proposal.objects.filter(
        schedule=schedule, inputs_digest=inputs, changes_digest=changes, state__in=["refused", "undone"]
    ).exists()


def contents(found: Situation, change: core.Change) -> tuple[Content, Content]:
    """What stands and what the planner's answer makes of it, with the step text written anew."""
    before, written, after = found.standing[change.key], found.written[change.key], change.after
    text = steps_after(written, after, found.inputs.units)
    bent = {
        "level": str(after.level),
        "turned_easy": after.turned_easy,
        "eased": after.eased,
        "counted": after.counted,
        "dropped_by": change.reason.rule if after.dropped else "",
    }
    return before, replace(
        written,
        day=after.day,
        slot=after.slot,
        role="easy" if after.turned_easy else written.role,
        steps=text,
        planned_mm=after.mm,
        planned_s=after.s,
        removed=after.dropped,
        bent=bent if after.reason is not None else {},
    )


def steps_after(written: Content, after: core.Placed, units: Units) -> str:
    """The shorthand of a session as the planner left it."""
    if after.dropped or after.reason is None:
        return written.steps
    if after.turned_easy:
        return easy_run(after.mm, units)
    steps = understood(written.steps)
    if steps is None:
        return written.steps if after.mm == written.planned_mm else easy_run(after.mm, units)
    if after.eased:
        steps = eased(steps)
    if after.level < 1:
        steps = at_level(steps, after.level)
    elif written.role != "quality" and (after.mm, after.s) != (written.planned_mm, written.planned_s):
        steps = resized(steps, s=after.s) if written_in(steps) == "s" else resized(steps, mm=after.mm)
    return write(steps)


def easy_run(mm: int, units: Units) -> str:
    """`8 km easy` or `5 mi easy`, to the half unit."""
    size = 1_609_344 if units == "mi" else 1_000_000
    halves = (2 * mm + size // 2) // size
    amount = f"{halves // 2}.5" if halves % 2 else f"{halves // 2}"
    return f"{amount} {units} easy"


def is_small(inputs: core.Inputs, result: core.Result) -> bool:
    """No key session is lost, moved across days or eased, and no week loses more than a little."""
    by_key = {session.key: session for session in inputs.plan}
    if any(v.name in ("not_recoverable", "goal_at_risk", "hold") for v in result.verdicts):
        return False
    for change in result.changes:
        key = by_key[change.key].role in ("long", "quality") and not by_key[change.key].supporting
        if key and (change.after.dropped or change.after.turned_easy or change.after.eased):
            return False
    return all(100 * (w.planned - w.allowed) <= SMALL_SHARE * w.planned for w in result.weeks if w.planned)


def why(found: Situation, schedule: Schedule) -> str:
    """What led to it, in one line: the newest facts first."""
    today, units = found.inputs.today, found.inputs.units
    facts = [
        f"Hold since {h.opened:%A} {h.opened.day} {h.opened:%B}"
        for h in found.inputs.holds
        if h.closed is None
    ]
    missed = Log.objects.standing().filter(
        athlete=schedule.athlete_id,
        day__gte=today - timedelta(14),
        outcome__in=["missed", "cut"],
        session__isnull=False,
    )
    for log in missed.order_by("-day")[:3]:
        content = found.written.get(str(log.session_id))
        if content:
            how = "missed" if log.outcome == "missed" else "cut short"
            reason = f" ({log.get_reason_display()})" if log.reason else ""
            facts.append(
                f"{title_of(content.steps, units)} {how} on {log.day:%A} {log.day.day} {log.day:%B}{reason}"
            )
    for away in found.inputs.away:
        if away.last_day >= today:
            facts.append(f"time off from {away.first_day.day} to {away.last_day.day} {away.last_day:%B}")
    return "; ".join(facts) or "Runs went unlogged, or days are no longer free"


def accept(proposal: Proposal, *, by: User | None, words: str = "") -> int:
    """Issue what is proposed. Raises Stale, with a fresh proposal computed, when the schedule moved on meanwhile."""
    try:
        with transaction.atomic():
            taken = Proposal.objects.filter(pk=proposal.pk, state="open").update(
                state="accepted",
                decided_by=by,
                decided_at=timezone.now(),
                words=words,
                issued_version=proposal.base_version + 1,
            )
            if taken != 1:
                raise Stale("This proposal was decided already.")
            changes = {c.session_id: Content.from_json(c.after) for c in proposal.changes.all()}
            return issuing.issue(
                proposal.schedule, proposal.base_version, changes, by=by, cause=f"Re-balanced: {proposal.why}"
            )
    except Stale:
        propose(
            Schedule.objects.select_related("athlete", "race_entry__race").get(pk=proposal.schedule_id),
            recomputed=True,
        )
        raise


def refuse(proposal: Proposal, *, by: User, words: str = "") -> bool:
    """Remembered with its inputs: not raised again until one changes. False if it was decided already."""
    return (
        Proposal.objects.filter(pk=proposal.pk, state="open").update(
            state="refused", decided_by=by, decided_at=timezone.now(), words=words
        )
        == 1
    )


def undo(proposal: Proposal, *, by: User) -> int:
    """Issue the former content again from today on. Raises Stale when nothing of it lies ahead unchanged."""
    with transaction.atomic():
        taken = Proposal.objects.filter(pk=proposal.pk, state="accepted").update(state="undone")
        if taken != 1 or proposal.issued_version is None:
            raise Stale("This proposal is not one that was accepted.")
        schedule = Schedule.objects.select_related("athlete").get(pk=proposal.schedule_id)
        return issuing.undo(schedule, proposal.issued_version, schedule.athlete.today(), by=by)


def write_hourly_look() -> None:
    """One row an hour: who stayed silent past noon. The key is the hour, so it is written once."""
    hour = timezone.now().replace(minute=0, second=0, microsecond=0)
    key = hour.isoformat()
    if not Job.objects.filter(kind="look", key=key).exists():
        enqueue("look", key)


@carries("look")
def look(job: Job) -> None:
    """Queue the athletes whose noon has passed with yesterday's run unlogged: a constant number of reads."""
    now = timezone.now()
    spoken = Log.objects.standing().filter(session=OuterRef("session"))
    due = SessionIssue.objects.filter(
        ~Exists(spoken),
        schedule__state="running",
        to_version=None,
        removed=False,
        role__in=RUNS,
        day__range=(now.date() - timedelta(2), now.date()),
    ).select_related("schedule__athlete")
    athletes = {}
    for issue in due:
        athlete = issue.schedule.athlete
        local = now.astimezone(ZoneInfo(athlete.time_zone))
        if local.hour >= 12 and issue.day == local.date() - timedelta(1):
            athletes[athlete.pk] = athlete
    for athlete in athletes.values():
        with transaction.atomic():
            enqueue("rebalance", str(athlete.pk), athlete=athlete)
