"""What the phone keeps for places without signal: the worker that keeps it, the list of pages, a fresh token.

Only the person's own pages are kept, and signing out wipes them. docs/phone.md says what a browser needs for it.
"""

from __future__ import annotations

import hashlib
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, Max
from django.http import FileResponse, Http404, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from athletes.models import Practice
from coaching.access import AthleteRequest, athlete_only
from coaching.phone.reading import Season, season_of
from plans.handouts import make_page
from plans.models import RaceEntry, Schedule
from plans.reading import Item

FILES = ("tokens.css", "base.css", "phone.css", "paces.css", "phone.js", "icons/icon.svg")
LOGGED_LATE = timedelta(3)  # sessions of the past few days are still logged without signal


@require_GET
@never_cache
@athlete_only
def worker(request: AthleteRequest) -> HttpResponse:
    """The service worker, at an address inside the pages it serves."""
    response = render(request, "phone/sw.js", {"home": reverse("today")}, content_type="text/javascript")
    response["Service-Worker-Allowed"] = reverse("today")
    return response


@require_GET
@athlete_only
def manifest(request: AthleteRequest) -> JsonResponse:
    """Web app manifest (W3C): the pages as an app on the home screen."""
    name = Practice.get().name or "Running"
    sizes = [("icons/icon-192.png", "192x192"), ("icons/icon-512.png", "512x512")]
    return JsonResponse(
        {
            "id": reverse("today"),
            "name": name,
            "short_name": name[:12],
            "start_url": reverse("today"),
            "scope": reverse("today"),
            "display": "standalone",
            "background_color": "#fbf9f4",
            "theme_color": "#fbf9f4",
            "icons": [
                {"src": static(file), "sizes": size, "type": "image/png", "purpose": "any maskable"}
                for file, size in sizes
            ]
            + [{"src": static("icons/icon.svg"), "sizes": "any", "type": "image/svg+xml"}],
        },
        content_type="application/manifest+json",
    )


@require_GET
@never_cache
@athlete_only
def keep(request: AthleteRequest) -> JsonResponse:
    """The pages to keep, each with a stamp that changes when the page does; and a token for entries that wait."""
    season = season_of(request.athlete)
    return JsonResponse(
        {
            "athlete": request.athlete.pk,
            "zone": request.athlete.time_zone,
            "csrf": get_token(request),
            "pages": pages(season),
            "files": files(),
        }
    )


def pages(season: Season) -> list[tuple[str, str]]:
    """This week and next, day by day and session by session; the plan, the paces, the handout."""
    stamp, home, talk = stamp_of(season), reverse("today"), talk_of(season)
    said = digest([stamp, talk])
    last = last_day(season)
    days = [season.today + timedelta(n) for n in range((last - season.today).days + 1)]
    found = [(f"{home}?day={day}", said) for day in days]
    found.append((reverse("my-messages"), said))
    names = ["my-plan", "my-paces", "my-time-off", "unwell", "log-extra", "not-kept"]
    found += [(reverse(name), stamp) for name in names]
    if season.week:
        found.append((f"{home}?week={season.week.first_day + timedelta(7)}", said))
        found.append((reverse("my-handout"), digest([stamp, talk.get("paper")])))
    if season.schedule and season.schedule.race_entry_id:
        found.append((reverse("my-race"), stamp))
    for item in kept_sessions(season, last):
        words = talk.get(item.session_id)
        found.append((reverse("my-session", args=[item.session_id]), digest([stamp, words])))
        log = reverse("log", args=[item.session_id])
        entry = digest([item.day, item.steps, item.log.pk if item.log else None, season.units, files()])
        found.append((f"{log}?how=different", entry))
        if item.log is None:
            found.append((f"{log}?how=done", entry))
    return found


def last_day(season: Season) -> date:
    week = season.week
    return week.first_day + timedelta(13) if week else season.today + timedelta(13)


def kept_sessions(season: Season, last: date) -> list[Item]:
    first = season.today - LOGGED_LATE
    items = (item for week in season.weeks for item in week.items)
    return [item for item in items if item.role != "rest" and first <= item.day <= last]


def stamp_of(season: Season) -> str:
    """Changes with whatever a page may show: schedule, entries, notes, time off, units, the code of the pages."""
    one, schedule = season.athlete, season.schedule
    seen: list[Any] = [
        one.pk,
        one.units,
        one.time_zone,
        season.today,
        schedule and (schedule.pk, schedule.current_version),
        one.logs.aggregate(last=Max("received_at"))["last"],
        one.logs.filter(replaced_by__isnull=True).count(),
        list(one.health_notes.values_list("pk", "kind", "closed")),
        list(one.time_off.values_list("pk", flat=True)),
        one.pace_cards.aggregate(last=Max("number"))["last"],
        one.results.aggregate(last=Max("pk"))["last"],
        race_day(schedule),
        files(),
    ]
    return digest(seen)


def talk_of(season: Season) -> dict[Any, Any]:
    """What was said, by the session it is about, and on paper: a word changes only the pages that show it."""
    said = season.athlete.messages.order_by()
    about = said.values_list("session").annotate(last=Max("pk"), read=Count("receipts"))
    found: dict[Any, Any] = {session: (last, read) for session, last, read in about}
    found["paper"] = max((last for _, last, _ in about.filter(on_paper=True)), default=None)
    return found


def race_day(schedule: Schedule | None) -> list[Any]:
    """What the race page is made from: the coach's choices, the course, the goal and the day."""
    if schedule is None or schedule.race_entry_id is None:
        return []
    entries = RaceEntry.objects.filter(pk=schedule.race_entry_id)
    return list(
        entries.values_list(
            "purpose", "goal_ms", "race__name", "race__day", "race__course__sha256", "plan__at", "report__at"
        )
    )


def files() -> list[str]:
    """Their addresses, which change with what is in them."""
    return [static(file) for file in FILES]


def digest(seen: list[Any]) -> str:
    return hashlib.sha256(repr(seen).encode()).hexdigest()[:16]


@require_GET
@athlete_only
def not_kept(request: AthleteRequest) -> HttpResponse:
    """Shown by the worker for a page that it has not kept."""
    return render(request, "phone/not_kept.html")


@require_GET
@athlete_only
def handout(request: AthleteRequest) -> FileResponse:
    """The athlete's own page as a PDF: of this week, or of the week that begins on the day given."""
    season = season_of(request.athlete)
    first = season.week.first_day if season.week else None
    if given := request.GET.get("week"):
        first = next((w.first_day for w in season.weeks if w.first_day.isoformat() == given), None)
    path = make_page(request.athlete, first) if first else None
    if path is None:
        raise Http404
    return FileResponse(path.open("rb"), content_type="application/pdf", filename="handout.pdf")
