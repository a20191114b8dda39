"""Choices: the plain answer, its alternatives and "what if" side by side; chosen only by the coach."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import SafeString
from django.views.decorators.http import require_POST

from coaching.access import CoachRequest, coach_only, schedule_for
from coaching.desk.proposals import units_of
from coaching.strips import week_strip
from plans import choosing, rebalancing, recording
from plans.choosing import Side
from plans.comparing import with_contents
from plans.issuing import Stale
from plans.models import Schedule
from plans.reading import Week, weeks_of
from plans.telling import summary

WEEKS_SHOWN = 6


@dataclass(frozen=True)
class SideView:
    side: Side
    summary: str
    strips: list[tuple[Week, SafeString]]


@coach_only
def choices(request: CoachRequest, pk: int) -> HttpResponse:
    """GET shows the sides; `lost` is the first day of a week to think away."""
    return show(request, schedule_for(request.user, pk), request.GET.get("lost", ""))


def show(
    request: CoachRequest, schedule: Schedule, lost: str, error: str = "", status: int = 200
) -> HttpResponse:
    ahead = choosing.weeks_ahead(schedule) if schedule.state == "running" else []
    week = next((day for day in ahead if day.isoformat() == lost), None)
    if lost and week is None and not error:
        error, status = "Choose a week of this schedule that is still to come.", 422
    sides = choosing.sides(schedule, week) if schedule.state == "running" else []
    context = {
        "schedule": schedule,
        "athlete": schedule.athlete,
        "race": schedule.race_entry.race if schedule.race_entry else None,
        "sides": views_of(schedule, sides),
        "ahead": ahead,
        "lost": week,
        "error": error,
        "proposal": schedule.proposals.filter(state="open").first(),
    }
    return render(request, "desk/choices.html", context, status=status)


def views_of(schedule: Schedule, sides: list[Side]) -> list[SideView]:
    athlete, today = schedule.athlete, schedule.athlete.today()
    units = units_of(athlete)
    weeks = [w for w in weeks_of(schedule, first=today) if w.first_day > today - timedelta(7)]
    made = []
    for side in sides:
        contents = {c.session_id: c.after for c in side.draft.changes} if side.draft else {}
        mine = with_contents(weeks, contents, units)[:WEEKS_SHOWN]
        full = max((i.planned_mm for w in weeks[:WEEKS_SHOWN] for i in w.items if i.is_run), default=0)
        said = summary(side.draft.differences, units, schedule.week_starts) if side.draft else ""
        strips = [(w, week_strip(w, today, units, full or None)) for w in mine] if side.draft else []
        made.append(SideView(side, said, strips))
    return made


@require_POST
@coach_only
def choose(request: CoachRequest, pk: int) -> HttpResponse:
    """Keep one: an alternative waits as the proposal, a lost week is noted as time off."""
    schedule = schedule_for(request.user, pk)
    name, lost = request.POST.get("choice", ""), request.POST.get("lost", "")
    if schedule.state != "running":
        return show(request, schedule, "", "No schedule runs here.", 422)
    if name == "lost_week":
        return keep_lost(request, schedule, lost)
    try:
        made = choosing.choose(schedule, name, request.coach)
    except Stale as error:
        return show(request, schedule, "", str(error), 422)
    messages.success(request, "This is the proposal now. Nothing is issued until you accept it.")
    return redirect("proposal", pk=made.pk)


def keep_lost(request: CoachRequest, schedule: Schedule, lost: str) -> HttpResponse:
    week = next((day for day in choosing.weeks_ahead(schedule) if day.isoformat() == lost), None)
    if week is None:
        return show(request, schedule, "", "Choose a week of this schedule that is still to come.", 422)
    first: date = max(week, schedule.athlete.today())
    recording.take_time_off(schedule.athlete, first, week + timedelta(6), 0, "other")
    made = rebalancing.propose(rebalancing.running().get(pk=schedule.pk))
    messages.success(request, "Noted as time off. It can be taken back on the athlete's page.")
    return redirect("proposal", pk=made.pk) if made else redirect("athlete", pk=schedule.athlete_id)
