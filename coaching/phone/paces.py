"""The athlete's paces: every pace a range, with where it comes from; results, and adding one."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from coaching.access import AthleteRequest, athlete_only
from coaching.fitness import fitness_of
from coaching.pace_paper import as_pdf
from coaching.result_form import ResultForm


@require_GET
@athlete_only
def my_paces(request: AthleteRequest) -> HttpResponse:
    fitness = fitness_of(request.athlete)
    context = {
        "fitness": fitness,
        "stored": fitness.stored,
        "waiting": request.athlete.card_proposals.filter(state="open").exists(),
    }
    return render(request, "phone/paces.html", context)


@require_GET
@athlete_only
def my_card(request: AthleteRequest) -> HttpResponse:
    return as_pdf(fitness_of(request.athlete))


@athlete_only
def my_result(request: AthleteRequest) -> HttpResponse:
    """A race or a time trial; the paces that follow from it wait for the coach."""
    one = request.athlete
    form = ResultForm(request.POST or None, athlete=one, initial={"day": one.today()})
    kept = form.keep(request.user) if request.method == "POST" and form.is_valid() else None
    if kept is None:
        return render(request, "phone/result.html", {"form": form}, status=422 if form.errors else 200)
    if kept[1].proposal:
        messages.success(request, "Kept. Your coach sees the new paces and decides; yours stay until then.")
    else:
        messages.success(request, f"Kept. {kept[1].words}")
    return redirect("my-paces")
