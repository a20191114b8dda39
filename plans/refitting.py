"""Fit what lies ahead of a running schedule anew: to a changed template, another race date, or after a pause.

A refit is a proposal like any other, but what it issues is a new plan: re-balancing measures against it from then
on. What was run, what is pinned and today stay as they are. Sessions are matched by the template session's key.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, timedelta
from uuid import UUID

from athletes.models import Athlete
from athletes.running.units import Units
from plans.assigning import Aim, describe, rails_for
from plans.issuing import Content
from plans.models import (
    Log,
    Schedule,
    SchedulePart,
    ScheduleWeek,
    Session,
    SessionIssue,
    TemplateVersion,
)
from plans.reading import card_of, week_of
from plans.telling import Difference, summary
from plans.training.fitting import fit, monday_to_begin
from plans.training.fitting_types import CannotFit, FitRace, Fitted, FittedSession
from plans.training.template import Template


@dataclass(frozen=True)
class Slot:
    """One session of a refit: its identity (None: it gets one), what stands, what it becomes, and why."""

    session: UUID | None
    template_key: UUID | None
    before: Content | None
    after: Content
    sentence: str


@dataclass(frozen=True)
class Refit:
    """What fitting anew would change. Nothing is stored yet."""

    schedule: Schedule
    version: TemplateVersion
    aim: Aim
    from_day: date
    fitted: Fitted
    slots: tuple[Slot, ...]
    weeks: Mapping[date, tuple[str, str] | None]
    why: str
    appended: bool = False  # a plan put behind the schedule; everything before `from_day` stays as it is

    @property
    def digest(self) -> str:
        parts = [(str(s.session), str(s.template_key), s.after.as_json()) for s in self.slots]
        weeks = sorted((day.isoformat(), week) for day, week in self.weeks.items())
        said = json.dumps([parts, weeks, self.version.pk], default=str, sort_keys=True)
        return hashlib.sha256(said.encode()).hexdigest()

    @property
    def summary(self) -> str:
        units: Units = "mi" if self.schedule.athlete.units == "mi" else "km"
        told = [Difference(s.before, s.after, s.sentence) for s in self.slots]
        return summary(told, units, self.schedule.week_starts)


def aim_of(schedule: Schedule) -> Aim:
    """What the schedule, or the part of it that is under way, leads to now."""
    part = part_under_way(schedule, schedule.athlete.today())
    entry = part.race_entry if part else schedule.race_entry
    if entry is None:
        return Aim()
    return Aim(entry.race.name, entry.race.day, entry.race.distance_mm, entry.goal_ms)


def part_under_way(schedule: Schedule, today: date) -> SchedulePart | None:
    """The last part that has begun, else the first; None where nothing was appended."""
    parts = list(schedule.parts.select_related("race_entry__race"))
    begun = [part for part in parts if part.first_day <= today]
    return begun[-1] if begun else next(iter(parts), None)


def next_part_begins(schedule: Schedule, today: date) -> date | None:
    """The first day of what was appended behind the part under way."""
    here = part_under_way(schedule, today)
    later = [part.first_day for part in schedule.parts.all() if here and part.first_day > here.first_day]
    return min(later, default=None)


def refit(
    schedule: Schedule,
    version: TemplateVersion,
    aim: Aim,
    today: date,
    why: str,
    *,
    instead_of: TemplateVersion | None = None,
) -> Refit:
    """Fit the days after today anew. Raises CannotFit with a sentence and the place to mend it.

    `instead_of`: the version it was fitted from. Then only what this version fits otherwise than that one is
    changed: a coach who changed one session proposes one change, not everything that fitting would say today.
    """
    athlete = schedule.athlete
    card = card_of(schedule)
    free = athlete.availabilities.filter(valid_from__lte=today).last() or athlete.availabilities.first()
    if card is None:
        raise CannotFit("athlete", "There is no pace card: the schedule was issued without one.")
    if free is None:
        raise CannotFit("availability", "No free days are known.")
    start = today + timedelta(1)
    race = FitRace(aim.race_day, aim.race_mm, aim.race_name) if aim.race_day else None
    until = next_part_begins(schedule, today)
    if race is not None and until is not None and race.day >= until:
        raise CannotFit(
            "race",
            f"The plan appended behind it begins on {until.day} {until:%B %Y}. Choose a day before, or undo the"
            " appended plan first and append it again.",
        )
    races = tune_ups_of(athlete, start, aim.race_day or until)
    person = describe(athlete, card.card, free.minutes(), today, tune_ups=races)
    person = replace(person, week_starts=schedule.week_starts)
    rails = rails_for(athlete, version)

    def fitted_from(one: TemplateVersion) -> Fitted:
        plan = one.plan if race else _rest_of(one.plan, schedule, start)
        return fit(plan, person, race, rails, today, start=start, joining=True)

    fitted = fitted_from(version)
    former: Fitted | None = None
    if instead_of is not None and instead_of.pk != version.pk:
        with suppress(CannotFit):
            former = fitted_from(instead_of)
    from_day = max(start, monday_to_begin(start))
    slots = tuple(_slots(schedule, fitted, former, from_day, until))
    weeks = _weeks(schedule, fitted, former, from_day, until)
    return Refit(schedule, version, aim, from_day, fitted, slots, weeks, why)


def _rest_of(plan: Template, schedule: Schedule, start: date) -> Template:
    """A block without a race goes on at the week it has come to."""
    part = part_under_way(schedule, start)
    began = part.first_day if part else schedule.first_day
    gone = max(0, (monday_to_begin(start) - monday_to_begin(began)).days // 7)
    if gone >= len(plan.weeks):
        raise CannotFit("template", f"The {len(plan.weeks)} weeks of “{plan.name}” are over.")
    return replace(plan, weeks=plan.weeks[gone:], least_weeks=1)


def tune_ups_of(athlete: Athlete, start: date, until: date | None) -> tuple[FitRace, ...]:
    entries = athlete.race_entries.filter(purpose="tune-up", race__day__gte=start).select_related("race")
    races = [entry.race for entry in entries if until is None or entry.race.day < until]
    return tuple(FitRace(race.day, race.distance_mm, race.name) for race in races)


def _weeks(
    schedule: Schedule, fitted: Fitted, former: Fitted | None, from_day: date, until: date | None
) -> dict[date, tuple[str, str] | None]:
    """Weeks that change their kind or purpose, come new, or are no longer part of it."""
    first = week_of(from_day, schedule.week_starts)
    rows = ScheduleWeek.objects.filter(schedule=schedule, to_version=None, first_day__gte=first)
    stand = {row.first_day: (row.kind, row.purpose) for row in rows if not until or row.first_day < until}
    become: dict[date, tuple[str, str]] = {
        week.first_day: (week.kind, week.purpose[:400]) for week in fitted.weeks if week.first_day >= first
    }
    same = {
        week.first_day for week in former.weeks if become.get(week.first_day) == (week.kind, week.purpose[:400])
    } if former else set()  # fmt: skip
    return {
        day: become.get(day)
        for day in sorted(stand.keys() | become.keys())
        if stand.get(day) != become.get(day) and day not in same
    }


def _slots(
    schedule: Schedule, fitted: Fitted, former: Fitted | None, from_day: date, until: date | None
) -> Iterable[Slot]:
    """Every session ahead that changes: matched by template key, then by order of days."""
    ahead, taken, done = _ahead(schedule, from_day, until)
    wished = _by_key(fitted, from_day, done)
    before = _by_key(former, from_day, done) if former else None
    pairs: list[tuple[UUID | None, Session | None, SessionIssue | None, FittedSession | None]] = []
    for key in sorted({*ahead, *wished}, key=str):
        theirs = list(wished.get(key, []))
        if before is not None and theirs == before.get(key, []):
            # Both versions say the same of it: what stands, stands.
            taken |= {(i.day, i.slot) for _, i in ahead.get(key, []) if i is not None and not i.removed}
            continue
        for known, stood in ahead.get(key, []):
            found = next((w for w in theirs if w.repeat == known.repeat), theirs[0] if theirs else None)
            if found is not None:
                theirs.remove(found)
            pairs.append((key, known, stood, found))
        pairs += [(key, None, None, left) for left in theirs]
    for key, session, issue, match in pairs:
        if session is not None:
            slot = _changed(session, issue, match, taken)
            if slot is not None:
                yield slot
        elif match is not None:
            content = _free_slot(content_of(match), taken)
            words = match.purpose if key is None else "New: the plan as it stands now has it."
            yield Slot(None, key, None, content, words or "A race on the way.")


def _by_key(
    fitted: Fitted, from_day: date, done: Mapping[UUID, list[int]]
) -> dict[UUID | None, list[FittedSession]]:
    found: dict[UUID | None, list[FittedSession]] = defaultdict(list)
    for one in fitted.sessions:
        key = UUID(one.template_key) if one.template_key else None
        if one.day >= from_day:
            found[key].append(one)
    for settled, repeats in done.items():
        theirs = found[settled]
        for repeat in repeats:  # one copy for each that is settled; a week run twice has another
            match = next((one for one in theirs if one.repeat == repeat), theirs[0] if theirs else None)
            if match is not None:
                theirs.remove(match)
    return found


Ahead = dict[UUID | None, list[tuple[Session, SessionIssue | None]]]


def _ahead(
    schedule: Schedule, from_day: date, until: date | None
) -> tuple[Ahead, set[tuple[date, int]], dict[UUID, list[int]]]:
    """Identities that may be written anew by template key; places that stay taken; keys that are settled.

    Settled is what was logged already or pinned by hand. What a coach added by hand stays too.
    """
    issues = {
        issue.session_id: issue for issue in SessionIssue.objects.filter(schedule=schedule, to_version=None)
    }
    logged = set(
        Log.objects.standing().filter(session__schedule=schedule).values_list("session_id", flat=True)
    )
    ahead: Ahead = defaultdict(list)
    taken: set[tuple[date, int]] = set()
    done: dict[UUID, list[int]] = defaultdict(list)
    for session in Session.objects.filter(schedule=schedule).order_by("repeat"):
        issue = issues.get(session.pk)
        if issue is not None and (issue.day < from_day or (until is not None and issue.day >= until)):
            continue
        tune_up = issue is not None and session.template_key is None and issue.role == "race"
        stays = issue is not None and (
            session.pk in logged
            or issue.pinned_by_id is not None
            or (session.template_key is None and not tune_up)
        )
        if stays and issue is not None:
            if not issue.removed:
                taken.add((issue.day, issue.slot))
            if session.template_key:
                done[session.template_key].append(session.repeat)
        else:
            ahead[session.template_key].append((session, issue))
    return ahead, taken, done


def _changed(
    session: Session, issue: SessionIssue | None, match: FittedSession | None, taken: set[tuple[date, int]]
) -> Slot | None:
    """What becomes of one identity: other content, or no place in the plan any more. None: it stays."""
    before = Content.of(issue) if issue is not None else None
    if match is None:
        if before is None or before.removed:
            return None
        after = replace(before, removed=True, bent={})
        return Slot(
            session.pk, session.template_key, before, after, "Out: the plan as it stands now lacks it."
        )
    after = _free_slot(content_of(match), taken)
    if before == after:
        return None
    return Slot(session.pk, session.template_key, before, after, _because(before, after))


def _because(before: Content | None, after: Content) -> str:
    if before is None or before.removed:
        return "New: the plan as it stands now has it."
    said = []
    if before.day != after.day:
        said.append(
            f"from {before.day:%a} {before.day.day} {before.day:%b} to {after.day:%a} {after.day.day} {after.day:%b}"
        )
    if before.steps != after.steps:
        said.append("written as the plan says it now, fitted to what is run now")
    if before.purpose != after.purpose and not said:
        said.append("another purpose")
    words = "; ".join(said) or "counts again as the plan says"
    return f"{words[:1].upper()}{words[1:]}."


def content_of(one: FittedSession) -> Content:
    return Content(
        one.day,
        one.slot,
        one.role,
        one.supporting,
        one.text,
        one.purpose[:400],
        one.mm,
        one.s,
    )


def _free_slot(content: Content, taken: set[tuple[date, int]]) -> Content:
    """Beside a session that stays on this day, not in its place."""
    slot = content.slot
    while (content.day, slot) in taken:
        slot += 1
    taken.add((content.day, slot))
    return replace(content, slot=slot)
