"""One template for many athletes: fit each, show what was bent for whom, issue those the coach chose.

Two steps, each in the background with progress. What is issued is what was shown: if fitting says something else by
then, the row waits to be looked at again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from athletes import screening
from athletes.carding import compute_card, counting_results, store_card
from athletes.models import Athlete, Coach, Group, PaceCard
from athletes.running import paces
from athletes.running.paces import CardError
from athletes.running.performance import ResultError
from plans.assigning import Aim, issue_first, preview
from plans.jobs import carries, enqueue, progress
from plans.models import Assignment, AssignmentRow, Job, Race, TemplateVersion
from plans.refitting import tune_ups_of
from plans.training.fitting_types import CannotFit, Fitted


@transaction.atomic
def start(
    coach: Coach,
    version: TemplateVersion,
    athletes: Iterable[Athlete],
    *,
    race: Race | None = None,
    first_day: date | None = None,
    joining: bool = False,
    group: Group | None = None,
) -> Assignment:
    """Begin: rows for everyone chosen, and the job that fits them."""
    made = Assignment.objects.create(
        coach=coach,
        template_version=version,
        group=group,
        race=race,
        start=first_day,
        joining=joining,
        made_at=timezone.now(),
    )
    AssignmentRow.objects.bulk_create(AssignmentRow(assignment=made, athlete=one) for one in athletes)
    enqueue("assign", str(made.pk))
    return made


@transaction.atomic
def choose(assignment: Assignment, rows: Iterable[int]) -> int:
    """Issue these rows, in the background. How many were taken."""
    ready = assignment.rows.filter(pk__in=list(rows), state="ready")
    taken = ready.update(state="chosen")
    if taken:
        enqueue("assign", str(assignment.pk))
    return taken


@carries("assign")
def carry(job: Job) -> None:
    """Fit what waits, issue what was chosen. A row is done in one transaction, so twice does no harm."""
    assignment = Assignment.objects.filter(pk=job.key).select_related("template_version__template").first()
    if assignment is None:
        return
    todo = list(assignment.rows.filter(state__in=["waiting", "chosen"]).select_related("athlete"))
    progress(job, 0, len(todo))
    for done, row in enumerate(todo, start=1):
        look(assignment, row) if row.state == "waiting" else issue(assignment, row)
        progress(job, done, len(todo))


@dataclass(frozen=True)
class Fit:
    """What fitting makes of the assignment for one athlete."""

    fitted: Fitted
    card: paces.PaceCard
    stored: PaceCard | None
    aim: Aim

    @property
    def digest(self) -> str:
        said = repr((self.fitted.weeks, self.fitted.sessions, sorted(self.card.to_values().items())))
        return hashlib.sha256(said.encode()).hexdigest()


def fit_row(assignment: Assignment, athlete: Athlete) -> Fit:
    """Raises CannotFit, CardError or ResultError with a sentence for the table."""
    today = athlete.today()
    health = screening.standing(athlete, timezone.now())
    if not health.asked:
        raise CannotFit("athlete", "The health questions come first: fit the plan to this athlete alone.")
    free = athlete.availabilities.filter(valid_from__lte=today).last() or athlete.availabilities.last()
    if free is None:
        raise CannotFit("availability", "No free days are known.")
    stored = athlete.pace_cards.first()
    card = stored.card if stored else compute_card(athlete, counting_results(athlete, today))
    race = assignment.race
    aim = Aim(race.name, race.day, race.distance_mm) if race else Aim(start=assignment.start)
    fitted = preview(
        athlete,
        assignment.template_version,
        aim,
        card,
        free.minutes(),
        today,
        health=health,
        tune_ups=tune_ups_of(athlete, today, aim.race_day),
        joining=assignment.joining,
    )
    return Fit(fitted, card, stored, aim)


def look(assignment: Assignment, row: AssignmentRow) -> None:
    """Fit one and keep what the table says of it."""
    try:
        found = fit_row(assignment, row.athlete)
    except (CannotFit, CardError, ResultError) as error:
        _write(row, "waiting", state="refused", said={"refused": str(error)})
        return
    _write(row, "waiting", state="ready", said=said_of(found.fitted), digest=found.digest)


def said_of(fitted: Fitted) -> dict[str, object]:
    return {
        "bent": list(fitted.bent),
        "broken": list(fitted.broken),
        "first_day": fitted.first_day.isoformat(),
        "weeks": len(fitted.weeks),
        "peak_mm": max((week.mm for week in fitted.weeks), default=0),
        "long_mm": max((s.mm for s in fitted.sessions if s.role == "long"), default=0),
    }


@transaction.atomic
def issue(assignment: Assignment, row: AssignmentRow) -> None:
    """Issue what was shown for one athlete; another answer waits to be looked at."""
    try:
        found = fit_row(assignment, row.athlete)
    except (CannotFit, CardError, ResultError) as error:
        _write(row, "chosen", state="refused", said={"refused": str(error)})
        return
    if found.digest != row.digest:
        said = {**said_of(found.fitted), "again": True}
        _write(row, "chosen", state="ready", said=said, digest=found.digest)
        return
    if not _write(row, "chosen", state="issued"):
        return
    card = found.stored or store_card(
        row.athlete, found.card, row.athlete.results.first(), row.athlete.today()
    )
    issue_first(
        row.athlete, assignment.template_version, found.aim, found.fitted, card, by=assignment.coach.user
    )


def _write(row: AssignmentRow, before: str, **values: object) -> bool:
    """Whether the row was still ours to write."""
    return AssignmentRow.objects.filter(pk=row.pk, state=before).update(**values) == 1
