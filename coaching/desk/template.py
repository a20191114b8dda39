"""One template, edited in place: the board, moving sessions, changing weeks, undo.

Every change names the version it was made on. If another was saved meanwhile nothing is written: the board comes
back as it stands now, with a sentence.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from athletes.models import Athlete
from athletes.running.units import Distance
from coaching.access import CoachRequest, athlete_for, coach_only, groups_for, template_for
from coaching.desk.board import KIND_WORDS, board
from coaching.fields import DistanceField
from plans import drafting
from plans.models import Schedule, Template
from plans.training import template as core
from plans.training.template import DAY_NAMES, KINDS, TemplateError
from plans.training.template_editing import WEEK_CHANGES, NoSuchPlace, find, moved, with_week_words, without

STALE = 409


@coach_only
def template(request: CoachRequest, pk: int) -> HttpResponse:
    one = template_for(request.user, pk)
    return show_board(request, one)


def show_board(request: CoachRequest, one: Template, problem: str = "", status: int = 200) -> HttpResponse:
    """The whole page, or only the board when htmx asks."""
    version = one.latest
    context: dict[str, Any] = {**board(request, one, version), "problem": problem}
    if request.htmx:
        return render(request, "desk/template.html#board", context, status=status)
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    context |= {
        "athletes": mine,
        "examples": mine.filter(pace_cards__isnull=False).distinct(),
        "groups": groups_for(request.user),
        "behind": Schedule.objects.filter(athlete__in=mine, state="running", template_version__template=one)
        .exclude(template_version=version)
        .count(),
    }
    return render(request, "desk/template.html", context, status=status)


def base_of(request: CoachRequest) -> int:
    """The version the coach was looking at."""
    text = request.POST.get("base", "")
    return int(text) if text.isdecimal() and len(text) < 9 else 0


def change_board(
    request: CoachRequest,
    one: Template,
    edit: Callable[[core.Template], core.Template],
    what: str,
    at: str = "",
) -> HttpResponse:
    """Save one change and show the board again, with what stands in the way if it can't be saved."""
    try:
        drafting.change(one, base_of(request), edit, by=request.coach, what=what)
    except drafting.StaleTemplate as stale:
        return show_board(request, one, f"{stale} The board shows it now; do your change again.", STALE)
    except TemplateError as error:
        return show_board(request, one, " ".join(map(str, error.problems)), 422)
    except NoSuchPlace as error:
        return show_board(request, one, str(error), 422)
    return after_change(request, one, at)


def after_change(request: CoachRequest, one: Template, at: str = "") -> HttpResponse:
    one.refresh_from_db()
    if request.htmx:
        return show_board(request, one)
    return redirect(reverse("template", args=[one.pk]) + (f"#{at}" if at else ""))


@require_POST
@coach_only
def move(request: CoachRequest, pk: int) -> HttpResponse:
    """A session to another day or week: by drag, by arrow keys, or by the form on its page."""
    one = template_for(request.user, pk)
    key, week, day = request.POST.get("key", ""), request.POST.get("week", ""), request.POST.get("day", "")
    if "to" in request.POST:  # a plain button names week and day in one value
        week, _, day = request.POST["to"].partition(":")
    if not week.isdecimal() or len(week) > 3 or day not in ("", *map(str, range(7))):
        return show_board(request, one, "There is no such day in the plan.", 422)
    number, weekday = int(week) - 1, int(day) if day else None
    name = DAY_NAMES[weekday] if weekday is not None else "any day"
    return change_board(
        request,
        one,
        lambda plan: moved(plan, key, number, weekday),
        f"a session moved to week {week}, {name}",
        f"s-{key}",
    )


@require_POST
@coach_only
def remove(request: CoachRequest, pk: int, key: str) -> HttpResponse:
    one = template_for(request.user, pk)

    def edit(plan: core.Template) -> core.Template:
        find(plan, str(key))
        return without(plan, str(key))

    return change_board(request, one, edit, "a session removed")


@require_POST
@coach_only
def week_words(request: CoachRequest, pk: int, number: int) -> HttpResponse:
    """What a week is for: its kind steers the arithmetic, its purpose is read by athletes."""
    one = template_for(request.user, pk)
    kind = next((k for k in KINDS if k == request.POST.get("kind")), None)
    if kind is None:
        possible = ", ".join(KIND_WORDS.values())
        return show_board(request, one, f"Choose what kind of week it is: {possible}.", 422)
    purpose = " ".join(request.POST.get("purpose", "").split())
    return change_board(
        request,
        one,
        lambda plan: with_week_words(plan, number - 1, kind, purpose),
        f"week {number}: kind or purpose",
        f"week-{number}",
    )


