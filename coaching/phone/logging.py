"""Log a session in two taps, or say what was different. An entry sent twice counts once.

The same address takes a form and, for entries that a phone kept while there was no signal, JSON's answers:
200 stored, 409 clashes with another entry, 422 can't be, 401 signed out.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from athletes.running.effort import EFFORT_WORDS
from athletes.running.units import Distance, show_distance
from coaching.access import AthleteRequest, athlete_only, own_log, own_session
from coaching.phone.log_forms import ExtraForm, LogForm, RunForm, fresh, values_of
from coaching.phone.reading import season_of, units_of
from coaching.templatetags.plain import short_day
from plans import recording
from plans.models import Log, Session, SessionIssue
from plans.reading import item_of
from plans.recording import Clash, Entry

EFFORTS = list(enumerate(EFFORT_WORDS))
TOLD = (
    "Noted, and your coach is told. Until they clear it there is nothing hard in your plan. With a fever, chest"
    " symptoms, or pain that changes how you run: no running, see a clinician."
)


@athlete_only
def log(request: AthleteRequest, pk: UUID) -> HttpResponse:
    """GET: the effort row (how=done), or the whole form; POST stores the entry."""
    session = own_session(request.athlete, pk)
    issue = get_object_or_404(SessionIssue, session=session, to_version=None)
    standing = Log.objects.standing().filter(session=session).first()
    initial = fresh(min(issue.day, request.athlete.today())) | (values_of(standing) if standing else {})
    form = LogForm(request.POST or None, athlete=request.athlete, initial=initial)
    stored, clash = keep(request, form, session, str(form["outcome"].value()))
    if stored:
        return stored
    units = units_of(request.athlete)
    context = {
        "form": form,
        "item": item_of(issue, standing, units),
        "standing": standing,
        "units": units,
        "quick": request.method == "GET" and request.GET.get("how") == "done" and standing is None,
        "efforts": EFFORTS,
        "clash": clash,
        "seen": clash.pk if clash else form["seen"].value(),
    }
    return render(request, "phone/log.html", context, status=422 if form.errors or clash else 200)


@athlete_only
def extra_run(request: AthleteRequest, pk: UUID | None = None) -> HttpResponse:
    """A run that is not in the plan: a new one, or one to be corrected."""
    standing = own_log(request.athlete, pk) if pk else None
    if standing and standing.session_id:
        raise Http404
    initial = fresh(request.athlete.today()) | (values_of(standing) if standing else {})
    form = ExtraForm(request.POST or None, athlete=request.athlete, initial=initial)
    stored, clash = keep(request, form, None, "other")
    if stored:
        return stored
    context = {
        "form": form,
        "efforts": EFFORTS,
        "standing": standing,
        "clash": clash,
        "units": units_of(request.athlete),
        "seen": clash.pk if clash else form["seen"].value(),
    }
    return render(request, "phone/extra_run.html", context, status=422 if form.errors or clash else 200)


def keep(
    request: AthleteRequest, form: RunForm, session: Session | None, outcome: str
) -> tuple[HttpResponse | None, Log | None]:
    """Store the entry of a form that came in: the answer, or the entry it clashes with, or neither (show the form)."""
    if request.method != "POST":
        return None, None
    if not form.is_valid():
        return (JsonResponse({"errors": form.errors}, status=422) if as_json(request) else None), None
    entry = form.entry(outcome)
    try:
        recording.record(request.athlete, session, entry, by=request.user)
    except Clash as error:
        said = {"clash": told(error.standing, units_of(request.athlete)), "seen": str(error.standing.pk)}
        return (JsonResponse(said, status=409) if as_json(request) else None), error.standing
    if as_json(request):
        level, words = thanks(entry, session)
        return JsonResponse({"stored": str(entry.entry_id), "said": words, "level": level}), None
    return thank(request, entry, session), None


def as_json(request: HttpRequest) -> bool:
    return request.headers.get("Accept", "").startswith("application/json")


def told(log: Log, units: str) -> str:
    """An entry in a line: done, 8.4 km, effort 4."""
    said = [log.get_outcome_display()]
    if log.distance_mm:
        said.append(show_distance(Distance(log.distance_mm), "mi" if units == "mi" else "km"))
    if log.effort is not None:
        said.append(f"effort {log.effort}")
    return ", ".join(said)


def thanks(entry: Entry, session: Session | None) -> tuple[str, str]:
    """What is said once an entry is stored: how it looks, and the words."""
    if entry.reason in ("ill", "pain"):
        return "warning", TOLD
    if entry.outcome == "missed":
        return "success", "Noted. If the days ahead should change, your coach sees it now."
    planned = SessionIssue.objects.filter(session=session, to_version=None).first() if session else None
    if planned and planned.day != entry.day:
        words = (
            f"Logged on {short_day(entry.day)} for {short_day(planned.day)}. The plan itself stays as it is."
        )
        return "success", words
    return "success", "Logged."


def thank(request: AthleteRequest, entry: Entry, session: Session | None) -> HttpResponse:
    level, words = thanks(entry, session)
    messages.add_message(request, messages.WARNING if level == "warning" else messages.SUCCESS, words)
    return redirect("today")


@require_POST
@athlete_only
def take_back(request: AthleteRequest, pk: UUID) -> HttpResponse:
    """An entry that was a mistake; it stays in the history."""
    if recording.take_back(own_log(request.athlete, pk)):
        messages.success(request, "Taken back: nothing is logged there now.")
    else:
        messages.info(request, "Another entry had replaced it already.")
    return redirect("today")


@require_POST
@athlete_only
def all_as_planned(request: AthleteRequest) -> HttpResponse:
    """Everything the page listed was done as planned. Only what it listed, and what nobody logged meanwhile."""
    listed = set(request.POST.getlist("session"))
    due = [item for item in season_of(request.athlete).unlogged if str(item.session_id) in listed]
    logged = 0
    for item in due:
        session = own_session(request.athlete, item.session_id)
        number = recording.as_planned_id(session.pk, session.logs.count())
        try:
            recording.record(request.athlete, session, Entry(number, item.day, "done"), by=request.user)
        except Clash:
            continue
        logged += 1
    if logged:
        messages.success(request, f"Logged as planned: {logged} run{'s' * (logged != 1)}.")
    else:
        messages.info(request, "Nothing was left to log: it is all there already.")
    return redirect("today")


def history(session: Session) -> list[tuple[Log, Any]]:
    """Entries that no longer stand, newest first, each with whether it was taken back."""
    old = session.logs.filter(replaced_by__isnull=False).order_by("-received_at").select_related("by")
    return [(log, log.replaced_by_id == log.pk) for log in old]
