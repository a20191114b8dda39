"""One athlete's thread on the desk: what was said, a word to them, and that it was read."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from athletes.models import Athlete
from coaching.access import CoachRequest, athlete_for, coach_only, session_for
from coaching.desk.phrases import put_in
from coaching.models import Phrase
from coaching.templatetags.plain import short_day
from plans import saying, unread
from plans.models import Message, SessionIssue
from plans.models.messages import MOST_WORDS
from plans.reading import RUNS, title_of

A_PAGE = 40
BACK, AHEAD = timedelta(7), timedelta(14)


class WordsForm(forms.Form):
    entry_id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    words = forms.CharField(
        label="Words", max_length=MOST_WORDS, widget=forms.Textarea(attrs={"rows": 4, "data-phrases": ""})
    )
    on_paper = forms.BooleanField(
        label="Also on the next handout",
        required=False,
        help_text="It hangs where others read it: nothing about health there.",
    )


class ThreadForm(WordsForm):
    session = forms.ChoiceField(label="About a session", required=False)
    field_order = ("entry_id", "words", "session", "on_paper")

    def __init__(self, *args: Any, athlete: Athlete, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["session"].choices = [("", "none"), *sessions_of(athlete)]  # type: ignore[attr-defined]


def sessions_of(athlete: Athlete) -> list[tuple[str, str]]:
    """Runs of the past week and the two ahead, to be written about."""
    today = athlete.today()
    live = SessionIssue.objects.filter(
        schedule__athlete=athlete,
        schedule__state="running",
        to_version=None,
        removed=False,
        role__in=RUNS,
        day__range=(today - BACK, today + AHEAD),
    )
    units = "mi" if athlete.units == "mi" else "km"
    rows = live.order_by("day", "slot").values_list("session_id", "day", "steps")
    return [(str(key), f"{short_day(day)}: {title_of(steps, units)}") for key, day, steps in rows]


@coach_only
def thread(request: CoachRequest, pk: int) -> HttpResponse:
    """GET shows it, newest first; POST says a word or puts a phrase into what is being typed."""
    one = athlete_for(request.user, pk)
    given = request.POST.copy() if request.method == "POST" else None
    if given is not None and (text := put_in(request)) is not None:
        form = ThreadForm(initial={**given.dict(), "words": text}, athlete=one)
        return show(request, one, form)
    form = ThreadForm(
        given, athlete=one, initial={"entry_id": uuid4(), "session": request.GET.get("session")}
    )
    if given is not None and form.is_valid():
        data = form.cleaned_data
        session = session_for(request.user, data["session"]) if data["session"] else None
        saying.say(
            one,
            data["words"],
            by=request.user,
            by_coach=True,
            key=data["entry_id"],
            session=session,
            on_paper=data["on_paper"],
        )
        messages.success(request, f"{one.name} has it on the phone now.")
        return redirect("thread", pk=pk)
    return show(request, one, form, 422 if form.errors else 200)


def show(request: CoachRequest, one: Athlete, form: ThreadForm, status: int = 200) -> HttpResponse:
    said = unread.with_reading(one.messages.all()).select_related("sending")
    before = unread.keys_of([request.GET.get("before", "")])
    if before:
        said = said.filter(pk__lt=before[0])
    rows = list(said.order_by("-pk")[: A_PAGE + 1])
    fresh = unread.unread_of(one.messages.filter(by_coach=False), request.user.pk)
    context = {
        "athlete": one,
        "rows": rows[:A_PAGE],
        "earlier": rows[A_PAGE - 1].pk if len(rows) > A_PAGE else None,
        "fresh": set(fresh.values_list("pk", flat=True)),
        "form": form,
        "phrases": Phrase.objects.filter(coach=request.coach),
    }
    return render(request, "desk/thread.html", context, status=status)


@require_POST
@coach_only
def read(request: CoachRequest, pk: int) -> HttpResponse:
    """That this coach has read what the page showed. The page sends it by itself where there is JavaScript."""
    one = athlete_for(request.user, pk)
    shown = unread.keys_of(request.POST.getlist("message"))
    unread.mark(Message.objects.filter(athlete=one, by_coach=False, pk__in=shown), request.user)
    return HttpResponse(status=204) if request.htmx else redirect("thread", pk=pk)
