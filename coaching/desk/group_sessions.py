"""Group sessions: where and when, who is expected, who came, and everyone's paces on one sheet."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from athletes.models import Athlete, Group, Practice
from coaching.access import CoachRequest, coach_only, group_session_for, groups_to_meet
from coaching.desk.handouts import pdf
from coaching.desk.session_forms import NO_SPELLING
from coaching.fields import day_input
from plans import meeting
from plans.gathering import place_words
from plans.meeting import MOST_WEEKS, AlreadyThere
from plans.models import GroupSession
from plans.reading import week_of
from plans.sheets import people_of, session_sheet
from plans.training.shorthand import LONGEST_TEXT, ShorthandError, parse


class PlaceForm(forms.Form):
    """When and where, and what is run."""

    day = forms.DateField(label="Day", widget=day_input())
    at = forms.TimeField(
        label="Time", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    place = forms.CharField(label="Place", max_length=80)
    steps = forms.CharField(
        label="What is run",
        required=False,
        max_length=LONGEST_TEXT,
        widget=forms.TextInput(attrs={"class": "shorthand", **NO_SPELLING}),
        help_text="Empty: each one’s own, as their plan has it. Or one session for all, as on the board.",
    )
    note = forms.CharField(
        label="A word for all", required=False, max_length=200, help_text="Like: bring a head torch."
    )

    def clean_steps(self) -> str:
        text = " ".join(self.cleaned_data["steps"].split())
        try:
            if text:
                parse(text)
        except ShorthandError as error:
            raise forms.ValidationError(f"{error} Or leave it empty: each one’s own.") from error
        return text

    def clean_place(self) -> str:
        return " ".join(self.cleaned_data["place"].split())


class NewForm(PlaceForm):
    group = forms.ModelChoiceField(Group.objects.none(), label="Group")
    weeks = forms.IntegerField(
        label="Weeks in a row", min_value=1, max_value=MOST_WEEKS, initial=1, help_text="1 for once."
    )
    field_order = ("group", "day", "at", "place", "weeks", "steps", "note")

    def __init__(self, *args: Any, groups: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["group"].queryset = groups  # type: ignore[attr-defined]

    def make(self) -> GroupSession | None:
        """The first of them; None with the error at its field."""
        try:
            return meeting.make(**self.cleaned_data)
        except AlreadyThere as error:
            self.add_error("day", str(error))
            return None


class ChangeForm(PlaceForm):
    called_off = forms.BooleanField(label="Called off (the athletes see it)", required=False)
    later = forms.BooleanField(label="The later ones of this weekly session too", required=False)

    def __init__(self, *args: Any, one: GroupSession, **kwargs: Any) -> None:
        names = ("day", "at", "place", "steps", "note", "called_off")
        kwargs["initial"] = {name: getattr(one, name) for name in names}
        super().__init__(*args, **kwargs)
        self.one = one
        if not later_ones(one):
            del self.fields["later"]

    def change(self) -> bool:
        try:
            meeting.change(self.one, **({"later": False} | self.cleaned_data))
        except AlreadyThere as error:
            self.add_error("day", str(error))
            return False
        return True


def later_ones(one: GroupSession) -> int:
    return GroupSession.objects.filter(series=one.series, day__gt=one.day).count()


def to_week(day: date) -> HttpResponse:
    response = redirect("week")
    response["Location"] += f"?week={week_of(day, Practice.get().week_starts)}"
    return response


@coach_only
def new(request: CoachRequest) -> HttpResponse:
    groups = groups_to_meet(request.user)
    initial = {name: request.GET[name] for name in ("day", "group") if name in request.GET}
    form = NewForm(request.POST or None, groups=groups, initial=initial)
    if request.method == "POST" and form.is_valid() and (made := form.make()):
        weeks = form.cleaned_data["weeks"]
        times = f", {weeks} weeks in a row" if weeks > 1 else ""
        messages.success(
            request, f"{made.group.name}: {made.day:%A} {place_words(made, group=False)}{times}."
        )
        return to_week(made.day)
    context = {"form": form, "groups": groups}
    return render(request, "desk/group_session_new.html", context, status=422 if form.errors else 200)


@coach_only
def group_session(request: CoachRequest, pk: int) -> HttpResponse:
    """GET who comes; POST keeps the ticks of this coach's own athletes, before the day or after it."""
    one = group_session_for(request.user, pk)
    people = people_of(one, Athlete.objects.for_user(request.user))
    begun = one.day <= timezone.localdate()
    if request.method == "POST":
        return keep(request, one, people, begun)
    told = any(person.meeting.came is not None for person in people)
    context = {
        "one": one,
        "people": people,
        "begun": begun,
        "told": told,
        "expected": sum(person.meeting.expected for person in people),
        "later": later_ones(one),
        "week": week_of(one.day, Practice.get().week_starts),
    }
    return render(request, "desk/group_session.html", context)


def keep(request: CoachRequest, one: GroupSession, people: Any, begun: bool) -> HttpResponse:
    ticked = {int(key) for key in request.POST.getlist("athlete") if key.isascii() and key.isdecimal()}
    found = {person.athlete.pk: person.meeting for person in people}
    if not begun:
        meeting.say_expected(one, found, ticked)
        messages.success(request, f"{len(ticked & set(found))} expected.")
        return redirect("group-session", pk=one.pk)
    meeting.say_came(one, found, ticked)
    words = f"{len(ticked & set(found))} came."
    if "log" in request.POST:
        came = [person.athlete for person in people if person.athlete.pk in ticked]
        count = meeting.log_as_planned(found, came, by=request.user)
        words += f" Logged as planned: {count}; what was logged before stays."
    messages.success(request, words)
    return redirect("group-session", pk=one.pk)


@coach_only
def change(request: CoachRequest, pk: int) -> HttpResponse:
    one = group_session_for(request.user, pk)
    form = ChangeForm(request.POST or None, one=one)
    if request.method == "POST" and form.is_valid() and form.change():
        messages.success(request, "Changed: it stands so on the phones now.")
        return redirect("group-session", pk=pk)
    context = {"form": form, "one": one, "later": later_ones(one)}
    return render(request, "desk/group_session_change.html", context, status=422 if form.errors else 200)


@require_POST
@coach_only
def remove(request: CoachRequest, pk: int) -> HttpResponse:
    one = group_session_for(request.user, pk)
    count = meeting.take_away(one, later="later" in request.POST)
    messages.success(request, f"{count} group session{'s' if count > 1 else ''} taken away.")
    return to_week(one.day)


@require_GET
@coach_only
def sheet(request: CoachRequest, pk: int) -> HttpResponse:
    """Everyone who is expected, on paper."""
    one = group_session_for(request.user, pk)
    found = session_sheet(one, Athlete.objects.for_user(request.user))
    if found is None:
        messages.info(request, "Nobody is expected yet, so there is nothing to print.")
        return redirect("group-session", pk=pk)
    return pdf(found, f"sheet-{one.day}")
