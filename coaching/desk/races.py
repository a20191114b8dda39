"""Races on the desk: all of them, one with its entries and its course, and one entry's plan for the day."""

from __future__ import annotations

from collections import defaultdict
from datetime import timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from athletes.models import Athlete, Practice
from athletes.running.course import CourseError
from athletes.running.tracks import TrackError
from athletes.running.units import MARATHON, Units
from coaching import race_paper
from coaching.access import CoachRequest, coach_only, entry_for, race_for
from coaching.desk.templates import library
from coaching.race_forms import CourseForm, PlanForm, SplitsForm
from coaching.race_rows import race_context
from plans import drafting, racing
from plans.models import Race, RaceEntry, Template
from plans.training.template_editing import duplicated

LONG_AGO = timedelta(days=120)
RECOVERY = "after-a-marathon-2-weeks"


def my_entries(request: CoachRequest) -> dict[int, list[RaceEntry]]:
    """The entries of athletes whom this coach may see, by race."""
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    found: dict[int, list[RaceEntry]] = defaultdict(list)
    entries = RaceEntry.objects.filter(athlete__in=mine).select_related("athlete", "plan", "report")
    for entry in entries.order_by("athlete__name"):
        found[entry.race_id].append(entry)
    return found


@require_GET
@coach_only
def races(request: CoachRequest) -> HttpResponse:
    """Those ahead by date, then those gone by."""
    entries, today = my_entries(request), timezone.localdate()
    rows = Race.objects.filter(pk__in=entries, day__gte=today - LONG_AGO).select_related("course")
    ahead = [(race, entries[race.pk], (race.day - today).days) for race in rows if race.day >= today]
    gone = [(race, entries[race.pk], 0) for race in reversed(rows) if race.day < today]
    return render(
        request, "desk/races.html", {"parts": [("Ahead", ahead), ("Gone by", gone)], "today": today}
    )


@coach_only
def race(request: CoachRequest, pk: int) -> HttpResponse:
    """GET the race with each entry's plan; POST reads a course file."""
    one = race_for(request.user, pk)
    form = CourseForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid() and read_file(request, one, form):
        return redirect("race", pk=pk)
    entries = RaceEntry.objects.filter(race=one, athlete__in=Athlete.objects.for_user(request.user))
    days = [racing.race_day(entry) for entry in racing.with_all(entries).order_by("athlete__name")]
    context = {"race": one, "days": days, "form": form, "course": getattr(one, "course", None)}
    return render(request, "desk/race.html", context, status=422 if form.errors else 200)


def read_file(request: CoachRequest, one: Race, form: CourseForm) -> bool:
    """Keep the course; what is wrong with the file becomes an error at its field."""
    file = form.cleaned_data["file"]
    try:
        units: Units = "mi" if Practice.get().units == "mi" else "km"
        course = racing.keep_course(one, file.read(), file.name, by=request.user, units=units)
    except (CourseError, TrackError) as error:
        form.add_error("file", str(error))
        return False
    up, down = (round(mm / 1000) for mm in course.climb_mm)
    hills = [f"{up} m up and {down} m down."] if course.known else []
    told = " ".join([*hills, *course.notes, "All plans for this race follow it."])
    messages.success(request, f"Read: {told}" if hills else f"Read. {told}")
    return True


@coach_only
def entry(request: CoachRequest, pk: int) -> HttpResponse:
    """GET an athlete's race day; POST keeps target, shape, weather and word."""
    day = racing.race_day(entry_for(request.user, pk))
    form = PlanForm(request.POST or None, day=day)
    if request.method == "POST" and form.is_valid():
        form.keep(request.user)
        messages.success(request, f"{day.athlete.name} sees it on the phone now.")
        return redirect("race-entry", pk=pk)
    return show(request, day, form, SplitsForm(entry=day.entry), 422 if form.errors else 200)


def show(
    request: CoachRequest, day: racing.RaceDay, form: PlanForm, splits: SplitsForm, status: int = 200
) -> HttpResponse:
    context = {
        **race_context(day),
        "form": form,
        "splits_form": splits,
        "over": day.days_to_go <= 0,
        "marathon": day.race.distance_mm >= MARATHON.mm,
    }
    return render(request, "desk/race_entry.html", context, status=status)


@require_POST
@coach_only
def splits(request: CoachRequest, pk: int) -> HttpResponse:
    one = entry_for(request.user, pk)
    form = SplitsForm(request.POST, request.FILES, entry=one)
    if not form.is_valid():
        day = racing.race_day(one)
        return show(request, day, PlanForm(day=day), form, 422)
    outcome = form.keep(request.user)
    messages.success(request, f"Kept. {outcome.words}" if outcome else "Kept.")
    return redirect("race-entry", pk=pk)


@require_POST
@coach_only
def recovery(request: CoachRequest, pk: int) -> HttpResponse:
    """The two weeks after a marathon, taken from the library where they are not among the templates yet."""
    one = entry_for(request.user, pk)
    plan = dict(library())[RECOVERY]
    template = Template.objects.filter(name=plan.name, archived=False).first()
    if template is None:
        made = drafting.begin(duplicated(plan, plan.name), by=request.coach, what="taken from the library")
        template = made.template
    response = redirect("template-assign", pk=template.pk)
    response["Location"] += f"?athlete={one.athlete_id}"
    return response


@require_GET
@coach_only
def printed(request: CoachRequest, pk: int) -> HttpResponse:
    return race_paper.as_pdf(racing.race_day(entry_for(request.user, pk)))
