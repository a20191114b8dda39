"""Changes to a running season from its grid: move, undo, drop, send. Each says which version and draft it saw.

Nothing is written when another version was issued or the draft changed in another window: the grid comes back as
it stands now, with a sentence, and what was typed.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from functools import wraps
from typing import Any, Concatenate, ParamSpec
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from coaching.access import CoachRequest, coach_only, schedule_for
from coaching.desk.athlete import show
from coaching.desk.season import base_of, context_of
from plans import editing, editing_acts, editing_rails
from plans.editing import NotPossible, Season, StaleDraft, Step, open_season
from plans.issuing import Stale
from plans.models import ScheduleVersion
from plans.reading import weeks_of

STALE = 409
P = ParamSpec("P")


def with_season(
    view: Callable[Concatenate[CoachRequest, Season, P], HttpResponse],
) -> Callable[Concatenate[CoachRequest, int, P], HttpResponse]:
    """Hands the view the season of a running schedule; of one that was paused or ended meanwhile it tells."""

    @wraps(view)
    def found(request: CoachRequest, pk: int, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        schedule = schedule_for(request.user, pk)
        if schedule.state != "running":
            messages.error(request, f"This schedule is {schedule.state}; nothing of it was changed.")
            to = reverse("athlete", args=[schedule.athlete_id])
            if request.htmx:
                return HttpResponse(status=204, headers={"HX-Redirect": to})
            return redirect(to)
        return view(request, open_season(schedule, request.coach), *args, **kwargs)

    return found  # type: ignore[return-value]


def show_season(
    request: CoachRequest, season: Season, problem: str = "", status: int = 200, words: str = ""
) -> HttpResponse:
    """The grid alone for htmx, else the athlete's page with it."""
    if not request.htmx:
        return show(request, season.schedule.athlete_id, problem=problem, words=words, status=status)
    season.schedule.refresh_from_db(fields=["current_version"])
    now = open_season(season.schedule, season.coach)
    context = context_of(now, weeks_of(season.schedule), problem, words)
    response = render(request, "desk/_season.html", context, status=status)
    response["HX-Retarget"], response["HX-Reswap"] = "#board", "outerHTML"
    return response


def unseen(request: CoachRequest, season: Season) -> str:
    """Why what was sent was made on something else than what stands; empty when it was not."""
    seen = request.POST.get("base", "")
    if seen == base_of(season):
        return ""
    version, _, _ = seen.partition(".")
    if version != str(season.schedule.current_version):
        return told_of_version(season)
    return "This draft was changed in another window."


def told_of_version(season: Season) -> str:
    newest = ScheduleVersion.objects.get(schedule=season.schedule, number=season.schedule.current_version)
    who = f" by {newest.by_name}" if newest.by_name else ""
    return f"Version {newest.number} was issued{who} meanwhile ({newest.cause})."


def typed_words(request: CoachRequest) -> str | None:
    """What stands typed for the athlete, which comes along with every change; None where the page had no such field."""
    return " ".join(request.POST["words"].split())[:300] if "words" in request.POST else None


def change(
    request: CoachRequest, season: Season, act: Callable[[Season], Step], at: str = ""
) -> HttpResponse:
    """One step more in the draft, and the grid with it."""
    if problem := unseen(request, season):
        return show_season(request, season, f"{problem} It shows that now; do your change again.", STALE)
    try:
        made = editing.keep(season, act(season), typed_words(request))
    except NotPossible as error:
        return show_season(request, season, str(error), 422)
    except StaleDraft:
        return show_season(request, season, "This draft was changed in another window.", STALE)
    return after(request, season, made, at)


def after(request: CoachRequest, former: Season, season: Season, at: str = "") -> HttpResponse:
    """For htmx the draft and the weeks that look different now; the page was made from `former`, so no more is news."""
    if request.htmx:
        context = context_of(season, [])
        context["changed"] = context["grid"].changed_since(former)
        response = render(request, "desk/_season_changed.html", context)
        response["HX-Retarget"], response["HX-Reswap"] = "#draft", "outerHTML"
        return response
    page = reverse("athlete", args=[season.schedule.athlete_id])
    return redirect(f"{page}#{at or 'board'}")


@require_GET
@coach_only
@with_season
def follows(request: CoachRequest, season: Season) -> HttpResponse:
    """What re-balancing would propose once the draft is sent: computed when the hand rests, not at every change."""
    told = editing_rails.follows(season) if season.to_send else ""
    return render(request, "desk/_season_follows.html", {"told": told})


@require_POST
@coach_only
@with_season
def move(request: CoachRequest, season: Season) -> HttpResponse:
    """To another day: by drag or arrow keys (`week` from 1, `day` from 0), or by a plain button (`to`, a date)."""
    day = asked_day(request, season)
    try:
        key = UUID(request.POST.get("key", ""))
    except ValueError:
        return show_season(request, season, "There is no such session in the season.", 422)
    if day is None:
        return show_season(request, season, "There is no such day in the season.", 422)
    return change(request, season, lambda one: editing_acts.move(one, key, day), f"s-{key}")


def asked_day(request: CoachRequest, season: Season) -> date | None:
    post: Any = request.POST
    if "to" in post:
        try:
            return date.fromisoformat(post["to"])
        except ValueError:
            return None
    week, day = post.get("week", ""), post.get("day", "")
    weeks = season.found.inputs.weeks
    if not (week.isdecimal() and len(week) < 4 and day in "0123456" and len(day) == 1):
        return None
    if not 1 <= int(week) <= len(weeks):
        return None
    return weeks[int(week) - 1].first_day + timedelta(int(day))


@require_POST
@coach_only
@with_season
def undo(request: CoachRequest, season: Season) -> HttpResponse:
    """The newest step of the draft is taken back."""
    if problem := unseen(request, season):
        return show_season(request, season, f"{problem} Nothing was undone.", STALE)
    try:
        made = editing.undo(season, typed_words(request))
    except NotPossible as error:
        return show_season(request, season, str(error), 422)
    except StaleDraft:
        return show_season(request, season, "This draft was changed in another window.", STALE)
    return after(request, season, made)


@require_POST
@coach_only
@with_season
def drop(request: CoachRequest, season: Season) -> HttpResponse:
    if not season.steps:
        return show_season(request, season, "Nothing waits to be sent.", 422)
    if problem := unseen(request, season):
        return show_season(request, season, f"{problem} Nothing was dropped.", STALE)
    try:
        made = editing.drop(season)
    except StaleDraft:
        return show_season(request, season, "This draft was changed in another window.", STALE)
    return after(request, season, made)


@require_POST
@coach_only
@with_season
def send(request: CoachRequest, season: Season) -> HttpResponse:
    """Issue the draft. The athlete is told once."""
    words = typed_words(request) or ""
    left = [edit for edit in season.edits.values() if edit.blocked]
    if problem := unseen(request, season):
        return show_season(request, season, f"{problem} Nothing was sent. Look at it again.", STALE, words)
    try:
        number = editing.send(season, season.schedule.current_version, words)
    except NotPossible as error:
        return show_season(request, season, str(error), 422, words)
    except (Stale, StaleDraft):
        problem = "It was changed at the same moment. Nothing was sent. Look at it again."
        return show_season(request, season, problem, STALE, words)
    said = f" Left out: {len(left)} that can't be changed any more." if left else ""
    name = season.schedule.athlete.name
    messages.success(request, f"Issued as version {number}, and {name} is told once.{said}")
    to = reverse("athlete", args=[season.schedule.athlete_id])
    if request.htmx:
        return HttpResponse(status=204, headers={"HX-Redirect": to})
    return redirect(to)
