"""One session on the phone: its steps with own paces, effort over time, words with the coach, and by effort."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from uuid import UUID

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_POST

from athletes.running.conditions import CLIMBS, climbs, hot_range
from athletes.running.effort import EFFORT_WORDS
from athletes.running.heat import WBGT_LIMITS, HeatError, estimate_wbgt, flag_at, slowing_percent
from athletes.running.paces import PaceCard, show_range
from athletes.running.units import Units
from coaching import strips
from coaching.access import AthleteRequest, athlete_only, own_session
from coaching.phone.logging import history
from coaching.phone.reading import steps_of, units_of
from coaching.phone.words import WordForm, fresh_word, keep_word
from plans import unread
from plans.gathering import place_of
from plans.models import Log, Session, SessionIssue
from plans.race_targets import entries_between
from plans.reading import cards_of, item_of, understood


@require_GET
@athlete_only
def session(request: AthleteRequest, pk: UUID) -> HttpResponse:
    return show(request, own_session(request.athlete, pk), fresh_word())


def show(request: AthleteRequest, one: Session, form: WordForm, status: int = 200) -> HttpResponse:
    standing = Log.objects.standing().filter(session=one).first()
    context = facts(request, one, standing) | {
        "today": request.athlete.today(),
        "change": one.changes.filter(proposal__state="accepted").order_by("-pk").first(),
        "file": standing.files.first() if standing else None,
        "history": history(one),
        "words": one.words.all(),
        "fresh": set(unread.by_athlete(request.athlete).filter(session=one).values_list("pk", flat=True)),
        "form": form,
    }
    return render(request, "phone/session.html", context, status=status)


def facts(request: AthleteRequest, one: Session, standing: Log | None) -> dict[str, Any]:
    issue = get_object_or_404(SessionIssue, session=one, to_version=None)
    units = units_of(request.athlete)
    stored = cards_of(one.schedule).on(issue.day)
    card = stored.card if stored else None
    steps = understood(issue.steps)
    item = item_of(issue, standing, units)
    entry = entries_between([request.athlete.pk], issue.day, issue.day)[request.athlete.pk].get(issue.day)
    return {
        "item": replace(item, where=place_of(issue, request.athlete)),
        "removed": issue.removed,
        "units": units,
        "lines": steps_of(item, card, units, entry),
        "picture": strips.effort(steps, card) if steps and card else None,
        "card": stored,
    }


@require_POST
@athlete_only
def say(request: AthleteRequest, pk: UUID) -> HttpResponse:
    """A word to the coach about one session; the same form twice is one."""
    one = own_session(request.athlete, pk)
    form = WordForm(request.POST)
    answer = keep_word(request, form, one)
    return answer if answer is not None else show(request, one, form, status=422)


class WeatherForm(forms.Form):
    air = forms.FloatField(label="Temperature, °C", min_value=-20, max_value=50, required=False)
    humidity = forms.FloatField(label="Humidity, %", min_value=0, max_value=100, required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("humidity") is not None and data.get("air") is None and "air" not in self.errors:
            self.add_error("air", "Say the temperature too: humidity alone tells nothing.")
        return data


@require_GET
@athlete_only
def by_effort(request: AthleteRequest, pk: UUID) -> HttpResponse:
    """The session by feel, for heat and hills: what each step feels like, and what the watch will then say."""
    one = own_session(request.athlete, pk)
    context = facts(request, one, None)
    form = WeatherForm(request.GET or None)
    stored = context["card"]
    context |= {
        "form": form,
        "felt": [(line, EFFORT_WORDS[line.effort]) for line in context["lines"] if not line.heading],
        "hills": hill_rows(stored.card, context["units"]) if stored else [],
        "heat": heat(form, stored.card if stored else None, context["units"]) if form.is_valid() else None,
    }
    return render(request, "phone/by_effort.html", context, status=422 if form.errors else 200)


def hill_rows(card: PaceCard, units: Units) -> list[tuple[str, str]]:
    easy = card.ranges["easy"]
    names = [f"{abs(percent)} % {'up' if percent > 0 else 'down'}" for percent in CLIMBS]
    ranges = [show_range(one, units) for one in climbs(easy)]
    return [("flat", show_range(easy, units)), *zip(names, ranges, strict=True)]


def heat(form: WeatherForm, card: PaceCard | None, units: Units) -> dict[str, Any] | None:
    data = form.cleaned_data
    if data["air"] is None:
        return None
    humid = data["humidity"] if data["humidity"] is not None else 50.0
    try:
        wbgt = estimate_wbgt(data["air"], humid)
        flag = flag_at(wbgt)
    except HeatError as error:
        form.add_error("air", str(error))
        return None
    easy = card.ranges["easy"] if card else None
    return {
        "wbgt": round(wbgt),
        "assumed": data["humidity"] is None,
        "flag": flag,
        "slower": tuple(round(percent, 1) for percent in slowing_percent(wbgt)),
        "limits": WBGT_LIMITS,
        "easy": show_range(easy, units) if easy else "",
        "easy_hot": show_range(hot_range(easy, wbgt), units) if easy else "",
    }
