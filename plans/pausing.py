"""Stand a schedule still, go on with it, end it. A paused athlete gets no proposals and sees no sessions."""

from __future__ import annotations

from datetime import date, timedelta

from django.db import transaction

from athletes.models import Athlete, TimeOff
from plans import appending
from plans.issuing import Stale
from plans.jobs import enqueue
from plans.models import Proposal, Schedule


@transaction.atomic
def pause(schedule: Schedule, today: date) -> None:
    """From today on nothing is due. Raises Stale when it doesn't run."""
    if Schedule.objects.filter(pk=schedule.pk, state="running").update(state="paused", paused_on=today) != 1:
        raise Stale("This schedule doesn't run.")
    Proposal.objects.filter(schedule=schedule, state="open").update(state="superseded")


@transaction.atomic
def resume(schedule: Schedule, today: date) -> None:
    """Go on. The days between count as time off, and a proposal fits what lies ahead to what is run now."""
    if Schedule.objects.filter(athlete=schedule.athlete_id, state="running").exists():
        raise Stale("Another schedule of this athlete runs: end it first.")
    if Schedule.objects.filter(pk=schedule.pk, state="paused").update(state="running", paused_on=None) != 1:
        raise Stale("This schedule isn't paused.")
    since = schedule.paused_on
    if since is not None and since < today:
        TimeOff.objects.create(
            athlete=schedule.athlete, first_day=since, last_day=today - timedelta(1), kind="rest"
        )
    appending.advance(schedule, today)
    if schedule.template_version_id is not None:
        enqueue("refit", f"{schedule.pk}:{schedule.template_version_id}", athlete=schedule.athlete)


@transaction.atomic
def end(schedule: Schedule) -> None:
    """Between seasons: what was run stays, nothing is due any more."""
    Schedule.objects.filter(pk=schedule.pk).exclude(state="ended").update(state="ended", paused_on=None)
    Proposal.objects.filter(schedule=schedule, state="open").update(state="superseded")


@transaction.atomic
def leave(athlete: Athlete, today: date) -> None:
    """The athlete leaves the practice: schedules end, the record stays until it is erased."""
    for schedule in Schedule.objects.filter(athlete=athlete).exclude(state="ended"):
        end(schedule)
    athlete.left_on = today
    athlete.save(update_fields=["left_on"])
