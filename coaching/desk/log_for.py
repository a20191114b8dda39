"""What an athlete told the coach, entered by the coach: a session's log, or a run outside the plan.

The entry says who entered it. One that the athlete made meanwhile is never overwritten unseen.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from athletes.models import Athlete
from coaching.access import CoachRequest, athlete_for, coach_only, session_for
from coaching.desk.season_acts import show_season
from coaching.phone.log_forms import ExtraForm, LogForm, RunForm, fresh, values_of
from coaching.phone.reading import units_of
from plans import recording
from plans.editing import open_season
from plans.models import Log, Session, SessionIssue
from plans.reading import item_of
from plans.recording import Clash, Entry


class LogForAthlete(LogForm):
    """The athlete's own form, worded for whoever took the call."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["note"].label = "What was said"
        self.fields["severe"].label = "With a fever, chest symptoms, or pain that changes how they run"


class ExtraForAthlete(ExtraForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["note"].label = "What was said"


@coach_only
def log_for(request: CoachRequest, pk: UUID) -> HttpResponse:
    """What became of a planned session whose day has come."""
    session = session_for(request.user, pk)
    athlete = session.schedule.athlete
    issue = get_object_or_404(SessionIssue, session=session, to_version=None)
    standing = Log.objects.standing().filter(session=session).first()
    initial = fresh(min(issue.day, athlete.today())) | (values_of(standing) if standing else {})
    form = LogForAthlete(request.POST or None, athlete=athlete, initial=initial)
    entry, clash = keep(request, form, athlete, session, str(form["outcome"].value()))
    if entry is not None:
        return done(request, athlete, session, entry)
    item = item_of(issue, standing, units_of(athlete))
    return page(request, athlete, form, clash, item=item, standing=standing, session=session)


@coach_only
def extra_for(request: CoachRequest, pk: int) -> HttpResponse:
    """A run that is not in the plan."""
    athlete = athlete_for(request.user, pk)
    form = ExtraForAthlete(request.POST or None, athlete=athlete, initial=fresh(athlete.today()))
    entry, clash = keep(request, form, athlete, None, "other")
    if entry is not None:
        return done(request, athlete, None, entry)
    return page(request, athlete, form, clash)


def keep(
    request: CoachRequest, form: RunForm, athlete: Athlete, session: Session | None, outcome: str
) -> tuple[Entry | None, Log | None]:
    """Store what came in: the entry, or the one it clashes with, or neither (show the form)."""
    if request.method != "POST" or not form.is_valid():
        return None, None
    entry = form.entry(outcome)
    try:
        recording.record(athlete, session, entry, by=request.user)
    except Clash as error:
        return None, error.standing
    return entry, None


def page(
    request: CoachRequest, athlete: Athlete, form: RunForm, clash: Log | None, **more: Any
) -> HttpResponse:
    session = more.get("session")
    context = {
        "athlete": athlete,
        "form": form,
        "clash": clash,
        "seen": clash.pk if clash else form["seen"].value(),
        "units": units_of(athlete),
        "action": reverse("log-for", args=[session.pk])
        if session
        else reverse("extra-for", args=[athlete.pk]),
        **more,
    }
    name = "desk/log_for.html#form" if request.htmx else "desk/log_for.html"
    return render(request, name, context, status=422 if form.errors or clash else 200)


def done(request: CoachRequest, athlete: Athlete, session: Session | None, entry: Entry) -> HttpResponse:
    told = f"Logged for {athlete.name}, as entered by {request.coach}."
    held = entry.reason in ("ill", "pain")
    if held:
        told += " A hold is open: nothing hard until a coach clears it."
    to = reverse("athlete", args=[athlete.pk])
    if not request.htmx:
        messages.success(request, told)
        return redirect(f"{to}#s-{session.pk}" if session else to)
    if held or session is None or session.schedule.state != "running":
        messages.success(request, told)
        return HttpResponse(status=204, headers={"HX-Refresh": "true"})
    return show_season(request, open_season(session.schedule, request.coach))
