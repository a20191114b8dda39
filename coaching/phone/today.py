"""Today first, then the week: what an athlete sees in the rain."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from coaching.access import AthleteRequest, athlete_only
from coaching.phone.reading import Season, season_of, steps_of, with_meetings
from plans import saying
from plans.race_targets import entries_between
from plans.reading import card_of

KEEP = "X-Keep"  # the phone's store asks for a page of a day to come


@athlete_only
def today(request: AthleteRequest) -> HttpResponse:
    season = season_of(request.athlete, day_kept(request))
    first, last = min([season.today, *(w.first_day for w in season.weeks)]), season.today + timedelta(1)
    season = with_meetings(season, first, max([last, *(w.first_day + timedelta(6) for w in season.weeks)]))
    return render(request, "phone/today.html", page_of(season, request.GET.get("week", "")))


def day_kept(request: AthleteRequest) -> date | None:
    """The page as it will be on a day of the next two weeks: only for the phone's store, which shows it on that day."""
    if not request.headers.get(KEEP):
        return None
    try:
        day = date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return None
    return day if 0 <= (day - request.athlete.today()).days <= 14 else None


def page_of(season: Season, week: str = "") -> dict[str, Any]:
    stored = card_of(season.schedule) if season.schedule else None
    card = stored.card if stored else None
    due = season.on(season.today)
    entries = entries_between([season.athlete.pk], season.today, season.today)[season.athlete.pk]
    shown = next((w for w in season.weeks if w.first_day.isoformat() == week), season.week)
    return {
        "season": season,
        "sessions": [(item, steps_of(item, card, season.units, entries.get(item.day))) for item in due],
        "all_done": bool(due) and all(item.log for item in due),
        "tomorrow": season.on(season.today + timedelta(1)),
        "week": shown,
        "other_week": shown is not None and shown != season.week,
        "next_first": (shown.first_day + timedelta(7)) if shown else None,
        "unlogged": season.unlogged,
        "holds": season.athlete.health_notes.filter(closed__isnull=True),
        "off": season.athlete.time_off.filter(
            first_day__lte=season.today + timedelta(14), last_day__gte=season.today
        ),
        "notes": saying.shown_today(season.athlete),
    }
