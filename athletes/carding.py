"""An athlete's pace card from their results: computed by the core, kept with its number and origin."""

from __future__ import annotations

from datetime import date, timedelta

from django.db.models import Max

from athletes.models import Athlete, PaceCard, Result
from athletes.running import paces
from athletes.running.performance import Result as Run
from athletes.running.units import Distance, Duration, Units

# A result older than this says little about today (common practice, no source).
COUNTS_FOR = timedelta(days=365)


def counting_results(athlete: Athlete, today: date) -> list[Result]:
    """Those that set the paces: of the past year, not set aside; newest first."""
    return list(athlete.results.filter(set_aside_reason="", day__gte=today - COUNTS_FOR, day__lte=today))


def as_run(result: Result) -> Run:
    return Run(Distance(result.distance_mm), Duration(result.time_ms), result.day)


def compute_card(
    athlete: Athlete, results: list[Result], goal: tuple[Distance, Duration] | None = None
) -> paces.PaceCard:
    """The card these results give. Raises CardError or ResultError with a sentence for the page."""
    units: Units = "mi" if athlete.units == "mi" else "km"
    weekly = Distance(athlete.declared_weekly_mm) if athlete.declared_weekly_mm else None
    return paces.make_card([as_run(one) for one in results], weekly_distance=weekly, goal=goal, units=units)


def store_card(athlete: Athlete, card: paces.PaceCard, result: Result | None, today: date) -> PaceCard:
    """Keep a card under the next number; the newest one itself when it says the same."""
    newest = athlete.pace_cards.first()
    values = card.to_values()
    if newest and newest.values == values:
        return newest
    number = (athlete.pace_cards.aggregate(Max("number"))["number__max"] or 0) + 1
    return PaceCard.objects.create(
        athlete=athlete,
        number=number,
        made_on=today,
        result=result,
        formula=card.formula[:200],
        origin=card.origin[:200],
        values=values,
    )
