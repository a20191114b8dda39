"""Proposals: what re-balancing suggests, before and after, each change with its reason; accept, refuse, undo."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from athletes.models import Athlete
from athletes.running.units import Units
from coaching.access import CoachRequest, coach_only, proposal_for
from plans import deciding
from plans.issuing import Content, Stale
from plans.models import Proposal
from plans.reading import title_of


@dataclass(frozen=True)
class Line:
    """One change as a person reads it."""

    before: Content
    was: str
    after: Content
    now: str
    sentence: str

    @property
    def moved(self) -> bool:
        return self.before.day != self.after.day


def lines_of(proposal: Proposal, units: Units) -> list[Line]:
    found = []
    for change in proposal.changes.all():
        before, after = Content.from_json(change.before), Content.from_json(change.after)
        now = "no run" if after.removed else title_of(after.steps, units)
        found.append(Line(before, title_of(before.steps, units), after, now, change.sentence))
    return sorted(found, key=lambda line: (line.before.day, line.before.slot))


def _mine(request: CoachRequest) -> QuerySet[Proposal]:
    return Proposal.objects.filter(schedule__athlete__in=Athlete.objects.for_user(request.user))


@coach_only
def proposals(request: CoachRequest) -> HttpResponse:
    rows = (
        _mine(request)
        .filter(state="open")
        .select_related("schedule__athlete", "schedule__race_entry__race")
        .prefetch_related("changes")
    )
    urgent = sorted(rows, key=lambda p: (p.small, not p.verdicts, p.made_at))
    decided = (
        _mine(request).filter(state__in=["accepted", "refused", "undone"]).select_related("schedule__athlete")
    )
    return render(
        request, "desk/proposals.html", {"rows": urgent, "decided": decided.order_by("-decided_at")[:10]}
    )


@coach_only
def proposal(request: CoachRequest, pk: int) -> HttpResponse:
    one = proposal_for(request.user, pk)
    athlete = one.schedule.athlete
    context = {
        "proposal": one,
        "athlete": athlete,
        "race": one.schedule.race_entry.race if one.schedule.race_entry else None,
        "lines": lines_of(one, "mi" if athlete.units == "mi" else "km"),
    }
    return render(request, "desk/proposal.html", context)


@require_POST
@coach_only
def accept(request: CoachRequest, pk: int) -> HttpResponse:
    one = proposal_for(request.user, pk)
    try:
        number = deciding.accept(one, by=request.user)
    except Stale as error:
        messages.error(request, f"{error} Nothing was overwritten; what stands now was computed again.")
        newest = _mine(request).filter(schedule=one.schedule_id, state="open").first()
        return redirect("proposal", pk=newest.pk) if newest else redirect("proposals")
    messages.success(
        request, f"Issued as version {number}. {one.schedule.athlete.name} sees it on the phone now."
    )
    return redirect("proposal", pk=pk)


@require_POST
@coach_only
def refuse(request: CoachRequest, pk: int) -> HttpResponse:
    one = proposal_for(request.user, pk)
    words = request.POST.get("words", "").strip()[:300]
    if deciding.refuse(one, by=request.user, words=words):
        messages.success(request, "Refused. It is not raised again until something changes.")
    else:
        messages.info(request, "It was decided already.")
    return redirect("proposals")


@require_POST
@coach_only
def undo(request: CoachRequest, pk: int) -> HttpResponse:
    one = proposal_for(request.user, pk)
    try:
        number = deciding.undo(one, by=request.user)
    except Stale as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"Undone: the former sessions are issued again as version {number}.")
    return redirect("proposal", pk=pk)
