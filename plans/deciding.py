"""What a coach decides about a proposal: accept it as it is or by hand, refuse it, undo it.

Law: a proposal is issued only as long as it is still the answer. What was logged, edited or decided since it was
made is noticed here; then nothing is overwritten, and a fresh proposal waits.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from athletes.models import Coach, User
from athletes.running.units import Units
from plans import issuing, offering
from plans.issuing import Content, Stale
from plans.models import Proposal, Schedule, ScheduleWeek
from plans.rebalancing import drafts_of, propose, running
from plans.telling import Difference, summary

# One sentence on a phone; each session stands below it.
TOLD = 180
BY_ITSELF = "by itself, as set for this athlete"


@dataclass(frozen=True)
class ByHand:
    """What a coach made of a proposal: sessions left as they stand, sessions written otherwise. Both become pins."""

    left: frozenset[UUID] = frozenset()
    edited: Mapping[UUID, Content] | None = None

    @property
    def nothing(self) -> bool:
        return not self.left and not self.edited


def accept(
    proposal: Proposal,
    *,
    by: User | None,
    words: str = "",
    coach: Coach | None = None,
    hand: ByHand | None = None,
) -> int:
    """Issue what is proposed. Raises Stale, with a fresh proposal computed, when it is no longer the answer."""
    try:
        with transaction.atomic():
            return _accept(proposal, by, words, coach, hand or ByHand())
    except Stale:
        schedule = running().filter(pk=proposal.schedule_id).first()
        if schedule is not None and not Proposal.objects.filter(pk=proposal.pk, state="accepted").exists():
            propose(schedule, recomputed=True)
        raise


def _accept(proposal: Proposal, by: User | None, words: str, coach: Coach | None, hand: ByHand) -> int:
    # The row first: whoever comes second waits here, and then sees what was decided.
    schedule = running().select_for_update(of=("self",)).filter(pk=proposal.schedule_id).first()
    current = Proposal.objects.filter(pk=proposal.pk).first()
    if schedule is None or current is None or current.state != "open":
        raise Stale(_decided(current))
    if schedule.current_version != current.base_version:
        raise Stale("The schedule was changed meanwhile.")
    if not _still_the_answer(current, schedule):
        raise Stale("Something was logged or noted since this was computed.")
    changes, differences = {}, []
    for change in current.changes.all():
        before, after = Content.from_json(change.before), Content.from_json(change.after)
        if change.session_id in hand.left:
            after = replace(before, pinned_by_id=coach.pk if coach else None)
        elif hand.edited and change.session_id in hand.edited:
            after = replace(hand.edited[change.session_id], pinned_by_id=coach.pk if coach else None, bent={})
        changes[change.session_id] = after
        differences.append(Difference(before, after, change.sentence))
    line = summary(differences, _units(schedule), schedule.week_starts, longest=TOLD)
    told = told_of(line, current.why)
    taken = Proposal.objects.filter(pk=current.pk, state="open").update(
        state="accepted",
        decided_by=by,
        decided_at=timezone.now(),
        words=words[:300],
        told=told[:500],
        issued_version=current.base_version + 1,
    )
    if taken != 1:
        raise Stale("This proposal was decided already.")
    by_hand = "" if hand.nothing else ", changed by hand"
    if current.kind == "refit":
        head = "Appended" if current.refit.get("append") else "Fitted anew"
        cause = f"{head}{by_hand}: {current.why}"
        return offering.issue(current, schedule, changes, by=by, cause=cause)
    head = "Chosen" if current.choice else "Re-balanced"
    weeks = {
        date.fromisoformat(day): (kind, words)
        for day, (kind, words) in current.refit.get("weeks", {}).items()
    }
    return issuing.issue(
        schedule, current.base_version, changes, by=by, cause=f"{head}{by_hand}: {current.why}", weeks=weeks
    )


def _units(schedule: Schedule) -> Units:
    return "mi" if schedule.athlete.units == "mi" else "km"


def _decided(proposal: Proposal | None) -> str:
    if proposal is None:
        return "This proposal is gone."
    if proposal.state == "superseded":
        return "A newer proposal took its place."
    who = f" by {proposal.decided_by}" if proposal.decided_by else ""
    return f"It was {proposal.state} already{who}."


def _still_the_answer(proposal: Proposal, schedule: Schedule) -> bool:
    """Whether computing it now gives the same changes. A coach's own choice holds while its inputs do."""
    draft = drafts_of([schedule])[0]
    if proposal.choice or proposal.kind != "rebalance":
        return proposal.inputs_digest == draft.situation.digest
    return proposal.changes_digest == draft.changes_digest


def told_of(changed: str, because: str) -> str:
    """The athlete's sentence: what changed, and why."""
    if not changed:
        return "Your coach looked at it and left your plan as it was."
    return f"{changed}. Why: {because[:1].lower()}{because[1:]}."


def accept_by_itself(proposal: Proposal) -> None:
    """A small change of an athlete who asked for that. What can't be issued waits for the coach."""
    with suppress(Stale), transaction.atomic():
        _accept(proposal, None, BY_ITSELF, None, ByHand())
    proposal.refresh_from_db()


def refuse(proposal: Proposal, *, by: User, words: str = "") -> bool:
    """Remembered with its inputs: not raised again until one changes. False if it was decided already."""
    return (
        Proposal.objects.filter(pk=proposal.pk, state="open").update(
            state="refused", decided_by=by, decided_at=timezone.now(), words=words[:300]
        )
        == 1
    )


def undo(proposal: Proposal, *, by: User) -> int:
    """Issue the former content again from today on. Raises Stale when nothing of it lies ahead unchanged."""
    if proposal.issued_version is None:
        raise Stale("This proposal is not one that was accepted.")
    return undo_version(proposal.schedule, proposal.issued_version, by=by)


def undo_version(schedule: Schedule, number: int, *, by: User) -> int:
    """Undo one version of a schedule; the proposal that made it is remembered as undone, and not raised again."""
    with transaction.atomic():
        row = Schedule.objects.select_for_update(of=("self",)).select_related("athlete").get(pk=schedule.pk)
        accepted = Proposal.objects.filter(schedule=row, issued_version=number, state="accepted")
        refit = accepted.filter(kind="refit").first()
        accepted.update(state="undone")
        if refit is not None:
            return offering.undo(refit, row, by=by)
        weeks = ScheduleWeek.objects.filter(schedule=row, from_version=number, to_version=None)
        former = ScheduleWeek.objects.filter(
            schedule=row, to_version=number, first_day__in=weeks.values("first_day")
        )
        back = {week.first_day: (week.kind, week.purpose) for week in former}
        return issuing.undo(row, number, row.athlete.today(), by=by, weeks=back)
