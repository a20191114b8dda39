"""A word from the phone to the coach: its form, and how it is kept."""

from __future__ import annotations

from uuid import uuid4

from django import forms
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect

from coaching.access import AthleteRequest
from coaching.phone.logging import as_json
from plans import saying
from plans.models import Session
from plans.models.messages import MOST_WORDS

SENT = "Sent. Your coach reads it on the desk."


class WordForm(forms.Form):
    entry_id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    words = forms.CharField(
        label="A word about this session",
        max_length=MOST_WORDS,
        widget=forms.Textarea(attrs={"rows": 2, "data-phrases": ""}),
    )


def fresh_word() -> WordForm:
    return WordForm(initial={"entry_id": uuid4()})


def keep_word(request: AthleteRequest, form: WordForm, session: Session | None) -> HttpResponse | None:
    """Store a word that came in by a form, or as JSON from a phone that kept it; None if the form is to be shown."""
    if not form.is_valid():
        return JsonResponse({"errors": form.errors}, status=422) if as_json(request) else None
    data = form.cleaned_data
    said = saying.say(
        request.athlete, data["words"], by=request.user, by_coach=False, key=data["entry_id"], session=session
    )
    if as_json(request):
        return JsonResponse({"stored": str(said.key), "said": SENT, "level": "success"})
    return redirect("my-session", pk=session.pk) if session else redirect("my-messages")
