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

from athletes.models import Athlete, Practice
from coaching.access import CoachRequest, batch_for, coach_only, groups_for, job_of_batch
from plans.handouts import start_batch
from plans.models import HandoutBatch
from plans.reading import week_of


class BatchForm(forms.Form):
    group = forms.ChoiceField(label="For", required=False)
    first_day = forms.TypedChoiceField(label="Week", coerce=date.fromisoformat)

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
        athletes = Athlete.objects.for_user(request.user).filter(
            left_on__isnull=True,
            schedules__state="running",
            schedules__weeks__first_day=form.cleaned_data["first_day"],
        )
        if group:
            athletes = athletes.filter(groups=group)
        chosen = list(athletes.distinct())
        if chosen:
            batch = start_batch(request.coach, chosen, form.cleaned_data["first_day"], group)
            return redirect("handout-batch", pk=batch.pk)
        form.add_error("group", "Nobody here has a schedule for that week.")
    batches = HandoutBatch.objects.filter(coach=request.coach).select_related("group")[:10]
    return render(
        request, "desk/handouts.html", {"form": form, "batches": batches}, status=422 if form.errors else 200
    )


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
    return FileResponse(path.open("rb"), as_attachment=True, filename=f"handouts-{one.first_day}.pdf")
