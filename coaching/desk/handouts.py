"""Next week on paper: ask for a batch, watch it grow, download it."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from athletes.models import Athlete, Practice
from coaching.access import CoachRequest, athlete_for, batch_for, coach_only, groups_for, job_of_batch
from plans.gathering import place_words
from plans.handout_contents import running
from plans.handouts import make_page, start_batch, with_week
from plans.models import GroupSession, HandoutBatch
from plans.reading import week_of
from plans.sheets import group_sheet, season_sheet


class BatchForm(forms.Form):
    group = forms.ChoiceField(label="For", required=False)
    first_day = forms.TypedChoiceField(label="Week", coerce=date.fromisoformat)
    shape = forms.ChoiceField(label="As", choices=HandoutBatch.SHAPES, initial="one", required=False)

    def __init__(self, *args: Any, groups: list[Any], weeks: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["group"].choices = [("", "all my athletes"), *((str(g.pk), g.name) for g in groups)]  # type: ignore[attr-defined]
        self.fields["first_day"].choices = weeks  # type: ignore[attr-defined]


@coach_only
def handouts(request: CoachRequest) -> HttpResponse:
    """GET the form and the batches so far; POST starts one."""
    groups = groups_for(request.user)
    this = week_of(timezone.localdate(), Practice.get().week_starts)
    weeks = [
        (
            (this + timedelta(7 * n)).isoformat(),
            f"{'this week, ' if n == 0 else 'next week, ' if n == 1 else ''}{words(this + timedelta(7 * n))}",
        )
        for n in range(4)
    ]
    form = BatchForm(request.POST or None, groups=groups, weeks=weeks, initial={"first_day": weeks[1][0]})
    if request.method == "POST" and form.is_valid():
        group = next((g for g in groups if str(g.pk) == form.cleaned_data["group"]), None)
        athletes = Athlete.objects.for_user(request.user)
        if group:
            athletes = athletes.filter(groups=group)
        chosen = with_week(athletes, form.cleaned_data["first_day"])
        if chosen:
            shape = form.cleaned_data["shape"] or "one"
            batch = start_batch(request.coach, chosen, form.cleaned_data["first_day"], group, shape)
            return redirect("handout-batch", pk=batch.pk)
        form.add_error("group", "Nobody here has a schedule for that week.")
    batches = HandoutBatch.objects.filter(coach=request.coach).select_related("group")[:10]
    return render(
        request,
        "desk/handouts.html",
        {
            "form": form,
            "batches": batches,
            "groups": groups,
            "days": sheet_days(timezone.localdate()),
            "practice_hour": Practice.get().handout_hour,
        },
        status=422 if form.errors else 200,
    )


def sheet_days(today: date) -> list[date]:
    return [today + timedelta(n) for n in range(14)]


def words(first: date) -> str:
    return f"{first.day} {first:%B}"


@coach_only
def batch(request: CoachRequest, pk: UUID) -> HttpResponse:
    """The batch, or only its progress when htmx asks; it asks again until the file is there."""
    one = batch_for(request.user, pk)
    job = job_of_batch(one)
    context = {
        "batch": one,
        "job": job,
        "working": not one.file and job is not None and job.state != "failed",
    }
    return render(request, "desk/batch.html#progress" if request.htmx else "desk/batch.html", context)


@coach_only
def download(request: CoachRequest, pk: UUID) -> HttpResponseBase:
    one = batch_for(request.user, pk)
    path = Path(settings.MADE_DIR) / one.file
    if not one.file:
        raise Http404
    if not path.is_file():
        messages.error(request, "The file is no longer here; old batches are cleaned up. Ask for it again.")
        return redirect("handouts")
    return FileResponse(
        path.open("rb"), as_attachment=True, filename=f"handouts-{one.first_day}{path.suffix}"
    )


@require_GET
@coach_only
def sheet(request: CoachRequest) -> HttpResponse:
    """Everyone's session of one day on paper; a group grants nothing, its viewer's athletes are on it."""
    wanted = request.GET.get("group", "")
    group = next((g for g in groups_for(request.user) if str(g.pk) == wanted), None)
    if wanted and group is None:
        raise Http404
    try:
        day = date.fromisoformat(request.GET.get("day", ""))
    except ValueError as error:
        raise Http404 from error
    athletes = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    if group:
        athletes = athletes.filter(groups=group)
    held = GroupSession.objects.filter(group=group, day=day) if group else []
    where = " · ".join(place_words(one, group=False) for one in held)
    found = group_sheet(group.name if group else "All my athletes", athletes, day, where)
    if found is None:
        messages.info(request, f"Nobody here runs on {day.day} {day:%B}.")
        return redirect("handouts")
    return pdf(found, f"sheet-{day}")


def pdf(content: bytes, name: str) -> HttpResponse:
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"'}
    return HttpResponse(content, content_type="application/pdf", headers=headers)


@require_GET
@coach_only
def athletes_page(request: CoachRequest, pk: int) -> HttpResponse:
    """One athlete's own page: of this week, or of the week given."""
    one = athlete_for(request.user, pk)
    schedules = running([one])
    starts = schedules[0].week_starts if schedules else 0
    try:
        first = date.fromisoformat(request.GET.get("week", "") or week_of(one.today(), starts).isoformat())
    except ValueError as error:
        raise Http404 from error
    path = make_page(one, first)
    if path is None:
        raise Http404
    return pdf(path.read_bytes(), f"handout-{first}")


@require_GET
@coach_only
def season(request: CoachRequest, pk: int) -> HttpResponse:
    schedules = running([athlete_for(request.user, pk)])
    if not schedules:
        raise Http404
    return pdf(season_sheet(schedules[0]), "season")
