"""The season at a glance, to race day: weeks, long runs, where I am, my longest runs."""

from __future__ import annotations

from datetime import timedelta

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from coaching import strips
from coaching.access import AthleteRequest, athlete_only
from coaching.phone.reading import season_of, with_meetings

AHEAD = timedelta(28)


@require_GET
@athlete_only
def my_plan(request: AthleteRequest) -> HttpResponse:
    season = season_of(request.athlete)
    season = with_meetings(season, season.today, season.today + AHEAD)
    weeks, today = season.weeks, season.today
    begun = [week for week in weeks if week.first_day <= today]
    context = {
        "season": season,
        "picture": strips.season(weeks, today, season.units, width=358) if weeks else None,
        "longest": strips.longest_runs(weeks, today, season.units) if begun else None,
        "longest_run": max((week.longest_run_mm for week in begun), default=0),
        "run_mm": sum(week.run_mm for week in begun),
        "with_group": [
            (item.day, item)
            for week in weeks
            for item in week.items
            if item.where and season.today <= item.day <= season.today + AHEAD
        ],
        "race": season.schedule.race_entry.race if season.schedule and season.schedule.race_entry else None,
    }
    return render(request, "phone/plan.html", context)
