"""One athlete on the desk: the season planned and run, paces, what was said, and what holds."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from athletes import screening
from athletes.models import TimeOff
from athletes.running.units import Units
from coaching import privacy, strips
from coaching.access import CoachRequest, athlete_for, coach_only, health_note_for
from coaching.desk.desk_notes import DeskNoteForm
from coaching.desk.season import context_of
from coaching.effort_chart import effort_against_plan, effort_weeks
from coaching.fields import day_input
from coaching.pace_rows import pace_rows
from plans import recording, saying
from plans.editing import open_season
from plans.models import Log, Schedule, ScheduleVersion
from plans.reading import card_of, weeks_of


class NoteForm(forms.Form):
    words = forms.CharField(
        label="A word on the phone and the next handout",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class TimeOffForm(forms.Form):
    first_day = forms.DateField(label="From", widget=day_input())
    last_day = forms.DateField(label="To", widget=day_input())
    minutes = forms.IntegerField(label="Minutes a day", min_value=0, max_value=480, initial=0)
    kind = forms.ChoiceField(label="Why", choices=TimeOff.KINDS)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        first, last = data.get("first_day"), data.get("last_day")
        if first and last and last < first:
            self.add_error("last_day", "It ends before it begins.")
        elif first and last and (last - first).days > 366:
            self.add_error("last_day", "At most a year at once.")
        return data


@coach_only
def athlete(request: CoachRequest, pk: int) -> HttpResponse:
    return show(request, pk)


def show(
    request: CoachRequest,
    pk: int,
    *,
    note: NoteForm | None = None,
    off: TimeOffForm | None = None,
    desk_note: DeskNoteForm | None = None,
    problem: str = "",
    words: str = "",
    status: int = 200,
) -> HttpResponse:
    one = athlete_for(request.user, pk)
    today = one.today()
    schedule = (
        Schedule.objects.filter(athlete=one, state="running")
        .select_related("athlete", "race_entry__race")
        .first()
    )
    holds = one.health_notes.filter(closed__isnull=True)
    privacy.note_read(holds, request.user)
    context: dict[str, Any] = {
        "athlete": one,
        "today": today,
        "schedule": schedule,
        "results": one.results.all()[:6],
        "card_waits": one.card_proposals.filter(state="open").exists(),
        "logs": Log.objects.standing().filter(athlete=one).select_related("session").order_by("-day")[:14],
        "holds": holds,
        "closed_notes": one.health_notes.filter(closed__isnull=False).count(),
        "health": screening.standing(one, timezone.now()),
        "time_off": one.time_off.filter(last_day__gte=today),
        "said": list(one.messages.order_by("-at", "-id")[:5]),
        "desk_notes": one.desk_notes.all()[:20],
        "note_form": note or NoteForm(),
        "off_form": off or TimeOffForm(initial={"first_day": today, "last_day": today}),
        "desk_note_form": desk_note or DeskNoteForm(athlete=one),
    }
    context |= season_of(request, schedule, problem, words) if schedule else {"units": one.units}
    card = context.get("card") or one.pace_cards.first()
    units: Units = "mi" if one.units == "mi" else "km"
    context |= {"card": card, "paces": pace_rows(card.card, units) if card else []}
    return render(request, "desk/athlete.html", context, status=status)


def season_of(request: CoachRequest, schedule: Schedule, problem: str, words: str) -> dict[str, Any]:
    """What the page says of a schedule that runs."""
    season, weeks, card = open_season(schedule, request.coach), weeks_of(schedule), card_of(schedule)
    now = next((n for n, week in enumerate(weeks) if 0 <= (season.today - week.first_day).days < 7), None)
    newest = schedule.proposals.filter(state__in=["open", "accepted"]).order_by("-made_at", "-id")
    return {
        **context_of(season, weeks, problem, words),
        "race": schedule.race_entry.race if schedule.race_entry else None,
        "card": card,
        "picture": strips.season(weeks, season.today, season.units) if weeks else None,
        "efforts": effort_against_plan(effort_weeks(weeks, card), now=now),
        "proposal": next((one for one in newest if one.state == "open"), None),
        "accepted": next((one for one in newest if one.state == "accepted"), None),
        "versions": list(ScheduleVersion.objects.filter(schedule=schedule).order_by("-number")[:10]),
    }


@require_POST
@coach_only
def note(request: CoachRequest, pk: int) -> HttpResponse:
    one = athlete_for(request.user, pk)
    form = NoteForm(request.POST)
    if not form.is_valid():
        return show(request, pk, note=form, status=422)
    saying.say(one, form.cleaned_data["words"], by=request.user, by_coach=True, on_paper=True)
    messages.success(request, f"{one.name} sees it on the phone now.")
    return redirect("athlete", pk=pk)


@require_POST
@coach_only
def time_off(request: CoachRequest, pk: int) -> HttpResponse:
    one = athlete_for(request.user, pk)
    form = TimeOffForm(request.POST)
    if not form.is_valid():
        return show(request, pk, off=form, status=422)
    data = form.cleaned_data
    recording.take_time_off(one, data["first_day"], data["last_day"], data["minutes"], data["kind"])
    messages.success(request, "Noted. If it changes the weeks ahead, a proposal follows in a moment.")
    return redirect("athlete", pk=pk)


@require_POST
@coach_only
def clear_hold(request: CoachRequest, pk: int) -> HttpResponse:
    note = health_note_for(request.user, pk)
    if recording.clear_hold(note, by=request.user):
        messages.success(request, f"Cleared by {request.user}. The way back is computed now.")
    else:
        messages.info(request, "It was cleared already.")
    return redirect("athlete", pk=note.athlete_id)
