"""Looking back over the practice: few numbers, each with how many races it is of, and the races themselves."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from athletes.models import Athlete
from athletes.running.performance import distance_name
from athletes.running.units import Distance, show_duration
from coaching.access import CoachRequest, coach_only
from plans.looking_back import Looked, look_back
from plans.models import RaceEntry
from plans.racing import with_all
from plans.training.looking_back import LEAST, over_many

A_YEAR = timedelta(days=366)


@dataclass(frozen=True)
class PastRace:
    """One race of one athlete in words."""

    entry: RaceEntry
    time: str
    foretold: str
    off: str
    inside: bool | None
    share: str


@require_GET
@coach_only
def looking_back(request: CoachRequest) -> HttpResponse:
    """The races of the past year, of all distances or of one."""
    mine = Athlete.objects.for_user(request.user)
    today = timezone.localdate()
    gone = RaceEntry.objects.filter(athlete__in=mine, race__day__range=(today - A_YEAR, today))
    looked = look_back(list(with_all(gone).order_by("-race__day", "race__name", "athlete__name")))
    distances = sorted({one.entry.race.distance_mm for one in looked})
    wanted = request.GET.get("distance", "")
    if wanted and wanted not in map(str, distances):
        raise Http404
    shown = [one for one in looked if not wanted or str(one.entry.race.distance_mm) == wanted]
    context = {
        "numbers": over_many([one.case for one in shown if one.case]),
        "rows": [row_of(one) for one in shown if one.case],
        "without": sum(one.case is None for one in shown),
        "distances": [(str(mm), distance_name(Distance(mm), "km")) for mm in distances],
        "wanted": wanted,
        "least": LEAST,
    }
    return render(request, "desk/looking_back.html", context)


def row_of(one: Looked) -> PastRace:
    assert one.case is not None
    raced, training = one.case.raced, one.case.training
    foretold = " to ".join(show_duration(raced.foretold[n]) for n in (0, 2)) if raced.foretold else ""
    off = "" if raced.off is None else f"{float(100 * raced.off):+.1f} %".replace("-", "−")
    share = training.share if training else None
    return PastRace(
        entry=one.entry,
        time=show_duration(raced.time),
        foretold=foretold,
        off=off,
        inside=raced.inside,
        share="" if share is None else f"{float(100 * share):.0f} %",
    )
