"""Assign a template to many: choose, see what was bent for whom, issue the chosen."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from athletes.models import Athlete
from coaching.access import (
    CoachRequest,
    assignment_for,
    coach_only,
    groups_for,
    job_of_assignment,
    template_for,
)
from coaching.fields import day_input
from plans import assigning_many
from plans.models import Race, Schedule
from plans.training.template import Template as Plan


class ManyForm(forms.Form):
    group = forms.ChoiceField(label="Training group", required=False)
    athletes = forms.MultipleChoiceField(
        label="Or these athletes", required=False, widget=forms.CheckboxSelectMultiple
    )
    race_name = forms.CharField(label="Race", max_length=80)
    race_day = forms.DateField(label="Race day", widget=day_input())
    start = forms.DateField(label="First day", widget=day_input())
    joining = forms.BooleanField(label="They join a plan that is under way", required=False)

    def __init__(
        self, *args: Any, plan: Plan, groups: list[Any], athletes: list[Athlete], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.everyone = athletes
        self.fields["group"].choices = [("", "none"), *((str(g.pk), g.name) for g in groups)]  # type: ignore[attr-defined]
        self.fields["athletes"].choices = [(str(a.pk), a.name) for a in athletes]  # type: ignore[attr-defined]
        for name in ("start",) if plan.race_mm else ("race_name", "race_day", "joining"):
            del self.fields[name]

    def chosen(self) -> list[Athlete]:
        group, picked = self.cleaned_data["group"], set(self.cleaned_data["athletes"])
        return [a for a in self.everyone if str(a.pk) in picked or (group and int(group) in a.group_keys)]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and not self.chosen():
            self.add_error("athletes", "Choose a group or at least one athlete.")
        if (day := data.get("race_day")) and day <= timezone.localdate():
            self.add_error("race_day", "The race lies in the past.")
        return data


@coach_only
def assign_many(request: CoachRequest, pk: int) -> HttpResponse:
    """GET the form; POST begins to fit everyone chosen, in the background."""
    template = template_for(request.user, pk)
    version = template.latest
    plan = version.plan
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    athletes = list(mine.prefetch_related("groups"))
    for one in athletes:
        one.group_keys = {group.pk for group in one.groups.all()}  # type: ignore[attr-defined]
    groups = groups_for(request.user)
    form = ManyForm(
        request.POST or None,
        plan=plan,
        groups=groups,
        athletes=athletes,
        initial={"start": timezone.localdate(), "athletes": request.GET.getlist("athlete")},
    )
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        race = None
        if plan.race_mm:
            race, _ = Race.objects.get_or_create(
                name=data["race_name"].strip(), day=data["race_day"], distance_mm=plan.race_mm
            )
        made = assigning_many.start(
            request.coach,
            version,
            form.chosen(),
            race=race,
            first_day=data.get("start"),
            joining=data.get("joining", False),
            group=next((g for g in groups if str(g.pk) == data["group"]), None),
        )
        return redirect("assignment", pk=made.pk)
    context = {"template": template, "plan": plan, "form": form}
    return render(request, "desk/assign_many.html", context, status=422 if form.errors else 200)


@coach_only
def assignment(request: CoachRequest, pk: UUID) -> HttpResponse:
    """The table as it grows; POST issues the rows that are ticked."""
    one = assignment_for(request.user, pk)
    if request.method == "POST":
        wanted = [int(key) for key in request.POST.getlist("row") if key.isdecimal() and len(key) < 15]
        count = assigning_many.choose(one, wanted)
        if count:
            messages.success(request, f"{count} are being issued.")
            return redirect("assignment", pk=pk)
        return table(request, one, "Tick at least one athlete whose schedule is ready.", 422)
    return table(request, one)


def table(request: CoachRequest, one: Any, problem: str = "", status: int = 200) -> HttpResponse:
    job = job_of_assignment(one)
    rows = list(one.rows.select_related("athlete"))
    running = set(
        Schedule.objects.filter(athlete__in=[row.athlete_id for row in rows], state="running").values_list(
            "athlete_id", flat=True
        )
    )
    context = {
        "assignment": one,
        "template": one.template_version.template,
        "job": job,
        "total": (job.total if job else 0) or len(rows),
        "rows": [(row, row.athlete_id in running) for row in rows],
        "working": any(row.state in ("waiting", "chosen") for row in rows)
        and job is not None
        and job.state in ("waiting", "running"),
        "ready": any(row.state == "ready" for row in rows),
        "problem": problem,
    }
    page = "desk/assignment.html"
    return render(request, f"{page}#table" if request.htmx else page, context, status=status)
