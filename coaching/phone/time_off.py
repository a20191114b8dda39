"""Known ahead: days without running, or with fewer minutes. And how the body is, when there is no run to say it with."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from uuid import uuid4

from django import forms
from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from athletes.models import Athlete, TimeOff
from coaching.access import AthleteRequest, athlete_only, own_time_off
from coaching.fields import day_input
from coaching.phone.logging import TOLD, as_json
from plans import recording
from plans.recording import Entry

LONGEST = timedelta(366)
AWAY = "Noted. Your coach sees what it changes and sends you the new days."


class TimeOffForm(forms.Form):
    first_day = forms.DateField(label="From", widget=day_input())
    last_day = forms.DateField(label="To, and with it", widget=day_input())
    minutes = forms.IntegerField(
        label="Minutes free each day",
        help_text="0 means no running at all.",
        min_value=0,
        max_value=480,
        initial=0,
    )
    kind = forms.ChoiceField(label="Why", choices=TimeOff.KINDS)
    entry_id = forms.UUIDField(required=False, widget=forms.HiddenInput, initial=uuid4)

    def __init__(self, *args: Any, athlete: Athlete, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = athlete.today()

    def clean_first_day(self) -> date:
        day: date = self.cleaned_data["first_day"]
        if day < self.today:
            raise forms.ValidationError("That day is over. Runs that were missed are logged as missed.")
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        first, last = data.get("first_day"), data.get("last_day")
        if first and last and last < first:
            self.add_error("last_day", "It ends before it begins.")
        elif first and last and last - first > LONGEST:
            self.add_error("last_day", "At most a year at once.")
        return data


@athlete_only
def time_off(request: AthleteRequest) -> HttpResponse:
    one = request.athlete
    today = one.today()
    form = TimeOffForm(
        request.POST if request.method == "POST" else None,
        athlete=one,
        initial={"first_day": today, "last_day": today, "kind": "travel"},
    )
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        recording.take_time_off(one, data["first_day"], data["last_day"], data["minutes"], data["kind"])
        return noted(request, messages.SUCCESS, AWAY, "my-time-off")
    if form.errors and as_json(request):
        return JsonResponse({"errors": form.errors}, status=422)
    context = {"form": form, "rows": one.time_off.filter(last_day__gte=today)}
    return render(request, "phone/time_off.html", context, status=422 if form.errors else 200)


@require_POST
@athlete_only
def free_again(request: AthleteRequest, pk: int) -> HttpResponse:
    recording.free_again(own_time_off(request.athlete, pk))
    messages.success(request, "Those days are free again. Your coach sees what it changes.")
    return redirect("my-time-off")


def noted(request: AthleteRequest, level: int, words: str, then: str) -> HttpResponse:
    """The answer to a form, or to a phone that kept it without signal. Sent twice, both are noted once."""
    if as_json(request):
        return JsonResponse({"stored": True, "said": words, "level": messages.DEFAULT_TAGS[level]})
    messages.add_message(request, level, words)
    return redirect(then)


class UnwellForm(forms.Form):
    entry_id = forms.UUIDField(required=False, widget=forms.HiddenInput, initial=uuid4)
    cause = forms.ChoiceField(
        label="What is it?",
        choices=[("ill", "I am ill"), ("pain", "Something hurts")],
        widget=forms.RadioSelect,
    )
    severe = forms.BooleanField(
        label="With a fever, chest symptoms, or pain that changes how I run", required=False
    )
    words = forms.CharField(
        label="Where, and since when?",
        max_length=400,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


@athlete_only
def unwell(request: AthleteRequest) -> HttpResponse:
    """Illness or pain, without a run to log it with: a hold opens and the coach is told."""
    form = UnwellForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        entry = Entry(
            uuid4(),
            request.athlete.today(),
            "missed",
            reason=data["cause"],
            severe=data["severe"],
            note=data["words"],
        )
        recording.say_unwell(request.athlete, entry, request.user)
        return noted(request, messages.WARNING, TOLD, "today")
    if form.errors and as_json(request):
        return JsonResponse({"errors": form.errors}, status=422)
    return render(request, "phone/unwell.html", {"form": form}, status=422 if form.errors else 200)