@require_POST
@coach_only
def week_change(request: CoachRequest, pk: int, number: int, what: str) -> HttpResponse:
    one = template_for(request.user, pk)
    if what not in WEEK_CHANGES:
        raise Http404
    edit, words = WEEK_CHANGES[what]
    return change_board(
        request, one, lambda plan: edit(plan, number - 1), f"week {number} {words}", f"week-{number}"
    )


@require_POST
@coach_only
def undo(request: CoachRequest, pk: int) -> HttpResponse:
    one = template_for(request.user, pk)
    former = drafting.undoable(one.latest)
    if former is None:
        return show_board(request, one, "There is nothing to undo.", 422)
    try:
        drafting.restore(one, base_of(request), former, by=request.coach)
    except drafting.StaleTemplate as stale:
        return show_board(request, one, f"{stale} Nothing was undone.", STALE)
    return after_change(request, one)


@require_POST
@coach_only
def example(request: CoachRequest, pk: int) -> HttpResponse:
    """For whom the sums are: remembered for this sign-in, on every template."""
    one = template_for(request.user, pk)
    wanted = request.POST.get("athlete", "")
    athlete = athlete_for(request.user, int(wanted) if wanted.isdecimal() else 0)
    request.session["example_athlete"] = athlete.pk
    return after_change(request, one)


class FactsForm(forms.Form):
    """What stands over the plan."""

    base = forms.IntegerField(widget=forms.HiddenInput)
    name = forms.CharField(label="Name", max_length=80)
    about = forms.CharField(
        label="Whom it is for", required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    level = forms.CharField(label="Level, in your words", required=False, max_length=60)
    race = DistanceField(
        label="Race", required=False, help_text="Like marathon or 10 km; empty for a block without a race."
    )
    fewest = forms.IntegerField(
        label="Fewest weeks", min_value=1, max_value=60, help_text="With fewer it isn't fitted at all."
    )
    least_long = DistanceField(
        label="Longest run, at least", required=False, help_text="Less doesn't prepare for the race."
    )
    from_week = DistanceField(label="Week before it begins", required=False)
    from_long = DistanceField(label="Longest run before it begins", required=False)

    def applied(self, plan: core.Template) -> core.Template:
        data = self.cleaned_data

        def mm(name: str) -> int:
            return data[name].mm if data[name] else 0

        return replace(
            plan,
            name=data["name"].strip(),
            about=" ".join(data["about"].split()),
            level=data["level"].strip(),
            race_mm=mm("race") or None,
            least_weeks=data["fewest"],
            least_long_mm=mm("least_long"),
            from_week_mm=mm("from_week"),
            from_long_mm=mm("from_long"),
        )


@coach_only
def facts(request: CoachRequest, pk: int) -> HttpResponse:
    """Rename it, say whom it is for and what it starts from."""
    one = template_for(request.user, pk)
    version = one.latest
    plan = version.plan
    initial: dict[str, Any] = {
        "base": version.number,
        "name": plan.name,
        "about": plan.about,
        "level": plan.level,
        "race": Distance(plan.race_mm) if plan.race_mm else None,
        "fewest": plan.least_weeks,
        "least_long": Distance(plan.least_long_mm) if plan.least_long_mm else None,
        "from_week": Distance(plan.from_week_mm) if plan.from_week_mm else None,
        "from_long": Distance(plan.from_long_mm) if plan.from_long_mm else None,
    }
    form = FactsForm(request.POST or None, initial=initial)
    status = 200
    if request.method == "POST" and form.is_valid():
        try:
            drafting.change(
                one, form.cleaned_data["base"], form.applied, by=request.coach, what="name or starting point"
            )
        except drafting.StaleTemplate as stale:
            status = STALE
            form.data = {**request.POST.dict(), "base": stale.newest.number}
            form.add_error(None, f"{stale} What you typed is kept; save again to put it into that version.")
        except TemplateError as error:
            for problem in error.problems:
                form.add_error(None, str(problem))
        else:
            messages.success(request, "Saved.")
            return redirect("template", pk=pk)
    if form.errors and status == 200:
        status = 422
    return render(
        request,
        "desk/template_facts.html",
        {"template": one, "form": form, "version": version},
        status=status,
    )
