"""Re-balance athletes: read their situations, ask the core, keep what it says as proposals.

A proposal waits for the coach. A newer one supersedes what still waits; one that was refused or undone is not
raised again until its inputs change; nothing is written when nothing changed.
"""

from __future__ import annotations

import hashlib
import json
import logging
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from athletes.models import Practice
from plans.issuing import Content
from plans.jobs import carries, enqueue, progress
from plans.models import Change, Job, Log, Proposal, Schedule, SessionIssue
from plans.reading import RUNS, week_of
from plans.rewriting import contents
from plans.situation import Situation, situations_of
from plans.telling import Difference, summary, why
from plans.training import schedule as core
from plans.training.replanning import rebalance

log = logging.getLogger(__name__)

BATCH = 100
# The lower the more urgent; everything else is 5, what is small is 9.
URGENCY = {"not_recoverable": 0, "hold": 1, "goal_at_risk": 2}


@dataclass(frozen=True)
class Drafted:
    """One computed change: what stands, what it becomes, and why."""

    key: str
    before: Content
    after: Content
    reason: core.Reason

    @property
    def session_id(self) -> UUID:
        return UUID(self.key)


@dataclass(frozen=True)
class Draft:
    """An answer of the core for one schedule as of one moment, nothing stored yet."""

    schedule: Schedule
    base_version: int
    situation: Situation
    result: core.Result
    changes: tuple[Drafted, ...]
    choice: str = ""
    # What a choice was made on: the situation that was not edited.
    chosen_on: Situation | None = None
    weeks: Mapping[str, tuple[str, str]] = field(default_factory=dict)

    @property
    def inputs_digest(self) -> str:
        return (self.chosen_on or self.situation).digest

    @property
    def changes_digest(self) -> str:
        return digest_of([(c.key, c.after) for c in self.changes])

    @property
    def differences(self) -> list[Difference]:
        return [Difference(c.before, c.after, c.reason.sentence) for c in self.changes]

    @property
    def grave(self) -> bool:
        return any(v.name in URGENCY for v in self.result.verdicts)

    @property
    def touches_key(self) -> bool:
        written = [self.situation.written(c.key) for c in self.changes]
        return any(w.role in ("long", "quality", "race") and not w.supporting for w in written)

    @property
    def cut_percent(self) -> int:
        """The most that any week loses of what stands, in whole per cent, rounded up."""
        lost: dict[date, int] = defaultdict(int)
        starts = self.schedule.week_starts
        for c in self.changes:
            lost[week_of(c.before.day, starts)] += 0 if c.before.removed else c.before.planned_mm
            lost[week_of(c.after.day, starts)] -= 0 if c.after.removed else c.after.planned_mm
        stands: dict[date, int] = defaultdict(int)
        for issue in self.situation.live.values():
            if issue.role in RUNS and not issue.removed:
                stands[week_of(issue.day, starts)] += issue.planned_mm
        return max((-(-100 * mm // stands[w]) for w, mm in lost.items() if mm > 0 and stands[w]), default=0)

    @property
    def urgency(self) -> int:
        return min((URGENCY[v.name] for v in self.result.verdicts if v.name in URGENCY), default=5)


def running() -> QuerySet[Schedule]:
    """Running schedules with what a draft reads of them."""
    return Schedule.objects.filter(state="running").select_related("athlete", "race_entry__race")


@carries("rebalance")
def rebalance_athlete(job: Job) -> None:
    """One athlete's job. Twice without harm: the same inputs give the same proposal, which stands already."""
    schedule = running().filter(athlete=job.athlete).first()
    if schedule is not None:
        propose(schedule)


def propose(schedule: Schedule, *, recomputed: bool = False) -> Proposal | None:
    """The athlete's proposal as of now. None when nothing is to change, or it was refused before."""
    return propose_many([schedule], recomputed=recomputed).get(schedule.pk)


def propose_many(schedules: Sequence[Schedule], *, recomputed: bool = False) -> dict[int, Proposal]:
    """Proposals by schedule, in a constant number of queries; none where nothing is to change."""
    from plans.deciding import accept_by_itself  # it asks back for a fresh proposal when one is stale

    made = store(drafts_of(schedules), recomputed=recomputed)
    for proposal in made.values():
        if proposal.state == "open" and proposal.small and proposal.schedule.athlete.auto_small:
            accept_by_itself(proposal)
    return made


def drafts_of(schedules: Sequence[Schedule]) -> list[Draft]:
    """What the core says of each schedule now. Nothing is stored."""
    found = situations_of(schedules, timezone.now())
    return [draft_of(schedule, found[schedule.pk]) for schedule in schedules]


def draft_of(schedule: Schedule, found: Situation) -> Draft:
    """One schedule's answer. With an open hold nothing is said beyond two weeks."""
    result = rebalance(found.inputs)
    return drafted(schedule, found, result)


def drafted(schedule: Schedule, found: Situation, result: core.Result) -> Draft:
    until = result.shown_until or date.max
    all_changes = (
        Drafted(c.key, *contents(found, c), c.reason)
        for c in result.changes
        if min(c.before.day, c.after.day) <= until
    )
    changes = tuple(c for c in all_changes if c.before != c.after)
    return Draft(schedule, schedule.current_version, found, result, changes)


def digest_of(after: Sequence[tuple[str, Content]]) -> str:
    parts = sorted((key, content.as_json()) for key, content in after)
    return hashlib.sha256(json.dumps(parts, default=str, sort_keys=True).encode()).hexdigest()


@transaction.atomic
def store(drafts: Sequence[Draft], *, recomputed: bool = False) -> dict[int, Proposal]:
    """Keep the drafts as proposals: by schedule, the one that waits now.

    Two workers may have computed at once: whoever holds the rows decides on what stands now. A schedule that
    moved on meanwhile gets a new job instead.
    """
    by_pk = {draft.schedule.pk: draft for draft in drafts}
    locked = {s.pk: s for s in Schedule.objects.select_for_update().filter(pk__in=by_pk).order_by("pk")}
    waiting = {p.schedule_id: p for p in Proposal.objects.filter(schedule__in=by_pk, state="open")}
    remembered = set(
        Proposal.objects.filter(
            schedule__in=by_pk,
            state__in=["refused", "undone"],
            inputs_digest__in=[draft.inputs_digest for draft in drafts],
        ).values_list("schedule_id", "inputs_digest")
    )
    practice = Practice.get()
    kept: dict[int, Proposal] = {}
    new: list[tuple[Draft, Proposal]] = []
    gone: list[int] = []
    for pk, draft in by_pk.items():
        row, open_one = locked.get(pk), waiting.get(pk)
        if row is None or row.current_version != draft.base_version or row.state != "running":
            enqueue("rebalance", str(draft.schedule.athlete_id), athlete=draft.schedule.athlete)
            continue
        if open_one and stands(open_one, draft):
            open_one.schedule = draft.schedule
            kept[pk] = open_one
            continue
        if open_one:
            gone.append(open_one.pk)
        if draft.changes and (draft.choice or (pk, draft.inputs_digest) not in remembered):
            new.append((draft, _proposal(draft, practice, recomputed)))
    Proposal.objects.filter(pk__in=gone, state="open").update(state="superseded")
    Proposal.objects.bulk_create([proposal for _, proposal in new])
    Change.objects.bulk_create([change for draft, proposal in new for change in _changes(draft, proposal)])
    return kept | {proposal.schedule_id: proposal for _, proposal in new}


def stands(proposal: Proposal, draft: Draft) -> bool:
    """Whether the waiting proposal is the draft's answer, or a coach's own choice whose inputs have not changed."""
    if proposal.base_version != draft.base_version:
        return False
    if (proposal.choice, proposal.kind) != (draft.choice, "rebalance"):
        return not draft.choice and proposal.inputs_digest == draft.inputs_digest
    return bool(draft.changes) and proposal.changes_digest == draft.changes_digest


def is_small(proposal: Proposal, practice: Practice) -> bool:
    """By the practice's own idea: no grave verdict, no week loses more than so much, no key session touched."""
    return (
        proposal.urgency >= 5
        and not proposal.choice
        and proposal.kind == "rebalance"
        and proposal.cut_percent <= practice.small_cut_percent
        and not (proposal.touches_key and practice.small_spares_key)
    )


def judge_small(practice: Practice) -> None:
    """Judge what waits again after the practice changed its mind."""
    for proposal in Proposal.objects.filter(state="open"):
        Proposal.objects.filter(pk=proposal.pk, state="open").update(small=is_small(proposal, practice))


def _proposal(draft: Draft, practice: Practice, recomputed: bool) -> Proposal:
    inputs, result, schedule = draft.situation.inputs, draft.result, draft.schedule
    made = Proposal(
        schedule=schedule,
        base_version=draft.base_version,
        made_at=timezone.now(),
        recomputed=recomputed,
        choice=draft.choice,
        inputs_digest=draft.inputs_digest,
        changes_digest=draft.changes_digest,
        why=why(inputs, result.breaks)[:300],
        summary=summary(draft.differences, inputs.units, schedule.week_starts)[:400],
        verdicts=[{"name": v.name, "sentence": v.sentence} for v in result.verdicts],
        conflicts=[{"rule": c.rule, "sentence": c.sentence} for c in result.conflicts],
        urgency=draft.urgency,
        cut_percent=min(draft.cut_percent, 100),
        touches_key=draft.touches_key,
        refit={"weeks": dict(draft.weeks)} if draft.weeks else {},
    )
    made.small = is_small(made, practice)
    return made


def _changes(draft: Draft, proposal: Proposal) -> Iterator[Change]:
    for change in draft.changes:
        yield Change(
            proposal=proposal,
            session_id=change.session_id,
            before=change.before.as_json(),
            after=change.after.as_json(),
            rule=change.reason.rule,
            numbers=json.loads(json.dumps(dict(change.reason.numbers), default=str)),
            sentence=change.reason.sentence[:300],
        )


def write_hourly_look() -> None:
    """One row an hour: who stayed silent past noon. The key is the hour, so it is written once."""
    hour = timezone.now().replace(minute=0, second=0, microsecond=0)
    key = hour.isoformat()
    if not Job.objects.filter(kind="look", key=key).exists():
        enqueue("look", key)


@carries("look")
def look(job: Job) -> None:
    """Re-balance whose noon has passed with yesterday's run unlogged, a hundred at a time."""
    athletes = silent_past_noon()
    for first in range(0, len(athletes), BATCH):
        progress(job, first, len(athletes))
        rebalance_batch(athletes[first : first + BATCH])
    progress(job, len(athletes), len(athletes))


def rebalance_batch(athletes: Sequence[int]) -> None:
    """These athletes at once; when one of them fails, each gets a job of their own, and the failure its row."""
    schedules = list(running().filter(athlete__in=athletes).order_by("pk"))
    try:
        propose_many(schedules)
    except Exception:
        log.exception("A batch of %s failed; each athlete gets a job.", len(schedules))
        with transaction.atomic():
            for schedule in schedules:
                enqueue("rebalance", str(schedule.athlete_id), athlete=schedule.athlete)


def silent_past_noon() -> list[int]:
    """Athletes with yesterday's run unlogged though their noon has passed: one query."""
    now = timezone.now()
    spoken = Log.objects.standing().filter(session=OuterRef("session"))
    due = SessionIssue.objects.filter(
        ~Exists(spoken),
        schedule__state="running",
        to_version=None,
        removed=False,
        role__in=RUNS,
        day__range=(now.date() - timedelta(2), now.date()),
    ).values_list("schedule__athlete_id", "schedule__athlete__time_zone", "day")
    athletes = set()
    for athlete, zone, day in due:
        local = now.astimezone(ZoneInfo(zone))
        if local.hour >= 12 and day == local.date() - timedelta(1):
            athletes.add(athlete)
    return sorted(athletes)
