"""What a coach may choose instead of the plain answer, and what would be if: computed beside it, never by itself.

Law: a choice is an edit of the planner's inputs (`plans.training.alternatives`); what exceeds the signed plan is
issued as a pin of the coach who chose it, so that the next re-balancing does not take it back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.utils import timezone

from athletes.models import Coach
from plans.issuing import Content, Stale
from plans.models import Proposal, Schedule, ScheduleWeek
from plans.rebalancing import Draft, draft_of, drafted, store
from plans.situation import Situation, situation_of, standing_of
from plans.training import schedule as core
from plans.training.alternatives import Alternative, Outlook, alternatives, outlook, week_lost
from plans.training.replanning import rebalance

ELSEWHERE = ("later_race",)  # moving a race is fitted anew, on its own page


@dataclass(frozen=True)
class Side:
    """One of the things laid side by side. `draft` is None where choosing it happens elsewhere."""

    name: str
    sentence: str
    outlook: Outlook
    verdicts: tuple[str, ...]
    draft: Draft | None


def sides(schedule: Schedule, lost: date | None = None) -> list[Side]:
    """The plain answer first, then each alternative that applies, then what would be if a week were lost."""
    found = situation_of(schedule, timezone.now())
    plain = draft_of(schedule, found)
    made = [
        _side(
            "plain",
            "What re-balancing proposes" if plain.changes else "As it stands: nothing to change",
            plain,
        )
    ]
    for one in alternatives(found.inputs):
        draft = None if one.name in ELSEWHERE else choice_draft(schedule, found, one)
        made.append(Side(one.name, one.sentence, one.outlook, _words(one.result), draft))
    if lost is not None:
        edited = replace(found, inputs=week_lost(found.inputs, lost))
        sentence = f"If the week of {lost:%a} {lost.day} {lost:%b} is lost"
        made.append(_side("lost_week", sentence, drafted(schedule, edited, rebalance(edited.inputs))))
    return made


def _side(name: str, sentence: str, draft: Draft) -> Side:
    return Side(name, sentence, outlook(draft.situation.inputs, draft.result), _words(draft.result), draft)


def _words(result: core.Result) -> tuple[str, ...]:
    return tuple(verdict.sentence for verdict in result.verdicts)


def choice_draft(schedule: Schedule, found: Situation, one: Alternative) -> Draft:
    """An alternative as content: sessions it writes larger than the plan take the text of their model."""
    rewritten = _rewritten(found, one.inputs)
    # What stands now is told to the planner, else it takes the edited plan for what stands.
    standing = {key: standing_of(found.live[key]) for key in rewritten} | dict(one.inputs.standing)
    inputs = replace(one.inputs, standing=standing)
    edited = replace(found, inputs=inputs, rewritten=rewritten)
    draft = drafted(schedule, edited, rebalance(inputs))
    changes = tuple(
        replace(c, reason=core.Reason("chosen", one.sentence)) if c.reason.rule == "restored" else c
        for c in draft.changes
    )
    kinds = {week.first_day: week.kind for week in found.inputs.weeks}
    rows = {w.first_day: w for w in ScheduleWeek.objects.filter(schedule=schedule, to_version=None)}
    weeks = {
        week.first_day.isoformat(): (str(week.kind), rows[week.first_day].purpose)
        for week in one.inputs.weeks
        if kinds.get(week.first_day) not in (None, week.kind)
    }
    return replace(draft, changes=changes, choice=one.name, chosen_on=found, weeks=weeks)


def _rewritten(found: Situation, edited: core.Inputs) -> Mapping[str, Content]:
    plan = {s.key: s for s in found.inputs.plan}
    models: dict[tuple[object, ...], str] = {_shape(s): s.key for s in found.inputs.plan}
    made = {}
    for session in edited.plan:
        if session == plan.get(session.key) or _shape(session) not in models:
            continue
        model = found.written(models[_shape(session)])
        made[session.key] = replace(model, day=session.day, slot=session.slot)
    return made


def _shape(session: core.Session) -> tuple[object, ...]:
    return (session.role, session.mm, session.s, session.written_in, session.hard_mm, session.levels)


def choose(schedule: Schedule, name: str, coach: Coach) -> Proposal:
    """Keep an alternative as the proposal that waits. Raises Stale when it does not apply any more."""
    found = situation_of(schedule, timezone.now())
    one = next((a for a in alternatives(found.inputs) if a.name == name and a.name not in ELSEWHERE), None)
    if one is None:
        raise Stale("This choice does not apply any more.")
    draft = choice_draft(schedule, found, one)
    larger = set(draft.situation.rewritten)
    changes = tuple(
        replace(c, after=replace(c.after, pinned_by_id=coach.pk)) if c.key in larger else c
        for c in draft.changes
    )
    made = store([replace(draft, changes=changes)]).get(schedule.pk)
    if made is None:
        raise Stale("It would change nothing, or the schedule was changed meanwhile.")
    return made


def weeks_ahead(schedule: Schedule) -> list[date]:
    """First days of the weeks that could be lost."""
    today = schedule.athlete.today()
    rows = ScheduleWeek.objects.filter(schedule=schedule, to_version=None, first_day__gt=today - timedelta(7))
    return list(rows.order_by("first_day").values_list("first_day", flat=True))
