"""Compute pace cards anew and propose them; issue those a coach accepts.

Law: a card never changes by itself. What the results say now is proposed with the old card beside it; accepted,
it becomes the next card and each schedule's next version, sessions untouched. Many athletes cost the same number
of queries as one, and one athlete is a batch of one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from athletes.carding import COUNTS_FOR
from athletes.models import Athlete, Coach, PaceCard, User
from athletes.running import paces
from athletes.running.paces import CardError
from athletes.running.performance import ResultError
from plans.evidence import Evidence, evidence_of
from plans.issuing import Stale, issue_cards
from plans.jobs import carries, enqueue, enqueue_many, progress
from plans.models import CardProposal, Job, Proposal

BATCH = 1000
LOOKS_BACK = timedelta(days=8)  # a week without the server loses no result that grew old
EVERYONE, GROWN_OLD = "Everyone's paces were computed again", "A result is now older than a year"


@dataclass(frozen=True)
class Outcome:
    """What became of one athlete's card: a proposal that waits, or none, and a sentence."""

    proposal: CardProposal | None
    words: str


def propose(athlete: Athlete, why: str, *, days_off: int | None = None) -> Outcome:
    """Compute one athlete's card and propose it if it differs from the one in force."""
    return propose_all([athlete], why, days_off=days_off)[athlete.pk]


@transaction.atomic
def propose_all(
    athletes: Sequence[Athlete], why: str, *, days_off: int | None = None, insist: bool = True
) -> dict[int, Outcome]:
    """Compute the cards of these athletes and propose those that differ. Outcomes by athlete.

    `days_off` is a break to allow for, 0 for none any more. Without `insist`, what the coach refused last
    is not raised again.
    """
    locked = list(Athlete.objects.select_for_update().filter(pk__in=[a.pk for a in athletes]).order_by("pk"))
    found = evidence_of(locked)
    waiting = {one.athlete_id: one for one in CardProposal.objects.filter(athlete__in=locked, state="open")}
    refused = {} if insist else _last_refused(locked)
    outcomes, made, over = {}, [], []
    for evidence in found.values():
        pk = evidence.athlete.pk
        outcome, new = _outcome(evidence, why, days_off, waiting.get(pk), refused.get(pk))
        outcomes[pk] = outcome
        if pk in waiting and outcome.proposal is not waiting[pk]:
            over.append(waiting[pk].pk)
        if new is not None:
            made.append(new)
    if over:
        CardProposal.objects.filter(pk__in=over).update(state="superseded")
    CardProposal.objects.bulk_create(made)
    return outcomes


def _last_refused(athletes: Sequence[Athlete]) -> dict[int, CardProposal]:
    rows = CardProposal.objects.filter(athlete__in=athletes, state="refused")
    return {one.athlete_id: one for one in rows.order_by("decided_at")}


def _outcome(
    evidence: Evidence,
    why: str,
    days_off: int | None,
    waiting: CardProposal | None,
    refused: CardProposal | None,
) -> tuple[Outcome, CardProposal | None]:
    """What to say of one athlete, and the proposal to store if it is a new one."""
    if not evidence.results:
        return Outcome(
            None, "No result of the past year counts, so the paces stay as they are until there is one."
        ), None
    try:
        card = evidence.compute(days_off)
    except (CardError, ResultError) as error:
        return Outcome(None, str(error)), None
    values = card.to_values()
    if evidence.standing and evidence.standing.values == values:
        return Outcome(None, f"The paces stay as they are: they stand on {card.origin}."), None
    if waiting and waiting.values == values and waiting.replaces_id == _pk(evidence.standing):
        return Outcome(waiting, "These paces wait for the coach already."), None
    if refused and refused.values == values:
        return Outcome(None, "These paces were refused before."), None
    new = _proposal(evidence, card, why, evidence.days_off if days_off is None else days_off)
    return Outcome(new, "New paces are proposed, with the old ones beside them."), new


def _pk(card: PaceCard | None) -> int | None:
    return card.pk if card else None


def _proposal(evidence: Evidence, card: paces.PaceCard, why: str, days_off: int | None) -> CardProposal:
    return CardProposal(
        athlete=evidence.athlete,
        made_at=timezone.now(),
        why=why[:200],
        values=card.to_values(),
        formula=card.formula[:200],
        origin=card.origin[:200],
        result=evidence.base,
        replaces=evidence.standing,
        days_off=days_off,
    )


