"""Notes that only coaches see: dated, about one athlete. The athlete's export has them; no page of theirs does."""

from __future__ import annotations

from datetime import date

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from athletes.models import Athlete, DeskNote
from coaching.access import CoachRequest, athlete_for, coach_only, desk_note_for
from coaching.fields import day_input


class DeskNoteForm(forms.Form):
    day = forms.DateField(label="On", widget=day_input())
    words = forms.CharField(label="Note", max_length=1000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: object, athlete: Athlete, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.today = athlete.today()
        self.fields["day"].initial = self.today
        self.fields["day"].widget.attrs["max"] = self.today.isoformat()

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if day > self.today:
            raise forms.ValidationError("This day is still to come.")
        return day


@require_POST
@coach_only
def add(request: CoachRequest, pk: int) -> HttpResponse:
    from coaching.desk.athlete import show

    one = athlete_for(request.user, pk)
    form = DeskNoteForm(request.POST, athlete=one)
    if not form.is_valid():
        return show(request, pk, desk_note=form, status=422)
    DeskNote.objects.create(
        athlete=one,
        coach=request.coach,
        coach_name=str(request.coach),
        at=timezone.now(),
        **form.cleaned_data,
    )
    messages.success(request, "Noted. Only coaches see it.")
    return redirect(reverse("athlete", args=[pk]) + "#notes")


@require_POST
@coach_only
def remove(request: CoachRequest, pk: int) -> HttpResponse:
    """Whoever wrote it takes it away, or a head coach."""
    note = desk_note_for(request.user, pk)
    if note.coach_id != request.coach.pk and not request.coach.is_head:
        raise PermissionDenied
    note.delete()
    messages.success(request, "The note is gone.")
    return redirect(reverse("athlete", args=[note.athlete_id]) + "#notes")
