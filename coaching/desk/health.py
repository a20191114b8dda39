"""An athlete's health notes on the desk: those that hold and those that are closed; one told on a call is opened."""

from __future__ import annotations

from uuid import uuid4

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from coaching import privacy
from coaching.access import CoachRequest, athlete_for, coach_only
from plans import recording
from plans.recording import Entry

CAUSES = [("ill", "illness"), ("pain", "pain")]


class UnwellForm(forms.Form):
    reason = forms.ChoiceField(label="It is", choices=CAUSES, widget=forms.RadioSelect)
    severe = forms.BooleanField(
        label="With a fever, chest symptoms, or pain that changes how they run", required=False
    )
    words = forms.CharField(
        label="What was said", required=False, max_length=400, widget=forms.Textarea(attrs={"rows": 2})
    )


@coach_only
def health(request: CoachRequest, pk: int) -> HttpResponse:
    """GET shows every note, and the reading is written down; POST opens a hold, or adds to the open one."""
    athlete = athlete_for(request.user, pk)
    form = UnwellForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        entry = Entry(
            uuid4(),
            athlete.today(),
            "missed",
            reason=data["reason"],
            note=data["words"],
            severe=data["severe"],
        )
        recording.say_unwell(athlete, entry, request.user)
        messages.warning(request, "A hold is open: it stops progress until a coach clears it.")
        return redirect("athlete", pk=pk)
    notes = athlete.health_notes.all()
    privacy.note_read(notes, request.user)
    context = {"athlete": athlete, "notes": notes, "form": form}
    return render(request, "desk/health.html", context, status=422 if request.method == "POST" else 200)