def accept(proposal: CardProposal, *, by: User) -> PaceCard:
    """Store the card and issue the schedule's next version with it.

    Raises Stale when it was decided already, or another card came into force since: then it is computed again.
    """
    issued = accept_all([proposal], by=by)
    if issued:
        return issued[0]
    if CardProposal.objects.filter(pk=proposal.pk, state="open").exists():
        propose(proposal.athlete, proposal.why, days_off=proposal.days_off)
        raise Stale("Other paces came into force since.")
    raise Stale("These paces were decided already.")


@transaction.atomic
def accept_all(proposals: Sequence[CardProposal], *, by: User) -> list[PaceCard]:
    """Accept those that are open and still stand beside the card in force. The cards issued; the rest is untouched."""
    rows = list(
        CardProposal.objects.select_for_update(of=("self",))
        .filter(pk__in=[one.pk for one in proposals], state="open")
        .select_related("athlete")
        .order_by("athlete")
    )
    found = evidence_of([row.athlete for row in rows])
    fresh = [row for row in rows if row.replaces_id == _pk(found[row.athlete_id].standing)]
    cards = PaceCard.objects.bulk_create(_card(row, found[row.athlete_id]) for row in fresh)
    for row, card in zip(fresh, cards, strict=True):
        row.card = card
    CardProposal.objects.bulk_update(fresh, ["card"])
    CardProposal.objects.filter(pk__in=[row.pk for row in fresh]).update(
        state="accepted", decided_by=by, decided_at=timezone.now()
    )
    schedules = {row.athlete_id: found[row.athlete_id].schedule for row in fresh}
    issue_cards(
        {s.pk: card for row, card in zip(fresh, cards, strict=True) if (s := schedules[row.athlete_id])},
        by=by,
    )
    # A proposal for the weeks ahead was computed on the version before: it is computed again by itself.
    unsettled = Proposal.objects.filter(schedule__in=[s for s in schedules.values() if s], state="open")
    enqueue_many("rebalance", list(Athlete.objects.filter(schedules__proposals__in=unsettled)))
    return cards


def _card(row: CardProposal, evidence: Evidence) -> PaceCard:
    return PaceCard(
        athlete=row.athlete,
        number=evidence.last_number + 1,
        made_on=evidence.today,
        result_id=row.result_id,
        formula=row.formula,
        origin=row.origin,
        values=row.values,
    )


def refuse(proposal: CardProposal, *, by: User, words: str = "") -> bool:
    """Kept with a word. False if it was decided already."""
    refused = CardProposal.objects.filter(pk=proposal.pk, state="open").update(
        state="refused", decided_by=by, decided_at=timezone.now(), words=words
    )
    return refused == 1


def ask_for_everyone(coach: Coach) -> Job:
    """Queue the computing of every card on this coach's roster."""
    with transaction.atomic():
        return enqueue("recard", f"coach:{coach.pk}")


def write_nightly_look() -> None:
    """One row a day: whose result has grown older than a year. The key is the day, so it is written once."""
    key = f"night:{timezone.now().date().isoformat()}"
    if not Job.objects.filter(kind="recard", key=key).exists():
        enqueue("recard", key)


@carries("recard")
def recard(job: Job) -> None:
    """Everyone of one coach's roster, or those whose results grew old. A thousand athletes a batch.

    Twice without harm: a card that waits already is left waiting.
    """
    what, _, which = job.key.partition(":")
    everyone = Athlete.objects.filter(left_on__isnull=True).order_by("pk")
    if what == "coach":
        coach = Coach.objects.select_related("user").filter(pk=which).first()
        if coach is None:
            return
        rows = list(everyone.filter(pk__in=Athlete.objects.for_user(coach.user)))
    else:
        last = timezone.now().date() - COUNTS_FOR
        rows = list(
            everyone.filter(results__day__range=(last - LOOKS_BACK, last), results__set_aside_reason="")
        )
        rows = list({one.pk: one for one in rows}.values())
    for start in range(0, len(rows), BATCH):
        progress(job, start, len(rows))
        batch = rows[start : start + BATCH]
        propose_all(batch, EVERYONE if what == "coach" else GROWN_OLD, insist=what == "coach")
    progress(job, len(rows), len(rows))
