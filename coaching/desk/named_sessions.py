"""The coach's own library of named sessions: what stands on the board, and why."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.db import IntegrityError, transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from coaching.access import CoachRequest, coach_only, named_session_for
from coaching.desk.board import ROLE_WORDS, example_for
from coaching.desk.session_forms import SessionForm, understand, words_of
from plans import naming
from plans.models import NamedSession


class NamedForm(SessionForm):
    name = forms.CharField(label="Name", max_length=60)
    field_order = ("name", "text")


@coach_only
def named_sessions(request: CoachRequest) -> HttpResponse:
    example = example_for(request)
    rows = [(one, understand(one.steps, example), ROLE_WORDS[one.role]) for one in NamedSession.objects.all()]
    return render(
        request, "desk/named_sessions.html", {"rows": rows, "example": example, "ours": naming.missing()}
    )


@require_POST
@coach_only
def fill(request: CoachRequest) -> HttpResponse:
    """Put in what the program brings along and the coach doesn't have yet."""
    count = naming.fill(request.coach)
    messages.success(request, f"{count} sessions added. They are yours now: change or delete them.")
    return redirect("named-sessions")


@coach_only
def add(request: CoachRequest) -> HttpResponse:
    return edit(request, NamedSession(by=request.coach), {})


@coach_only
def change(request: CoachRequest, pk: int) -> HttpResponse:
    one = named_session_for(request.user, pk)
    initial = {"name": one.name, "text": one.steps, "role": one.role, "purpose": one.purpose}
    return edit(request, one, {**initial, **words_of(one.steps)})


def edit(request: CoachRequest, one: NamedSession, initial: dict[str, Any]) -> HttpResponse:
    example = example_for(request)
    if request.method == "POST" and request.POST.get("do") == "look":
        looked = {"understood": understand(request.POST.get("text", ""), example), "example": example}
        return render(request, "desk/template_session.html#understood", looked)
    form = NamedForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid() and keep(one, form):
        messages.success(request, f"{one.name} is kept.")
        return redirect("named-sessions")
    text = form["text"].value() or ""
    context = {
        "form": form,
        "one": one,
        "understood": None if form["keep"].value() else understand(text, example),
        "example": example,
    }
    return render(request, "desk/named_session.html", context, status=422 if form.errors else 200)


def keep(one: NamedSession, form: NamedForm) -> bool:
    data = form.cleaned_data
    one.name, one.steps, one.role = data["name"].strip(), data["text"], data["role"]
    one.purpose = " ".join(data["purpose"].split())
    try:
        with transaction.atomic():
            one.save()
    except IntegrityError:
        form.add_error("name", "Another session has this name already.")
        return False
    return True


@require_POST
@coach_only
def delete(request: CoachRequest, pk: int) -> HttpResponse:
    """Out of the library. Templates that took it keep what they have."""
    one = named_session_for(request.user, pk)
    one.delete()
    messages.success(request, f"{one.name} is deleted. Templates keep what they took from it.")
    return redirect("named-sessions")
