"""Assign a template to an athlete: what is known of them, the fitted schedule, and the press that issues it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render

from athletes.carding import as_run, compute_card, counting_results, store_card
from athletes.models import DAY_FIELDS, WEEKDAYS, Athlete, Availability, PaceCard, Result
from athletes.running import paces
from athletes.running.paces import CardError
from athletes.running.performance import ResultError
from athletes.running.units import Distance, Duration, Units
from coaching.access import CoachRequest, athlete_for, coach_only, template_for
from coaching.fields import DistanceField, TimeField, day_input
from plans.assigning import Aim, issue_first, preview
from plans.models import TemplateVersion
from plans.reading import title_of
from plans.training.fitting_types import CannotFit, Fitted
from plans.training.template import Template as Plan

MOST_MINUTES = 480
WHERE = {"race": "race_day", "start": "start", "availability": "mon"}


class AssignForm(forms.Form):
    """Race, free days and present running of one athlete, for one template."""

    race_name = forms.CharField(label="Race", max_length=40)
    race_day = forms.DateField(label="Race day", widget=day_input())
    goal_time = TimeField(label="Goal time", required=False, help_text="Like 3:45:00 or 48:30.")
    start = forms.DateField(label="First day", widget=day_input())
    weekly = DistanceField(label="Usual week", help_text="What the athlete runs in a week now.")
    longest = DistanceField(label="Longest run", help_text="Of the past 30 days.")
    result_distance = DistanceField(
        label="Result over", required=False, help_text="Like 10 km or half-marathon."
    )
    result_time = TimeField(label="Result time", required=False)
    result_day = forms.DateField(label="Run on", required=False, widget=day_input())

    def __init__(self, *args: Any, athlete: Athlete, plan: Plan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.athlete, self.plan = athlete, plan
        for name in () if plan.race_mm else ("race_name", "race_day", "goal_time"):
            del self.fields[name]
        if plan.race_mm:
            del self.fields["start"]
        units: Units = "mi" if athlete.units == "mi" else "km"
        for field in self.fields.values():
            if isinstance(field, DistanceField):
                field.units = units
        for name, label in zip(DAY_FIELDS, WEEKDAYS, strict=True):
            self.fields[name] = forms.IntegerField(
                label=label[:3],
                min_value=0,
                max_value=MOST_MINUTES,
                error_messages={
                    "invalid": "Whole minutes, like 60.",
                    "min_value": "0 for a day that is not free; minutes can't be negative.",
                    "max_value": f"At most {MOST_MINUTES} minutes.",
                },
            )

    @property
    def days(self) -> list[Any]:
        return [self[name] for name in DAY_FIELDS]

    @property
    def minutes(self) -> tuple[int, ...]:
        return tuple(self.cleaned_data[name] for name in DAY_FIELDS)

    def clean_result_day(self) -> Any:
        day = self.cleaned_data["result_day"]
        if day and day > self.athlete.today():
            raise forms.ValidationError("A result lies in the past; this day is still to come.")
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not any(data.get(name) for name in DAY_FIELDS) and not any(n in self.errors for n in DAY_FIELDS):
            self.add_error("mon", "No day is free: give at least one day its minutes.")
        parts = [data.get(n) for n in ("result_distance", "result_time", "result_day")]
        names = ("result_distance", "result_time", "result_day")
        if any(parts) and not all(parts):
            for name in names:
                if not data.get(name) and name not in self.errors:
                    self.add_error(name, "A result needs its distance, its time and its day.")
        elif (
            not any(parts)
            and not any(n in self.errors for n in names)
            and not counting_results(self.athlete, self.athlete.today())
        ):
            self.add_error("result_distance", "Paces come from a result of the past year; there is none yet.")
        return data

    @property
    def new_result(self) -> Result | None:
        data = self.cleaned_data
        if not data.get("result_distance"):
            return None
        return Result(
            athlete=self.athlete,
            day=data["result_day"],
            distance_mm=data["result_distance"].mm,
            time_ms=data["result_time"].ms,
        )

    @property
    def goal(self) -> tuple[Distance, Duration] | None:
        time = self.cleaned_data.get("goal_time")
        return (Distance(self.plan.race_mm), time) if time and self.plan.race_mm else None

    @property
    def aim(self) -> Aim:
        data = self.cleaned_data
        goal = data.get("goal_time")
        return Aim(
            race_name=data.get("race_name", ""),
            race_day=data.get("race_day"),
            race_mm=self.plan.race_mm or 0,
            goal_ms=goal.ms if goal else None,
            start=data.get("start"),
        )


@dataclass(frozen=True)
class Shown:
    """A fitted schedule as the page shows it."""

    fitted: Fitted
    card: paces.PaceCard
    weeks: list[tuple[Any, list[tuple[Any, str]]]]


@coach_only
def assign(request: CoachRequest, pk: int) -> HttpResponse:
    """GET shows the form with what is known; POST shows the fitted schedule, and issues it when asked to."""
    template = template_for(request.user, pk)
    wanted = request.GET.get("athlete", "")
    athlete = athlete_for(request.user, int(wanted) if wanted.isdecimal() else 0)
    version = template.latest
    plan = version.plan
    form = AssignForm(request.POST or None, athlete=athlete, plan=plan, initial=known(athlete))
    shown = try_fit(form, athlete, version) if request.method == "POST" and form.is_valid() else None
    if shown and request.POST.get("do") == "issue":
        issue(request, form, athlete, version, shown)
        messages.success(request, f"{template.name} is issued to {athlete.name}.")
        return redirect("athlete", pk=athlete.pk)
    context = {"template": template, "plan": plan, "athlete": athlete, "form": form, "shown": shown}
    return render(request, "desk/assign.html", context, status=422 if form.errors else 200)


def known(athlete: Athlete) -> dict[str, Any]:
    """What the tables say of the athlete already."""
    free = athlete.availabilities.order_by("valid_from").last()
    minutes = free.minutes() if free else (0,) * 7
    weekly, longest = athlete.declared_weekly_mm, athlete.declared_longest_mm
    return {
        **dict(zip(DAY_FIELDS, minutes, strict=True)),
        "weekly": Distance(weekly) if weekly else None,
        "longest": Distance(longest) if longest else None,
        "start": athlete.today(),
    }


def try_fit(form: AssignForm, athlete: Athlete, version: TemplateVersion) -> Shown | None:
    """Fit as typed, nothing stored; what stands in the way becomes an error at its field."""
    today = athlete.today()
    athlete.declared_weekly_mm = form.cleaned_data["weekly"].mm
    athlete.declared_longest_mm = form.cleaned_data["longest"].mm
    results = counting_results(athlete, today)
    if new := form.new_result:
        results = [new, *results]
        try:
            as_run(new)
        except ResultError as error:
            form.add_error("result_time", str(error))
            return None
    try:
        card = compute_card(athlete, results, form.goal)
    except CardError as error:
        form.add_error("result_distance", str(error))
        return None
    except ResultError as error:
        form.add_error("goal_time", str(error))
        return None
    try:
        fitted = preview(athlete, version, form.aim, card, form.minutes, today)
    except CannotFit as error:
        form.add_error(WHERE.get(error.place), error.sentence)
        return None
    by_week = [
        (
            week,
            [
                (s, title_of(s.text, athlete.units))
                for s in fitted.sessions
                if 0 <= (s.day - week.first_day).days < 7
            ],
        )
        for week in fitted.weeks
    ]
    return Shown(fitted, card, by_week)


@transaction.atomic
def issue(
    request: CoachRequest, form: AssignForm, athlete: Athlete, version: TemplateVersion, shown: Shown
) -> None:
    """Store what was typed and issue the schedule, all or nothing."""
    today = athlete.today()
    athlete.save(update_fields=["declared_weekly_mm", "declared_longest_mm"])
    result = form.new_result
    if result:
        result.save()
    Availability.objects.update_or_create(
        athlete=athlete, valid_from=today, defaults=dict(zip(DAY_FIELDS, form.minutes, strict=True))
    )
    card: PaceCard = store_card(athlete, shown.card, result or athlete.results.first(), today)
    issue_first(athlete, version, form.aim, shown.fitted, card, by=request.user)
