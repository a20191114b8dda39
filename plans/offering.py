"""Keep a refit as a proposal, issue it, put it back; and offer a template's changes to those who are on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from athletes.models import User
from plans import appending, issuing
from plans.assigning import Aim, entry_for, rails_for
from plans.issuing import Content, Stale
from plans.jobs import carries, enqueue
from plans.models import (
    Change,
    Job,
    Proposal,
    Schedule,
    ScheduleWeek,
    Session,
    SessionIssue,
    TemplateVersion,
)
from plans.refitting import Refit, Slot, aim_of, refit
from plans.situation import situation_of
from plans.training.fitting_types import CannotFit


@transaction.atomic
def propose(found: Refit) -> Proposal | None:
    """Keep it as the proposal that waits. None when nothing would change."""
    schedule = Schedule.objects.select_for_update(of=("self",)).get(pk=found.schedule.pk)
    if schedule.state != "running" or schedule.current_version != found.schedule.current_version:
        raise Stale("The schedule was changed meanwhile.")
    if not found.appended and not found.slots and not found.weeks and _leads_there(schedule, found):
        return None
    standing = Proposal.objects.filter(schedule=schedule, state="open").first()
    if standing is not None and standing.kind == "refit" and standing.changes_digest == found.digest:
        return standing
    Proposal.objects.filter(schedule=schedule, state="open").update(state="superseded")
    made = Proposal.objects.create(
        schedule=schedule,
        kind="refit",
        base_version=schedule.current_version,
        made_at=timezone.now(),
        inputs_digest=situation_of(found.schedule, timezone.now()).digest,
        changes_digest=found.digest,
        why=found.why[:300],
        summary=(found.summary or "No session changes; the weeks' words do.")[:400],
        verdicts=[{"name": "rail", "sentence": sentence} for sentence in found.fitted.broken],
        urgency=4,
        refit=_terms(schedule, found),
    )
    Change.objects.bulk_create(
        Change(
            proposal=made,
            session=_identity(schedule, slot),
            before=(slot.before or replace(slot.after, removed=True)).as_json(),
            after=slot.after.as_json(),
            rule="refit",
            sentence=slot.sentence[:300],
        )
        for slot in found.slots
    )
    return made


def _leads_there(schedule: Schedule, found: Refit) -> bool:
    return (
        schedule.template_version_id == found.version.pk and aim_of(schedule).race_day == found.aim.race_day
    )


def _identity(schedule: Schedule, slot: Slot) -> Session:
    """The session's own row; a new one has no place in any version until the proposal is accepted."""
    if slot.session is not None:
        return Session.objects.get(pk=slot.session)
    if slot.template_key is None:
        return Session.objects.create(schedule=schedule)
    used = Session.objects.filter(schedule=schedule, template_key=slot.template_key)
    number = max((session.repeat for session in used), default=-1) + 1
    return Session.objects.create(schedule=schedule, template_key=slot.template_key, repeat=number)


def _terms(schedule: Schedule, found: Refit) -> dict[str, Any]:
    """What acceptance changes besides sessions, and what it was, so that an undo can put it back."""
    terms: dict[str, Any] = {"append": found.from_day.isoformat()} if found.appended else {}
    stand = ScheduleWeek.objects.filter(schedule=schedule, to_version=None, first_day__in=list(found.weeks))
    was = {row.first_day.isoformat(): [row.kind, row.purpose] for row in stand}
    aim = found.aim
    return terms | {
        "template_version": found.version.pk,
        "race": [aim.race_name, aim.race_day.isoformat(), aim.race_mm, aim.goal_ms] if aim.race_day else None,
        "weeks": {day.isoformat(): week for day, week in found.weeks.items()},
        "was": {
            "template_version": schedule.template_version_id,
            "race_entry": schedule.race_entry_id,
            "plan_version": schedule.plan_version,
            "weeks": {day.isoformat(): was.get(day.isoformat()) for day in found.weeks},
        },
    }


Weeks = dict[date, tuple[str, str] | None]


def _read_weeks(values: Mapping[str, Any]) -> Weeks:
    return {
        date.fromisoformat(day): (week[0], week[1]) if week is not None else None
        for day, week in values.items()
    }


