"""New paces that wait: accept, accept those seen, refuse with a word, compute everyone's."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from athletes.models import Athlete
from athletes.running.units import Units
from coaching.access import CoachRequest, card_proposal_for, coach_only
from coaching.fitness import Compared, compare
from plans import recarding
from plans.issuing import Stale
from plans.models import CardProposal, Job


@dataclass(frozen=True)
class Waiting:
    """One athlete's new paces beside the old."""

    proposal: CardProposal
    compared: list[Compared]


def waiting_for(request: CoachRequest) -> list[Waiting]:
    rows = mine(request).select_related("athlete", "replaces").order_by("athlete__name")
    found = []
    for row in rows:
        units: Units = "mi" if row.athlete.units == "mi" else "km"
        old = row.replaces.card if row.replaces else None
        found.append(Waiting(row, compare(old, row.paces, units)))
    return found


def mine(request: CoachRequest) -> QuerySet[CardProposal]:
    return CardProposal.objects.filter(state="open", athlete__in=Athlete.objects.for_user(request.user))


def job_of(request: CoachRequest) -> Job | None:
    """The last computing of everyone's card that this coach asked for."""
    return Job.objects.filter(kind="recard", key=f"coach:{request.coach.pk}").order_by("-pk").first()


def context_of(request: CoachRequest) -> dict[str, object]:
    job = job_of(request)
    return {
        "cards_waiting": waiting_for(request),
        "recard_job": job,
        "recarding": job is not None and job.state in ("waiting", "running"),
    }


@require_GET
@coach_only
def waiting(request: CoachRequest) -> HttpResponse:
    """The part of the proposals page that is about paces, which asks again while everyone's are computed."""
    if not request.htmx:
        return redirect("proposals")
    return render(request, "desk/_card_proposals.html", context_of(request))


@require_POST
@coach_only
def accept(request: CoachRequest, pk: int) -> HttpResponse:
    one = card_proposal_for(request.user, pk)
    try:
        card = recarding.accept(one, by=request.user)
    except Stale as error:
        messages.error(
            request, f"{error} Nothing was overwritten; what the results say now was computed again."
        )
    else:
        messages.success(
            request,
            f"Card {card.number} is {one.athlete.name}'s from now on. Sessions behind keep their paces.",
        )
    return redirect(_back(request, one))


@require_POST
@coach_only
def accept_seen(request: CoachRequest) -> HttpResponse:
    """Accept those that the page showed, and no others."""
    seen = [int(pk) for pk in request.POST.getlist("seen") if pk.isdecimal() and len(pk) < 19]
    rows = list(mine(request).filter(pk__in=seen))
    cards = recarding.accept_all(rows, by=request.user)
    left = len(seen) - len(cards)
    messages.success(request, f"{len(cards)} new pace card{'' if len(cards) == 1 else 's'} issued.")
    if left:
        messages.info(
            request,
            f"{left} had changed or been decided meanwhile and {'was' if left == 1 else 'were'} left.",
        )
    return redirect("proposals")


@require_POST
@coach_only
def refuse(request: CoachRequest, pk: int) -> HttpResponse:
    one = card_proposal_for(request.user, pk)
    words = request.POST.get("words", "").strip()[:300]
    if recarding.refuse(one, by=request.user, words=words):
        messages.success(request, f"Refused. {one.athlete.name}'s paces stay as they are.")
    else:
        messages.info(request, "It was decided already.")
    return redirect(_back(request, one))


@require_POST
@coach_only
def everyone(request: CoachRequest) -> HttpResponse:
    recarding.ask_for_everyone(request.coach)
    messages.success(request, "Everyone's paces are being computed. Those that differ appear here.")
    return redirect("proposals")


def _back(request: CoachRequest, one: CardProposal) -> str:
    """To where the button was pressed: the proposals, or the athlete's paces."""
    if request.POST.get("back") == "proposals":
        return reverse("proposals")
    return reverse("athlete-paces", args=[one.athlete_id])
