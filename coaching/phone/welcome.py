"""The steps after an invitation is spent. Each is stored when it is sent, so a lost phone loses one page at most."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import SetPasswordForm
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from athletes import screening
from athletes.models import Athlete, Coach
from coaching.access import AthleteRequest, athlete_only
from coaching.phone.about_forms import DaysForm, HealthForm, RunningForm
from coaching.result_form import ResultForm
from plans.freeing import set_free_days

STEPS = ("health", "running", "days", "door")


@athlete_only
def welcome(request: AthleteRequest, step: str) -> HttpResponse:
    if step not in STEPS:
        raise Http404
    number = STEPS.index(step)
    frame = {
        "number": number + 1,
        "of": len(STEPS),
        "back": STEPS[number - 1] if number else "",
        "next": STEPS[number + 1] if number + 1 < len(STEPS) else "",
    }
    return PAGES[step](request, frame)


def go_on(athlete: Athlete, frame: dict[str, Any]) -> HttpResponse:
    """To the next step; one that was reached before is not forgotten by going back."""
    step = frame["next"]
    if athlete.joining and STEPS.index(athlete.joining) < STEPS.index(step):
        Athlete.objects.filter(pk=athlete.pk).update(joining=step)
    return redirect("welcome", step=step)


def health(request: AthleteRequest, frame: dict[str, Any]) -> HttpResponse:
    athlete = request.athlete
    form = HealthForm(request.POST or None, athlete=athlete)
    if request.method == "POST" and form.is_valid():
        keep_health(athlete, form)
        if any(form.answers().values()):
            messages.warning(
                request,
                "Thank you for saying so. See a clinician before you train by a plan; your coach is told that"
                " a question was answered with yes, and makes no plan until that is settled.",
            )
        return go_on(athlete, frame)
    context = {**frame, "form": form}
    return render(request, "phone/welcome/health.html", context, status=422 if form.errors else 200)


@transaction.atomic
def keep_health(athlete: Athlete, form: HealthForm) -> None:
    athlete.born, athlete.guardian = form.cleaned_data["born"], form.cleaned_data["guardian"]
    athlete.save(update_fields=["born", "guardian"])
    newest = athlete.screenings.first()
    # The same answers again are no new answers: a coach's signature under them stands.
    if newest is None or newest.answers != form.answers():
        screening.keep(athlete, form.answers(), "", timezone.now())


def running(request: AthleteRequest, frame: dict[str, Any]) -> HttpResponse:
    athlete = request.athlete
    form = RunningForm(request.POST or None, athlete=athlete)
    result = ResultForm(
        request.POST or None,
        prefix="result",
        athlete=athlete,
        empty_permitted=True,
        use_required_attribute=False,
    )
    if (
        request.method == "POST"
        and form.is_valid()
        and result.is_valid()
        and keep_running(request, form, result)
    ):
        return go_on(athlete, frame)
    wrong = request.method == "POST"
    context = {**frame, "form": form, "result": result, "known": athlete.results.all()[:5]}
    return render(request, "phone/welcome/running.html", context, status=422 if wrong else 200)


@transaction.atomic
def keep_running(request: AthleteRequest, form: RunningForm, result: ResultForm) -> bool:
    athlete, data = request.athlete, form.cleaned_data
    athlete.declared_weekly_mm, athlete.declared_longest_mm = data["weekly"].mm, data["longest"].mm
    athlete.goal_words = data["goal_words"]
    athlete.save(update_fields=["declared_weekly_mm", "declared_longest_mm", "goal_words"])
    return result.run is None or result.keep(request.user) is not None


def days(request: AthleteRequest, frame: dict[str, Any]) -> HttpResponse:
    form = DaysForm(request.POST or None, athlete=request.athlete)
    if request.method == "POST" and form.is_valid():
        set_free_days(request.athlete, form.minutes, request.athlete.today())
        return go_on(request.athlete, frame)
    return render(
        request, "phone/welcome/days.html", {**frame, "form": form}, status=422 if form.errors else 200
    )


def door(request: AthleteRequest, frame: dict[str, Any]) -> HttpResponse:
    """How to come back: a password, a passkey, or links by mail; this phone stays signed in anyway.

    Only a first password, and no coach's: another is changed where the old one or the second step is asked for.
    """
    may_set = not request.user.has_usable_password() and not Coach.objects.filter(user=request.user).exists()
    wants_password = request.POST.get("do") == "password"
    if wants_password and not may_set:
        return redirect("password")
    form = SetPasswordForm(request.user, request.POST if wants_password else None)
    if request.method == "POST" and (not wants_password or form.is_valid()):
        if wants_password:
            form.save()
            update_session_auth_hash(request, request.user)
        request.session.pop("by_link", None)
        Athlete.objects.filter(pk=request.athlete.pk).update(joining="")
        messages.success(request, "That was all. Your coach sees your answers now and makes your plan.")
        return redirect("today")
    context = {**frame, "form": form, "may_set": may_set}
    return render(request, "phone/welcome/door.html", context, status=422 if form.errors else 200)


PAGES: dict[str, Callable[[AthleteRequest, dict[str, Any]], HttpResponse]] = {
    "health": health,
    "running": running,
    "days": days,
    "door": door,
}
