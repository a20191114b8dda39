"""The season at a glance, to race day."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from coaching import strips
from coaching.access import AthleteRequest, athlete_only
from coaching.phone.reading import season_of


@athlete_only
def my_plan(request: AthleteRequest) -> HttpResponse:
    season = season_of(request.athlete)
    picture = strips.season(season.weeks, season.today, season.units, width=358) if season.weeks else None
    return render(request, "phone/plan.html", {"season": season, "picture": picture})
