"""Every issue of a schedule: who, when, why; any two side by side; one undone."""

from __future__ import annotations

from datetime import timedelta

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from coaching.access import CoachRequest, coach_only, schedule_for
from coaching.desk.proposals import PairView, pair_view, units_of
from plans import deciding
from plans.comparing import pairs, versions_apart
from plans.issuing import Stale
from plans.models import Schedule
from plans.reading import weeks_of
from plans.telling import summary


@coach_only
def versions(request: CoachRequest, pk: int) -> HttpResponse:
    """The list, and what differs between versions `a` and `b` (by default the newest and the one before)."""
    schedule = schedule_for(request.user, pk)
    rows = list(schedule.versions.select_related("pace_card").order_by("-number"))
    newest = schedule.current_version
    older, newer = chosen(request, newest)
    apart = versions_apart(schedule, older, newer) if newer > older else {}
    units = units_of(schedule.athlete)
    cards = {row.number: row.pace_card_id for row in rows}
    context = {
        "schedule": schedule,
        "athlete": schedule.athlete,
        "rows": rows,
        "a": older,
        "b": newer,
        "differences": sorted(apart.values(), key=lambda d: (d.seen.day, d.seen.slot)),
        "summary": summary(apart.values(), units, schedule.week_starts),
        "weeks": strips_of(schedule, older, newer),
        "other_paces": cards.get(older) != cards.get(newer),
    }
    return render(request, "desk/versions.html", context)


def chosen(request: HttpRequest, newest: int) -> tuple[int, int]:
    """The two numbers asked for, the older first; 404 for numbers that this schedule does not have."""
    found = []
    for name, default in (("a", max(1, newest - 1)), ("b", newest)):
        text = request.GET.get(name, str(default))
        if not text.isdecimal() or not 1 <= int(text) <= newest:
            raise Http404
        found.append(int(text))
    return min(found), max(found)


def strips_of(schedule: Schedule, older: int, newer: int) -> list[PairView]:
    """Pictures of the weeks that differ; both sides are put into the weeks as they are now."""
    apart = versions_apart(schedule, older, newer)
    if not apart:
        return []
    # Sessions that were changed again later stand as they did in these two versions.
    days = [c.day for d in apart.values() for c in (d.before, d.after) if c is not None]
    weeks = weeks_of(schedule, min(days) - timedelta(7), max(days) + timedelta(7))
    units, today = units_of(schedule.athlete), schedule.athlete.today()
    return [pair_view(pair, units, today, []) for pair in pairs(weeks, apart, units, schedule.week_starts)]


@require_POST
@coach_only
def undo(request: CoachRequest, pk: int, number: int) -> HttpResponse:
    schedule = schedule_for(request.user, pk)
    if not 1 < number <= schedule.current_version:
        raise Http404
    try:
        made = deciding.undo_version(schedule, number, by=request.user)
    except Stale as error:
        messages.error(request, str(error))
    else:
        messages.success(
            request,
            f"Version {number} is undone from today on: issued as version {made}. {schedule.athlete.name} is told.",
        )
    return redirect("versions", pk=pk)