def issue(
    proposal: Proposal, schedule: Schedule, changes: Mapping[UUID, Content], *, by: User | None, cause: str
) -> int:
    """Issue an accepted refit: from this version on, what it says is the plan. Call inside the deciding transaction."""
    terms = proposal.refit
    version = TemplateVersion.objects.filter(pk=terms["template_version"]).first()
    appended = terms.get("append")
    number = issuing.issue(
        schedule,
        proposal.base_version,
        changes,
        by=by,
        cause=cause,
        weeks=_read_weeks(terms["weeks"]),
        rails=None if appended else rails_for(schedule.athlete, version).stored(),
    )
    values: dict[str, Any] = {}
    if version is not None:
        values["template_version"] = version
    if terms["race"]:
        name, day, mm, goal_ms = terms["race"]
        values["race_entry"] = entry_for(schedule.athlete, Aim(name, date.fromisoformat(day), mm, goal_ms))
    if appended:
        appending.add_part(schedule, date.fromisoformat(appended), values)
    else:
        appending.change_part(schedule, values)
        Schedule.objects.filter(pk=schedule.pk).update(plan_version=number, **values)
    enqueue("rebalance", str(schedule.athlete_id), athlete=schedule.athlete)
    return number


def undo(proposal: Proposal, schedule: Schedule, *, by: User) -> int:
    """Put back, from today on, what the refit replaced: sessions, weeks, race and plan. Raises Stale when it is over."""
    number, today = proposal.issued_version or 0, schedule.athlete.today()
    written = list(SessionIssue.objects.filter(schedule=schedule, from_version=number, to_version=None))
    rows = SessionIssue.objects.filter(
        schedule=schedule, to_version=number, session__in=[row.session_id for row in written]
    )
    former = {row.session_id: Content.of(row) for row in rows}
    back = {
        row.session_id: former.get(row.session_id) or replace(Content.of(row), removed=True)
        for row in written
        if min(row.day, former[row.session_id].day if row.session_id in former else row.day) >= today
    }
    was = proposal.refit["was"]
    if not back and not proposal.refit["weeks"]:
        raise Stale("Nothing of it lies ahead any more, or it was changed again since.")
    issued = issuing.issue(
        schedule,
        schedule.current_version,
        back,
        by=by,
        cause=f"Undone: version {number}",
        weeks=_read_weeks(was["weeks"]),
    )
    if first_day := proposal.refit.get("append"):
        appending.take_part_away(schedule, date.fromisoformat(first_day))
        return issued
    values = {"race_entry_id": was["race_entry"], "template_version_id": was["template_version"]}
    appending.change_part(schedule, values)
    Schedule.objects.filter(pk=schedule.pk).update(plan_version=was["plan_version"], **values)
    return issued


# Offering a changed template to those on an older version.


def offer(schedules: Iterable[Schedule], version: TemplateVersion) -> list[Job]:
    """One job for each: its proposal is made in the background."""
    with transaction.atomic():
        return [
            enqueue("refit", f"{schedule.pk}:{version.pk}", athlete=schedule.athlete)
            for schedule in schedules
        ]


@carries("refit")
def refit_one(job: Job) -> None:
    """Twice without harm: the same answer is the same proposal, which stands already."""
    schedule_pk, _, version_pk = job.key.partition(":")
    schedule = (
        Schedule.objects.filter(pk=schedule_pk, state="running")
        .select_related("athlete", "race_entry__race", "template_version")
        .first()
    )
    version = TemplateVersion.objects.filter(pk=version_pk).select_related("template").first()
    if schedule is None or version is None:
        return
    if version.pk == schedule.template_version_id:
        why = f"Fitted anew to what {schedule.athlete.name} runs now"
    else:
        why = f"The plan {version.template.name} was changed: version {version.number}"
        why += f", {version.what}" if version.what else ""
    try:
        today, former = schedule.athlete.today(), schedule.template_version
        propose(refit(schedule, version, aim_of(schedule), today, why, instead_of=former))
    except CannotFit as error:
        Job.objects.filter(pk=job.pk).update(error=error.sentence[:300])
