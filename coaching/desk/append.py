"""Append a plan to a running schedule: a second goal race, or a recovery block."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from athletes.running.units import Duration
from coaching.access import CoachRequest, coach_only, schedule_for
from coaching.desk.course import issue, pairs
from coaching.fields import TimeField, day_input
from plans.appending import append as fit_behind
from plans.assigning import Aim
from plans.issuing import Stale
from plans.models import Schedule, Template, TemplateVersion
from plans.refitting import Refit
from plans.training.fitting_types import CannotFit


class AppendForm(forms.Form):
    """Which plan, and the race it leads to, if it does."""

    template = forms.ModelChoiceField(Template.objects.none(), label="Plan", empty_label="choose one")
    race_name = forms.CharField(label="Race", max_length=40, required=False)
    race_day = forms.DateField(label="Race day", required=False, widget=day_input())
    goal_time = TimeField(label="Goal time", required=False, help_text="Like 3:45:00 or 48:30.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["template"].queryset = Template.objects.filter(archived=False).order_by("name")  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("template") and self.version.plan.race_mm:
            for name, words in (("race_name", "Name the race"), ("race_day", "Give the day of the race")):
                if not data.get(name) and name not in self.errors:
                    self.add_error(name, f"{words}: this plan leads to one.")
        return data

    @property
    def version(self) -> TemplateVersion:
        template: Template = self.cleaned_data["template"]
        return template.latest

    @property
    def aim(self) -> Aim:
        data, race_mm = self.cleaned_data, self.version.plan.race_mm
        if not race_mm:
            return Aim()
        goal: Duration | None = data["goal_time"]
        return Aim(data["race_name"].strip(), data["race_day"], race_mm, goal.ms if goal else None)


@coach_only
def append(request: CoachRequest, pk: int) -> HttpResponse:
    """GET the form; POST shows what would be appended, and issues it when asked to."""
    schedule = schedule_for(request.user, pk)
    if schedule.state != "running":
        raise Http404
    form = AppendForm(request.POST or None)
    found = try_append(form, schedule) if request.method == "POST" and form.is_valid() else None
    if found is not None and request.POST.get("do") == "issue":
        try:
            number = issue(request, found)
        except Stale as error:
            form.add_error(None, f"{error} Nothing was changed; look at it again.")
        else:
            messages.success(request, f"Appended: issued as version {number}. It can be undone.")
            return redirect("athlete", pk=schedule.athlete_id)
    context = {
        "schedule": schedule,
        "athlete": schedule.athlete,
        "form": form,
        "found": found,
        "pairs": pairs(found) if found else [],
    }
    return render(request, "desk/append.html", context, status=422 if form.errors else 200)


def try_append(form: AppendForm, schedule: Schedule) -> Refit | None:
    """Fit behind the schedule, nothing stored; what stands in the way becomes an error at its field."""
    try:
        return fit_behind(schedule, form.version, form.aim, schedule.athlete.today())
    except CannotFit as error:
        form.add_error({"race": "race_day", "template": "template"}.get(error.place), error.sentence)
        return None
