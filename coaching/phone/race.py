"""Race day on the phone: the next race's plan, kept for when there is no signal; afterwards the splits."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from coaching import race_paper
from coaching.access import AthleteRequest, athlete_only, own_entry
from coaching.race_forms import SplitsForm
from coaching.race_rows import race_context
from plans import racing
from plans.handout_contents import running
from plans.models import RaceEntry
from plans.sheets import season_sheet


@require_GET
@athlete_only
def my_race(request: AthleteRequest, pk: int | None = None) -> HttpResponse:
    """One race, by default the next; a race that was run leads for three weeks."""
    entries = racing.entries_of(request.athlete)
    if pk is not None:
        return show(request, own_entry(request.athlete, pk), entries)
    today = request.athlete.today()
    fresh = [e for e in entries if 0 <= (today - e.race.day).days <= 21 and not hasattr(e, "report")]
    if not entries:
        return render(request, "phone/race.html", {"entries": []})
    return show(request, (fresh or entries)[0], entries)


def show(
    request: AthleteRequest,
    entry: RaceEntry,
    entries: list[RaceEntry],
    form: SplitsForm | None = None,
    status: int = 200,
) -> HttpResponse:
    day = racing.race_day(entry)
    context = {
        **race_context(day, width=358),
        "entries": entries,
        "over": day.days_to_go <= 0,
        "splits_form": form or SplitsForm(entry=entry),
    }
    return render(request, "phone/race.html", context, status=status)


@require_POST
@athlete_only
def my_splits(request: AthleteRequest, pk: int) -> HttpResponse:
    entry = own_entry(request.athlete, pk)
    form = SplitsForm(request.POST, request.FILES, entry=entry)
    if not form.is_valid():
        return show(request, entry, racing.entries_of(request.athlete), form, 422)
    outcome = form.keep(request.user)
    waits = outcome is not None and outcome.proposal is not None
    messages.success(
        request, "Kept. Your coach sees it, with the paces it gives." if waits else "Kept. Well run."
    )
    return redirect("my-race-entry", pk=pk)


@require_GET
@athlete_only
def my_plan_pdf(request: AthleteRequest, pk: int) -> HttpResponse:
    return race_paper.as_pdf(racing.race_day(own_entry(request.athlete, pk)))


@require_GET
@athlete_only
def my_season(request: AthleteRequest) -> HttpResponse:
    """The whole plan on one page."""
    schedules = running([request.athlete])
    if not schedules:
        raise Http404
    headers = {"Content-Disposition": 'inline; filename="season.pdf"'}
    return HttpResponse(season_sheet(schedules[0]), content_type="application/pdf", headers=headers)
