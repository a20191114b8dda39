"""An athlete's paces on the desk: the card and what it stands on; results added, set aside, taken back."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from athletes.models import Athlete
from athletes.running.detraining import loss_after
from athletes.running.heart_rate import HeartRateError, heart_ranges
from athletes.running.performance import Result as Run
from athletes.running.performance import ResultError
from athletes.running.units import Distance, Duration, Units
from coaching.access import CoachRequest, athlete_for, coach_only, result_for
from coaching.fields import DistanceField, TimeField
from coaching.fitness import compare, fitness_of
from coaching.pace_paper import as_pdf
from coaching.result_form import ResultForm
from plans import recarding, results
from plans.assigning import runs_now
from plans.evidence import Evidence
from plans.models import RaceEntry
from plans.recarding import Outcome

MOST_WEEKLY = Distance.from_km(350)
ASIDE = ["course hilly", "hot", "ill", "not raced hard"]


class AsideForm(forms.Form):
    """Why a result doesn't count: one of the usual reasons, or own words."""

    reason = forms.ChoiceField(
        label="Why",
        choices=[*((one, one) for one in ASIDE), ("own", "in my words")],
        widget=forms.RadioSelect,
    )
    words = forms.CharField(label="In my words", max_length=100, required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("reason") == "own" and not data.get("words"):
            self.add_error("words", "Say in a word why it doesn't count.")
        return data

    @property
    def why(self) -> str:
        data = self.cleaned_data
        return ", ".join(w for w in (data["reason"] if data["reason"] != "own" else "", data["words"]) if w)


class BasisForm(forms.Form):
    """What the paces stand on besides results."""

    weekly = DistanceField(
        label="Usual week",
        required=False,
        help_text="What is run in a week now; the marathon models ask for it.",
    )
    goal = TimeField(label="Goal time", required=False, help_text="Like 3:45:00.")
    resting = forms.IntegerField(label="Resting heart rate", required=False)
    maximum = forms.IntegerField(
        label="Maximum heart rate", required=False, help_text="Measured, not estimated."
    )

    def __init__(self, data: Any = None, *, evidence: Evidence) -> None:
        self.evidence, one = evidence, evidence.athlete
        self.entry: RaceEntry | None = evidence.schedule.race_entry if evidence.schedule else None
        goal = self.entry.goal_ms if self.entry else None
        initial = {
            "weekly": evidence.weekly,
            "goal": Duration(goal) if goal else None,
            "resting": one.resting_rate,
            "maximum": one.maximum_rate,
        }
        super().__init__(data, initial=initial)
        units: Units = evidence.units
        self.fields["weekly"].units = units  # type: ignore[attr-defined]
        if self.entry is None:
            del self.fields["goal"]

    def clean_weekly(self) -> Distance | None:
        weekly: Distance | None = self.cleaned_data["weekly"]
        if weekly and weekly > MOST_WEEKLY:
            raise forms.ValidationError("That is more than anyone runs in a week: up to 350 km is possible.")
        return weekly

    def clean_goal(self) -> Duration | None:
        goal: Duration | None = self.cleaned_data["goal"]
        if goal and self.entry:
            try:
                Run(Distance(self.entry.race.distance_mm), goal)
            except ResultError as error:
                raise forms.ValidationError(str(error)) from error
        return goal

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        resting, maximum = data.get("resting"), data.get("maximum")
        if maximum is not None and resting is None and "resting" not in self.errors:
            self.add_error("resting", "Heart-rate ranges need the resting rate too.")
        elif resting is not None and not self.errors:
            try:
                # An age that is not known is none of this form's business.
                heart_ranges(resting, maximum, None if maximum else 40)
            except HeartRateError as error:
                self.add_error("maximum" if maximum and 25 <= resting <= 110 else "resting", str(error))
        return data

    def keep(self, athlete: Athlete) -> None:
        data = self.cleaned_data
        athlete.declared_weekly_mm = data["weekly"].mm if data["weekly"] else 0
        athlete.resting_rate, athlete.maximum_rate = data["resting"], data["maximum"]
        athlete.save(update_fields=["declared_weekly_mm", "resting_rate", "maximum_rate"])
        if self.entry is not None:
            goal = data["goal"].ms if data["goal"] else None
            RaceEntry.objects.filter(pk=self.entry.pk).update(goal_ms=goal)


class BreakForm(forms.Form):
    days_off = forms.IntegerField(
        label="Days off",
        min_value=0,
        max_value=365,
        error_messages={
            "min_value": "0 for no break; days can't be negative.",
            "max_value": "Up to a year is possible; after longer, start from a new result.",
            "invalid": "Whole days, like 14.",
        },
    )


@require_GET
@coach_only
def paces(request: CoachRequest, pk: int) -> HttpResponse:
    return show(request, pk)


def show(request: CoachRequest, pk: int, status: int = 200, **given: Any) -> HttpResponse:
    """The page; `given` are forms that came back with errors, or a result being set aside."""
    one = athlete_for(request.user, pk)
    fitness = fitness_of(one, request.GET.get("over", ""))
    evidence = fitness.evidence
    proposal = one.card_proposals.filter(state="open").first()
    pause = results.pause_of(one, evidence)
    weekly, longest = runs_now(one, evidence.today)
    context = {
        "athlete": one,
        "units": fitness.units,
        "today": evidence.today,
        "fitness": fitness,
        "proposal": proposal,
        "compared": compare(fitness.card, proposal.paces, fitness.units) if proposal else [],
        "pause": pause,
        "loss": loss_after(pause.days_off) if pause else None,
        "lately": weekly if weekly != one.declared_weekly_mm else None,
        "longest": longest,
        "cards": one.pace_cards.all(),
        "refused": one.card_proposals.filter(state="refused")[:5],
        "result_form": ResultForm(athlete=one, initial={"day": evidence.today}),
        "basis_form": BasisForm(evidence=evidence),
        "break_form": BreakForm(initial={"days_off": pause.days_off if pause else evidence.days_off or 0}),
        "aside_form": AsideForm(),
        **given,
    }
    return render(request, "desk/paces.html", context, status=status)


def say(request: CoachRequest, outcome: Outcome, first: str = "") -> None:
    say_it = messages.success if outcome.proposal else messages.info
    say_it(request, f"{first} {outcome.words}".strip())


@require_POST
@coach_only
def add(request: CoachRequest, pk: int) -> HttpResponse:
    one = athlete_for(request.user, pk)
    form = ResultForm(request.POST, athlete=one)
    kept = form.keep(request.user) if form.is_valid() else None
    if kept is None:
        return show(request, pk, 422, result_form=form)
    first = "Kept, in the history only: paces come from 3.5 minutes to 7 hours." if form.outside else "Kept."
    say(request, kept[1], first)
    return redirect("athlete-paces", pk=pk)


@coach_only
def set_aside(request: CoachRequest, pk: int) -> HttpResponse:
    """GET asks why; POST sets it aside."""
    result = result_for(request.user, pk)
    form = AsideForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        say(request, results.set_aside(result, form.why, by=request.user), "Set aside.")
        return redirect("athlete-paces", pk=result.athlete_id)
    context = {"result": result, "athlete": result.athlete, "form": form, "units": result.athlete.units}
    return render(request, "desk/set_aside.html", context, status=422 if form.errors else 200)


@require_POST
@coach_only
def take_back(request: CoachRequest, pk: int) -> HttpResponse:
    result = result_for(request.user, pk)
    say(request, results.take_back(result, by=request.user), "It counts again.")
    return redirect("athlete-paces", pk=result.athlete_id)


@require_POST
@coach_only
def basis(request: CoachRequest, pk: int) -> HttpResponse:
    one = athlete_for(request.user, pk)
    form = BasisForm(request.POST, evidence=fitness_of(one).evidence)
    if not form.is_valid():
        return show(request, pk, 422, basis_form=form)
    outcome = results.change(one, lambda: form.keep(one), by=request.user)
    say(request, outcome, "Kept.")
    return redirect("athlete-paces", pk=pk)


@require_POST
@coach_only
def after_break(request: CoachRequest, pk: int) -> HttpResponse:
    """Propose paces that allow for so many days without a run."""
    one = athlete_for(request.user, pk)
    form = BreakForm(request.POST)
    if not form.is_valid():
        return show(request, pk, 422, break_form=form)
    days = form.cleaned_data["days_off"]
    why = f"{days} days off, says {request.user}" if days else f"No break to allow for, says {request.user}"
    say(request, recarding.propose(one, why, days_off=days))
    return redirect("athlete-paces", pk=pk)


@require_GET
@coach_only
def printed(request: CoachRequest, pk: int) -> HttpResponse:
    return as_pdf(fitness_of(athlete_for(request.user, pk)))
