"""A coach's own saved phrases, and putting one into what is being written."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.db import IntegrityError, transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from coaching.access import CoachRequest, coach_only, phrase_for
from coaching.models import Phrase


class PhraseForm(forms.Form):
    name = forms.CharField(label="Name", max_length=40, help_text="What the button says.")
    words = forms.CharField(label="Words", max_length=400, widget=forms.Textarea(attrs={"rows": 2}))


@coach_only
def phrases(request: CoachRequest) -> HttpResponse:
    """GET lists them; POST adds one."""
    return edit(request, Phrase(coach=request.coach))


@coach_only
def phrase(request: CoachRequest, pk: int) -> HttpResponse:
    return edit(request, phrase_for(request.coach, pk))


def edit(request: CoachRequest, one: Phrase) -> HttpResponse:
    form = PhraseForm(request.POST or None, initial={"name": one.name, "words": one.words})
    if request.method == "POST" and form.is_valid() and keep(one, form):
        messages.success(request, f"“{one.name}” is kept.")
        return redirect("phrases")
    context = {"form": form, "one": one, "rows": Phrase.objects.filter(coach=request.coach)}
    return render(request, "desk/phrases.html", context, status=422 if form.errors else 200)


def keep(one: Phrase, form: PhraseForm) -> bool:
    one.name, one.words = " ".join(form.cleaned_data["name"].split()), form.cleaned_data["words"]
    try:
        with transaction.atomic():
            one.save()
    except IntegrityError:
        form.add_error("name", "Another phrase of yours has this name.")
        return False
    return True


@require_POST
@coach_only
def remove(request: CoachRequest, pk: int) -> HttpResponse:
    one = phrase_for(request.coach, pk)
    one.delete()
    messages.success(request, f"“{one.name}” is taken away.")
    return redirect("phrases")


def put_in(request: CoachRequest) -> str | None:
    """The text with the phrase whose button was pressed at its end; None if another button was.

    Without JavaScript the page comes back with it; with it, static/phrases.js does the same at the cursor.
    """
    key = request.POST.get("phrase", "")
    if not (key.isascii() and key.isdecimal() and len(key) < 10):
        return None
    typed = request.POST.get("words", "").rstrip()
    return "\n".join(filter(None, [typed, phrase_for(request.coach, int(key)).words]))
