"""The athlete's pace card: every pace a range, with where it comes from."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from coaching.access import AthleteRequest, athlete_only
from coaching.pace_rows import pace_rows
from coaching.phone.reading import season_of
from plans.reading import card_of


@athlete_only
def my_paces(request: AthleteRequest) -> HttpResponse:
    season = season_of(request.athlete)
    stored = card_of(season.schedule) if season.schedule else request.athlete.pace_cards.first()
    card = stored.card if stored else None
    context = {"stored": stored, "card": card, "rows": pace_rows(card, season.units) if card else []}
    return render(request, "phone/paces.html", context)
