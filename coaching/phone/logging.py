"""Log a session in two taps, or say what was different. An entry sent twice counts once."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from athletes.models import Athlete
from athletes.running.effort import EFFORT_WORDS
from athletes.running.units import Distance, Duration, Pace, Units
from coaching.access import AthleteRequest, athlete_only, own_session
from coaching.fields import DistanceField, TimeField, day_input
from plans import recording
from plans.models import REASONS, Log, SessionIssue
from plans.reading import item_of
from plans.recording import Clash, Entry

HOWS = [
    ("done", "Done as planned"),
    ("cut", "Cut short"),
    ("other", "More, or something else"),
    ("missed", "Missed"),
]
FASTEST, SLOWEST = Pace.from_s_per_km(120), Pace.from_s_per_km(40 * 60)
FURTHEST = Distance.from_km(250)


class RunForm(forms.Form):
    """What was run. `entry_id` was made with the form: a double tap sends it twice."""

    entry_id = forms.UUIDField(widget=forms.HiddenInput)
    day = forms.DateField(label="Run on", widget=day_input())
    distance = DistanceField(label="Distance", required=False)
    moving = TimeField(label="Time", required=False, help_text="Like 45:10 or 1:20:00.")
    effort = forms.TypedChoiceField(
        label="Effort",
        required=False,
        coerce=int,
        empty_value=None,
        choices=[(n, str(n)) for n in range(11)],
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Effort is a whole number from 0 to 10."},
    )
    note = forms.CharField(
        label="A word to your coach", required=False, max_length=400, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, athlete: Athlete, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.athlete = athlete
        units: Units = "mi" if athlete.units == "mi" else "km"
        distance = self.fields["distance"]
        assert isinstance(distance, DistanceField)
        distance.units = units
        distance.help_text = f"Like {'5.2 mi' if units == 'mi' else '8.4 km'}."

    def clean_day(self) -> Any:
        day, today = self.cleaned_data["day"], self.athlete.today()
        if day > today:
            raise forms.ValidationError("This day is still to come.")
        if day < today - timedelta(days=366):
            raise forms.ValidationError("That is more than a year ago.")
        return day

    def clean_distance(self) -> Any:
        distance: Distance | None = self.cleaned_data["distance"]
        if distance and distance > FURTHEST:
            raise forms.ValidationError("That is further than 250 km in one run. Is the unit right?")
        return distance

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "entry_id" in self.errors:  # a form without its number could never be saved: give it a new one
            self.data = self.data.copy()
            self.data["entry_id"] = str(uuid4())
            self.add_error(None, "The page had lost this entry's number. It has a new one: save again.")
        distance: Distance | None = data.get("distance")
        time: Duration | None = data.get("moving")
        if distance and time and not SLOWEST <= Pace(distance, time) <= FASTEST:
            self.add_error(
                "moving",
                "Distance and time don't go together: nobody runs like that. A time like 1:20:00 has hours.",
            )
        return data

    def entry(self, outcome: str, seen: UUID | None = None) -> Entry:
        data = self.cleaned_data
        missed = outcome == "missed"
        distance, moving = data.get("distance"), data.get("moving")
        return Entry(
            entry_id=data["entry_id"],
            day=data["day"],
            outcome=outcome,
            distance_mm=distance.mm if distance and not missed else None,
            moving_s=round(moving.s) if moving and not missed else None,
            effort=None if missed else data.get("effort"),
            reason=data.get("reason", "") if missed else "",
            note=data.get("note", ""),
            seen=seen,
        )


class LogForm(RunForm):
    """What became of a planned session. `seen` is the entry that stood when the form was made."""

    seen = forms.UUIDField(widget=forms.HiddenInput, required=False)
    outcome = forms.ChoiceField(label="How did it go?", choices=HOWS, widget=forms.RadioSelect)
    reason = forms.ChoiceField(label="Why?", choices=REASONS, required=False, widget=forms.RadioSelect)
    field_order = ("entry_id", "seen", "outcome", "reason", "distance", "moving", "effort", "day", "note")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        outcome = data.get("outcome")
        if outcome == "missed" and not data.get("reason") and "reason" not in self.errors:
            self.add_error("reason", "Say why, so that your coach can plan around it.")
        amounts = ("distance", "moving")
        if outcome in ("cut", "other") and not any(data.get(a) or a in self.errors for a in amounts):
            self.add_error("distance", "Say how far or how long it was.")
        return data


@athlete_only
def log(request: AthleteRequest, pk: UUID) -> HttpResponse:
    """GET: the effort row (how=done), or the whole form; POST stores the entry."""
    session = own_session(request.athlete, pk)
    issue = get_object_or_404(SessionIssue, session=session, to_version=None)
    standing = Log.objects.standing().filter(session=session).first()
    form = LogForm(
        request.POST or None, athlete=request.athlete, initial=initial_for(request.athlete, issue, standing)
    )
    status, clash = 200, None
    if request.method == "POST" and form.is_valid():
        try:
            recording.record(
                request.athlete,
                session,
                form.entry(form.cleaned_data["outcome"], form.cleaned_data["seen"]),
                by=request.user,
            )
        except Clash as error:
            clash = error.standing
        else:
            return thank(request, form.cleaned_data["outcome"], form.cleaned_data.get("reason", ""))
    if form.errors or clash:
        status = 422
    units = "mi" if request.athlete.units == "mi" else "km"
    context = {
        "form": form,
        "item": item_of(issue, standing, units),
        "units": units,
        "quick": request.method == "GET" and request.GET.get("how") == "done" and standing is None,
        "efforts": list(enumerate(EFFORT_WORDS)),
        "clash": clash,
        "seen": clash.pk if clash else form["seen"].value(),
    }
    return render(request, "phone/log.html", context, status=status)


def initial_for(athlete: Athlete, issue: SessionIssue, standing: Log | None) -> dict[str, Any]:
    """A fresh entry, filled with the one that stands when it is to be corrected."""
    values: dict[str, Any] = {"entry_id": uuid4(), "day": min(issue.day, athlete.today()), "outcome": "done"}
    if standing:
        values |= {
            "seen": standing.pk,
            "day": standing.day,
            "outcome": standing.outcome,
            "reason": standing.reason,
            "distance": Distance(standing.distance_mm) if standing.distance_mm else None,
            "moving": Duration(standing.moving_s * 1000) if standing.moving_s else None,
            "effort": standing.effort,
            "note": standing.note,
        }
    return values


def thank(request: AthleteRequest, outcome: str, reason: str) -> HttpResponse:
    if outcome == "missed" and reason in ("ill", "pain"):
        messages.warning(
            request,
            "Noted, and your coach is told. Until they clear it there is nothing hard in your plan. With a fever, chest"
            " symptoms, or pain that changes how you run: no running, see a clinician.",
        )
    elif outcome == "missed":
        messages.success(request, "Noted. If the days ahead should change, your coach sees it now.")
    else:
        messages.success(request, "Logged.")
    return redirect("today")


@athlete_only
def extra_run(request: AthleteRequest) -> HttpResponse:
    """A run that is not in the plan."""
    form = RunForm(
        request.POST or None,
        athlete=request.athlete,
        initial={"entry_id": uuid4(), "day": request.athlete.today()},
    )
    if request.method == "POST" and form.is_valid():
        if form.cleaned_data.get("distance"):
            recording.record(request.athlete, None, form.entry("other"), by=request.user)
            return thank(request, "other", "")
        form.add_error("distance", "Say how far it was.")
    context = {"form": form, "efforts": list(enumerate(EFFORT_WORDS))}
    return render(request, "phone/extra_run.html", context, status=422 if form.errors else 200)
