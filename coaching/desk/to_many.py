"""A word to a group, to everybody on a race, to everybody, or to those ticked on the roster."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from uuid import uuid4

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from athletes.models import Athlete
from athletes.models.people import AthleteQuerySet
from coaching.access import CoachRequest, coach_only, groups_for
from coaching.desk.phrases import put_in
from coaching.desk.thread import WordsForm
from coaching.models import Phrase
from coaching.templatetags.plain import short_day
from plans import saying, unread
from plans.models import Race

TICKED, EVERYONE = "ticked", "everyone"


class ManyForm(WordsForm):
    to = forms.ChoiceField(label="To")
    day = forms.TypedChoiceField(
        label="With each one’s session of",
        required=False,
        coerce=date.fromisoformat,
        empty_value=None,
        help_text="Who has none that day gets the words alone.",
    )
    field_order = ("entry_id", "to", "words", "day", "on_paper")

    def __init__(self, *args: Any, to: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        today = timezone.localdate()
        days = [today + timedelta(n) for n in range(-1, 14)]
        self.fields["to"].choices = to  # type: ignore[attr-defined]
        self.fields["day"].choices = [("", "no session"), *((d.isoformat(), short_day(d)) for d in days)]  # type: ignore[attr-defined]


def mine(request: CoachRequest) -> AthleteQuerySet:
    return Athlete.objects.for_user(request.user).filter(left_on__isnull=True)


def choices(request: CoachRequest, ticked: list[Athlete]) -> list[tuple[str, str]]:
    races = Race.objects.filter(day__gte=timezone.localdate(), entries__athlete__in=mine(request)).distinct()
    found = [(TICKED, f"{len(ticked)} athletes ticked on the roster")] if ticked else [("", "choose")]
    found += [(f"group:{one.pk}", f"the group {one.name}") for one in groups_for(request.user)]
    found += [(f"race:{one.pk}", f"all on {one.name}") for one in races]
    return [*found, (EVERYONE, "everyone of mine")]


def athletes_for(request: CoachRequest, to: str, ticked: list[Athlete]) -> list[Athlete]:
    """Whom a choice of the form means; only ever athletes whom this coach may see."""
    kind, _, key = to.partition(":")  # a choice of the form, which is required: never empty
    if kind == TICKED:
        return ticked
    if kind == "group":
        return list(mine(request).filter(groups=int(key)))
    if kind == "race":
        return list(mine(request).filter(race_entries__race=int(key)).distinct())
    return list(mine(request))


@coach_only
def to_many(request: CoachRequest) -> HttpResponse:
    """GET the form, for ?to=group:3 or ?to=race:5; POST sends, or puts a phrase into what is being typed."""
    if request.method != "POST":
        return show(request, [], initial={"to": request.GET.get("to", "")})
    ticked = list(mine(request).filter(pk__in=unread.keys_of(request.POST.getlist("athlete"))))
    if (text := put_in(request)) is not None:
        return show(request, ticked, initial={**request.POST.dict(), "words": text})
    form = ManyForm(request.POST, to=choices(request, ticked))
    if form.is_valid():
        data = form.cleaned_data
        athletes = athletes_for(request, data["to"], ticked)
        if athletes:
            return send(request, form, athletes)
        form.add_error("to", "Nobody of yours is in it just now.")
    return page(request, form, ticked, 422)


def send(request: CoachRequest, form: ManyForm, athletes: list[Athlete]) -> HttpResponse:
    data = form.cleaned_data
    whom = dict(form.fields["to"].choices)[data["to"]]  # type: ignore[attr-defined]
    saying.say_to_many(
        athletes,
        data["words"],
        coach=request.coach,
        to=whom,
        key=data["entry_id"] or uuid4(),
        day=data["day"],
        on_paper=data["on_paper"],
    )
    many = len(athletes)
    messages.success(
        request,
        f"Said to {whom}: {many} {'athlete has' if many == 1 else 'athletes have'} it on the phone now.",
    )
    return redirect("messages")


def begin(request: CoachRequest, ticked: list[Athlete]) -> HttpResponse:
    """From the roster, with those who are ticked there; a single one gets it in their thread."""
    if len(ticked) == 1:
        return redirect("thread", pk=ticked[0].pk)
    return show(request, ticked, initial={"to": TICKED})


def show(request: CoachRequest, ticked: list[Athlete], initial: dict[str, Any]) -> HttpResponse:
    values = {"entry_id": uuid4(), **{key: value for key, value in initial.items() if value}}
    return page(request, ManyForm(initial=values, to=choices(request, ticked)), ticked)


def page(request: CoachRequest, form: ManyForm, ticked: list[Athlete], status: int = 200) -> HttpResponse:
    phrases = Phrase.objects.filter(coach=request.coach)
    return render(
        request, "desk/to_many.html", {"form": form, "ticked": ticked, "phrases": phrases}, status=status
    )
