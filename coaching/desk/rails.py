"""Guard rails of the practice, a template or an athlete, limit by limit: the nearest wins, and the page says which."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from athletes.models import Athlete, Practice
from athletes.running.units import Distance, Duration, Units
from coaching.access import CoachRequest, athlete_for, coach_only, template_for
from coaching.fields import DistanceField, TimeField
from plans import railing
from plans.models import Schedule
from plans.railing import Owner
from plans.training.guardrails import LIMITS, Limit

MOST = {"percent": 100, "days": 60, "count": 7}
FARTHEST_MM, LONGEST_S = 200_000_000, 36_000


def field_of(limit: Limit, units: Units, nearest: str) -> forms.Field:
    """Left empty, the next layer answers: its value stands in the box in grey."""
    look = {"placeholder": nearest}
    if limit.measured == "mm":
        return DistanceField(
            label=limit.words, required=False, units=units, widget=forms.TextInput(attrs=look)
        )
    if limit.measured == "s":
        return TimeField(label=limit.words, required=False, widget=forms.TextInput(attrs=look))
    widget = forms.NumberInput(attrs=look)
    most = MOST[limit.measured]
    return forms.IntegerField(label=limit.words, required=False, min_value=0, max_value=most, widget=widget)


class RailsForm(forms.Form):
    def __init__(self, data: Any, *, stored: dict[str, int], nearest: dict[str, str], units: Units) -> None:
        start = {name: typed(name, value) for name, value in stored.items()}
        super().__init__(data, initial=start)
        self.fields |= {limit.name: field_of(limit, units, nearest[limit.name]) for limit in LIMITS}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for limit in LIMITS:
            value = data.get(limit.name)
            if isinstance(value, Distance) and not 0 < value.mm <= FARTHEST_MM:
                self.add_error(limit.name, "A distance of at most 200 km.")
            if isinstance(value, Duration) and not 0 < value.ms <= LONGEST_S * 1000:
                self.add_error(limit.name, "A time of at most 10 hours, like 3:00:00.")
        return data

    def limits(self) -> dict[str, int]:
        """What was filled in, as it is stored."""
        found = {}
        for name, value in self.cleaned_data.items():
            if isinstance(value, Distance):
                found[name] = value.mm
            elif isinstance(value, Duration):
                found[name] = value.ms // 1000
            elif value is not None:
                found[name] = value
        return found


def typed(name: str, value: int) -> Any:
    measured = next((limit.measured for limit in LIMITS if limit.name == name), "")
    if measured == "mm":
        return Distance(value)
    return Duration(value * 1000) if measured == "s" else value


@coach_only
def of_practice(request: CoachRequest) -> HttpResponse:
    """Every coach reads them; a head coach sets them."""
    return page(request, Practice.get(), [], may_set=request.coach.is_head)


@coach_only
def of_template(request: CoachRequest, pk: int) -> HttpResponse:
    return page(request, template_for(request.user, pk), [("the practice", Practice.get())])


@coach_only
def of_athlete(request: CoachRequest, pk: int) -> HttpResponse:
    one = athlete_for(request.user, pk)
    schedule = (
        Schedule.objects.filter(athlete=one, state="running")
        .select_related("template_version__template")
        .first()
    )
    layers: list[tuple[str, Owner]] = [("the practice", Practice.get())]
    if schedule and schedule.template_version:
        template = schedule.template_version.template
        layers.insert(0, (f"“{template}”", template))
    return page(request, one, layers)


def page(
    request: CoachRequest, owner: Owner, farther: list[tuple[str, Owner]], may_set: bool = True
) -> HttpResponse:
    """`farther`: the layers behind this one, the nearer first."""
    named = owner.units if isinstance(owner, Athlete) else Practice.get().units
    units: Units = "mi" if named == "mi" else "km"
    behind = [(name, railing.stored_for(layer)) for name, layer in farther]
    found = {limit.name: answer(limit, behind, units) for limit in LIMITS}
    stored = railing.stored_for(owner)
    nearest = {name: value for name, (value, _) in found.items()}
    form = RailsForm(request.POST or None, stored=stored, nearest=nearest, units=units)
    if request.method == "POST":
        if not may_set:
            raise Http404
        if form.is_valid():
            changed = railing.set_rails(owner, form.limits(), by=request.user)
            said = "The guard rails are changed. Schedules under them are being looked at again."
            messages.success(request, said if changed else "Nothing was changed.")
            return redirect(request.path)
    rows = [
        {
            "field": form[limit.name],
            "limit": limit,
            "holds": railing.shown(limit, stored[limit.name], units)
            if limit.name in stored
            else nearest[limit.name],
            "whose": "set here" if limit.name in stored else found[limit.name][1],
            "usual": f"{railing.shown(limit, limit.low, units)} to {railing.shown(limit, limit.high, units)}",
            "unusual": limit.name in stored and not limit.low <= stored[limit.name] <= limit.high,
        }
        for limit in LIMITS
    ]
    layer = railing.layer_of(owner)
    context = {"owner": owner, "layer": layer, "form": form, "rows": rows, "may_set": may_set}
    return render(request, "desk/rails.html", context, status=422 if form.errors else 200)


def answer(limit: Limit, behind: list[tuple[str, dict[str, int]]], units: Units) -> tuple[str, str]:
    """What the layers behind say, and which of them says it."""
    for name, stored in behind:
        if limit.name in stored:
            return railing.shown(limit, stored[limit.name], units), f"from {name}"
    return railing.shown(limit, limit.default, units), "as usual"
