"""Offer a changed template to those who are on an older version of it: as proposals, one an athlete."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from athletes.models import Athlete
from coaching.access import CoachRequest, coach_only, template_for
from plans import offering
from plans.models import Job, Proposal, Schedule, Template, TemplateVersion


@dataclass(frozen=True)
class Row:
    schedule: Schedule
    behind: bool
    proposal: Proposal | None
    job: Job | None

    @property
    def working(self) -> bool:
        return self.job is not None and self.job.state in ("waiting", "running")

    @property
    def offered(self) -> bool:
        return self.proposal is not None and self.proposal.kind == "refit"


def rows_of(request: CoachRequest, one: Template, version: TemplateVersion) -> list[Row]:
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    schedules = list(
        Schedule.objects.filter(athlete__in=mine, state="running", template_version__template=one)
        .select_related("athlete", "template_version", "race_entry__race")
        .order_by("athlete__name")
    )
    waiting = {p.schedule_id: p for p in Proposal.objects.filter(schedule__in=schedules, state="open")}
    keys = {f"{schedule.pk}:{version.pk}": schedule.pk for schedule in schedules}
    jobs = {keys[job.key]: job for job in Job.objects.filter(kind="refit", key__in=keys).order_by("pk")}
    return [Row(s, s.template_version_id != version.pk, waiting.get(s.pk), jobs.get(s.pk)) for s in schedules]


@coach_only
def offer(request: CoachRequest, pk: int) -> HttpResponse:
    """GET who is on it and on which version; POST makes proposals for those ticked, in the background."""
    one = template_for(request.user, pk)
    version = one.latest
    rows = rows_of(request, one, version)
    problem, status = "", 200
    if request.method == "POST":
        wanted = set(request.POST.getlist("schedule"))
        chosen = [row.schedule for row in rows if str(row.schedule.pk) in wanted and row.behind]
        if chosen:
            offering.offer(chosen, version)
            messages.success(
                request, f"{len(chosen)} proposals are being made. Nothing changes before you accept."
            )
            return redirect("template-offer", pk=pk)
        problem, status = "Tick at least one athlete who is on an older version.", 422
    context = {
        "template": one,
        "version": version,
        "rows": rows,
        "problem": problem,
        "working": any(row.working for row in rows),
        "behind": any(row.behind and not row.working for row in rows),
    }
    page = "desk/template_offer.html"
    return render(request, f"{page}#table" if request.htmx else page, context, status=status)
