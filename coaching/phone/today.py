"""Today first, then the week: what an athlete sees in the rain."""

from __future__ import annotations

from datetime import date, timedelta

from django.http import HttpResponse
from django.shortcuts import render

from coaching.access import AthleteRequest, athlete_only
from coaching.phone.reading import season_of
from plans.reading import Item, Week, card_of, understood
from plans.training.describing import lines


@athlete_only
def today(request: AthleteRequest) -> HttpResponse:
    season = season_of(request.athlete)
    stored = card_of(season.schedule) if season.schedule else None
    card = stored.card if stored else None
    due = season.on(season.today)
    sessions = [
        (item, lines(steps, card, season.units) if card and (steps := understood(item.steps)) else ())
        for item in due
    ]
    shown = next((w for w in season.weeks if w.first_day.isoformat() == request.GET.get("week")), season.week)
    tomorrow = season.today + timedelta(1)
    context = {
        "season": season,
        "sessions": sessions,
        "all_done": bool(due) and all(item.log for item in due),
        "tomorrow": season.on(tomorrow),
        "week": shown,
        "other_week": shown is not None and shown != season.week,
        "next_first": (shown.first_day + timedelta(7)) if shown else None,
        "unlogged": unlogged(season.weeks, season.today),
        "holds": request.athlete.health_notes.filter(closed__isnull=True),
        "note": request.athlete.coach_notes.first(),
    }
    return render(request, "phone/today.html", context)


def unlogged(weeks: list[Week], day: date) -> list[Item]:
    """Runs of the past seven days that nobody has said anything about."""
    return [
        item
        for week in weeks
        for item in week.items
        if item.is_run and item.log is None and day - timedelta(7) <= item.day < day
    ]
