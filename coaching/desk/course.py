"""The course of one schedule: move its race, pause it, go on, end it, leave."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from coaching.access import CoachRequest, coach_only, schedule_for
from coaching.fields import day_input
from plans import deciding, offering, pausing, refitting
from plans.issuing import Stale
from plans.models import Schedule
from plans.reading import weeks_of
from plans.refitting import Refit
from plans.training.fitting_types import CannotFit


class MoveForm(forms.Form):
    race_name = forms.CharField(label="Race", max_length=80)
    race_day = forms.DateField(label="New race day", widget=day_input())


@dataclass(frozen=True)
class WeekPair:
    """One week before and after: whole mm of all running and of the long run; None where there is no such week."""

    first_day: date
    before: tuple[int, int] | None
    after: tuple[int, int] | None
    purpose: str

    @property
    def differs(self) -> bool:
        return self.before != self.after


def pairs(found: Refit) -> list[WeekPair]:
    """The weeks from the first that is fitted anew, before beside after; the last four before what is appended."""
    ahead = found.fitted.weeks
    first = ahead[0].first_day if ahead else found.from_day
    if found.appended:
        return [*_kept(found, first), *_compared(found, first)]
    return _compared(found, first)


def _kept(found: Refit, until: date) -> list[WeekPair]:
    """The weeks before what is appended: they stay as they are."""
    stand = weeks_of(found.schedule, first=until - timedelta(28), last=until - timedelta(1))
    return [
        WeekPair(week.first_day, held, held, week.purpose)
        for week in stand
        if week.first_day < until
        for held in [(
            sum(i.planned_mm for i in week.items if i.is_run and i.role != "race"),
            max((i.planned_mm for i in week.items if i.role == "long"), default=0),
        )]
    ]  # fmt: skip


def _compared(found: Refit, first: date) -> list[WeekPair]:
    ahead = found.fitted.weeks
    before = {
        week.first_day: (
            sum(
                i.planned_mm for i in week.items if i.is_run and i.role != "race" and i.day >= found.from_day
            ),
            max(
                (i.planned_mm for i in week.items if i.role == "long" and i.day >= found.from_day), default=0
            ),
        )
        for week in weeks_of(found.schedule, first=first)
        if week.first_day >= first
    }
    after = {
        week.first_day: (
            week.mm,
            max((s.mm for s in found.fitted.sessions if s.role == "long" and 0 <= (s.day - week.first_day).days < 7),
                default=0),
        )
        for week in ahead
    }  # fmt: skip
    words = {week.first_day: week.purpose for week in ahead}
    return [
        WeekPair(day, before.get(day), after.get(day), words.get(day, "no longer part of it"))
        for day in sorted(before.keys() | after.keys())
    ]


@coach_only
def course(request: CoachRequest, pk: int) -> HttpResponse:
    """GET what can be done; POST shows a moved race before and after, and issues it when asked to."""
    schedule = schedule_for(request.user, pk)
    aim = refitting.aim_of(schedule)
    form = MoveForm(request.POST or None, initial={"race_name": aim.race_name, "race_day": aim.race_day})
    found: Refit | None = None
    if request.method == "POST":
        if aim.race_day is None or schedule.template_version is None or schedule.state != "running":
            raise Http404
        if form.is_valid():
            found = try_move(form, schedule)
        if found is not None and request.POST.get("do") == "issue":
            try:
                number = issue(request, found)
            except Stale as error:
                form.add_error(None, f"{error} Nothing was changed; look at it again.")
            else:
                messages.success(request, f"The race is moved: issued as version {number}. It can be undone.")
                return redirect("athlete", pk=schedule.athlete_id)
    context: dict[str, Any] = {
        "schedule": schedule,
        "athlete": schedule.athlete,
        "aim": aim,
        "form": form,
        "found": found,
        "pairs": pairs(found) if found else [],
    }
    return render(request, "desk/course.html", context, status=422 if form.errors else 200)


def try_move(form: MoveForm, schedule: Schedule) -> Refit | None:
    """Fit to the new day, nothing stored; what stands in the way becomes an error at its field."""
    aim, today = refitting.aim_of(schedule), schedule.athlete.today()
    day, name = form.cleaned_data["race_day"], form.cleaned_data["race_name"].strip()
    if day == aim.race_day and name == aim.race_name:
        form.add_error("race_day", "The race is on this day already.")
        return None
    assert schedule.template_version is not None
    assert aim.race_day is not None
    why = f"{name} is on {day.day} {day:%B} instead of {aim.race_day.day} {aim.race_day:%B}"
    moved = replace(aim, race_name=name, race_day=day)
    try:
        return refitting.refit(schedule, schedule.template_version, moved, today, why)
    except CannotFit as error:
        form.add_error("race_day" if error.place == "race" else None, error.sentence)
        return None


@transaction.atomic
def issue(request: CoachRequest, found: Refit) -> int:
    """As a proposal that is accepted at once: so it is told, kept and undone like any other."""
    proposal = offering.propose(found)
    if proposal is None:
        raise Stale("Nothing would change.")
    return deciding.accept(proposal, by=request.user, coach=request.coach)


def _now(act: Callable[[Schedule], None], said: str) -> Callable[[CoachRequest, int], HttpResponse]:
    def view(request: CoachRequest, pk: int) -> HttpResponse:
        schedule = schedule_for(request.user, pk)
        try:
            act(schedule)
        except Stale as error:
            messages.error(request, str(error))
        else:
            messages.success(request, said.format(name=schedule.athlete.name))
        return redirect("course", pk=pk)

    return view


pause = require_POST(
    coach_only(
        _now(
            lambda s: pausing.pause(s, s.athlete.today()), "Paused. {name} sees no sessions until you go on."
        )
    )
)
resume = require_POST(
    coach_only(
        _now(
            lambda s: pausing.resume(s, s.athlete.today()),
            "It runs again. A proposal fits what lies ahead to what {name} runs now; it follows in a moment.",
        )
    )
)
end = require_POST(coach_only(_now(pausing.end, "Ended. What {name} ran stays on record.")))


@require_POST
@coach_only
def leave(request: CoachRequest, pk: int) -> HttpResponse:
    schedule = schedule_for(request.user, pk)
    pausing.leave(schedule.athlete, schedule.athlete.today())
    messages.success(request, f"{schedule.athlete.name} has left: off the roster, with the record kept.")
    return redirect("roster")
