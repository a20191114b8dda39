"""Guard rails changed: the schedules that run under them get them as a new version, and are looked at again.

Law: a version of a schedule keeps the rails it was issued with; rails reach a running schedule only as its next
version, whose cause names what changed. A limit that a nearer layer sets is not changed by a farther one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal

from django.db import transaction

from athletes.models import Athlete, Practice, User
from athletes.running.units import Distance, Duration, Units, show_distance, show_duration
from plans.assigning import rails_for
from plans.issuing import Stale, issue
from plans.jobs import carries, enqueue, progress
from plans.models import GuardRails, Job, Schedule, ScheduleVersion, Template
from plans.recording import queue_rebalance
from plans.training.guardrails import LIMITS, Limit, Rails

Layer = Literal["practice", "template", "athlete"]
Owner = Practice | Template | Athlete


def layer_of(owner: Owner) -> Layer:
    return (
        "practice"
        if isinstance(owner, Practice)
        else "template"
        if isinstance(owner, Template)
        else "athlete"
    )


def stored_for(owner: Owner) -> dict[str, int]:
    """Only the limits that this layer sets itself."""
    row = GuardRails.objects.filter(**{layer_of(owner): owner}).first()
    return dict(row.limits) if row else {}


def set_rails(owner: Owner, limits: Mapping[str, int], *, by: User) -> bool:
    """Store what this layer sets, and have it reach the schedules. False if nothing changed.

    One athlete's schedule gets them at once, a template's or the practice's in the background. ValueError as `Rails`.
    """
    Rails.nearest(limits)
    layer = layer_of(owner)
    with transaction.atomic():
        if stored_for(owner) == dict(limits):
            return False
        owned: dict[str, Any] = {layer: owner}
        GuardRails.objects.update_or_create(**owned, defaults={"limits": dict(limits)})
        if isinstance(owner, Athlete):
            for schedule in running(layer, owner.pk):
                reach(schedule, by)
        else:
            enqueue("rails", f"{layer}:{owner.pk}:{by.pk}")
    return True


def running(layer: str, pk: int) -> Iterable[Schedule]:
    schedules = Schedule.objects.filter(state="running").select_related("athlete", "template_version")
    if layer == "template":
        return schedules.filter(template_version__template=pk)
    return schedules.filter(athlete=pk) if layer == "athlete" else schedules


@carries("rails")
def carry(job: Job) -> None:
    layer, pk, user = job.key.split(":")
    by = User.objects.filter(pk=int(user)).first()
    schedules = list(running(layer, int(pk)))
    for number, schedule in enumerate(schedules, start=1):
        reach(schedule, by)
        progress(job, number, len(schedules))


def reach(schedule: Schedule, by: User | None) -> bool:
    """Issue the same sessions under the rails that hold now, and queue the re-balancing. False if they are the same."""
    new = rails_for(schedule.athlete, schedule.template_version).stored()
    for _ in range(3):
        current = ScheduleVersion.objects.get(schedule=schedule, number=schedule.current_version)
        old = Rails.nearest(current.rails).stored()
        if old == new:
            return False
        units: Units = "mi" if schedule.athlete.units == "mi" else "km"
        try:
            with transaction.atomic():
                issue(schedule, current.number, {}, by=by, cause=cause_of(old, new, units), rails=new)
                queue_rebalance(schedule.athlete)
            return True
        except Stale:
            schedule.refresh_from_db(fields=["current_version", "state"])
            if schedule.state != "running":
                return False
    raise Stale("The schedule was changed again and again meanwhile.")


def cause_of(old: Mapping[str, int], new: Mapping[str, int], units: Units) -> str:
    said = [
        f"{limit.words[0].lower()}{limit.words[1:]} {shown(limit, old[limit.name], units)} "
        f"to {shown(limit, new[limit.name], units)}"
        for limit in LIMITS
        if old[limit.name] != new[limit.name]
    ]
    more = f" and {len(said) - 3} more" if len(said) > 3 else ""
    return f"Guard rails changed: {'; '.join(said[:3])}{more}"


def shown(limit: Limit, value: int, units: Units) -> str:
    """A stored number as people read it."""
    if limit.measured == "percent":
        return f"{value} %"
    if limit.measured == "mm":
        return show_distance(Distance(value), units)
    if limit.measured == "s":
        return show_duration(Duration(value * 1000))
    return f"{value} day{'s' * (value != 1)}" if limit.measured == "days" else str(value)
