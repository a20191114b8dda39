"""A proposal changed by hand: which changes to take, and what to write instead. What was typed stays typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from uuid import UUID

from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.deciding import ByHand
from plans.issuing import Content
from plans.measures import totals
from plans.models import Change, Proposal, SessionIssue
from plans.reading import card_of
from plans.training.intensity import role_of
from plans.training.shorthand import ShorthandError, parse


@dataclass(frozen=True)
class HandRow:
    """One change in the form: ticked or not, with the text and the day as they were typed."""

    change: Change
    before: Content
    after: Content
    take: bool
    text: str
    day: str
    text_error: str = ""
    day_error: str = ""
    edited: Content | None = None

    @property
    def wrong(self) -> bool:
        return bool(self.text_error or self.day_error)

    @property
    def touched(self) -> bool:
        return self.edited is not None or self.wrong


def shown_text(after: Content) -> str:
    return "" if after.removed else after.steps


def fresh_rows(changes: list[Change]) -> list[HandRow]:
    rows = []
    for change in changes:
        before, after = Content.from_json(change.before), Content.from_json(change.after)
        rows.append(HandRow(change, before, after, True, shown_text(after), after.day.isoformat()))
    return rows


def read_rows(proposal: Proposal, changes: list[Change], post: Mapping[str, str]) -> list[HandRow]:
    """The form as it was sent, each row checked. Nothing is stored."""
    schedule = proposal.schedule
    stored = card_of(schedule)
    card, units = stored.card if stored else None, _units(proposal)
    today = schedule.athlete.today()
    weeks = list(schedule.weeks.filter(to_version=None).order_by("first_day"))
    last = weeks[-1].first_day + timedelta(6) if weeks else today
    rows = []
    for row in fresh_rows(changes):
        pk = row.change.pk
        sent = replace(
            row,
            take=f"take-{pk}" in post,
            text=post.get(f"text-{pk}", row.text).strip()[:400],
            day=post.get(f"day-{pk}", row.day).strip()[:20],
        )
        rows.append(_checked(sent, card, units, today, last) if sent.take else sent)
    return rows


def _units(proposal: Proposal) -> Units:
    return "mi" if proposal.schedule.athlete.units == "mi" else "km"


def _checked(row: HandRow, card: PaceCard | None, units: Units, today: date, last: date) -> HandRow:
    after = row.after
    if (row.text, row.day) == (shown_text(after), after.day.isoformat()):
        return row
    day_error = ""
    try:
        day = date.fromisoformat(row.day)
    except ValueError:
        day, day_error = after.day, "This is not a day."
    if not day_error and not today <= day <= last:
        day_error = f"Choose a day from {today.day} {today:%B} to {last.day} {last:%B}."
    content, text_error = after, ""
    if row.text != shown_text(after):
        content, text_error = _written(row, card, units)
    if day_error or text_error:
        return replace(row, day_error=day_error, text_error=text_error)
    return replace(row, edited=replace(content, day=day))


def _written(row: HandRow, card: PaceCard | None, units: Units) -> tuple[Content, str]:
    if not row.text:
        return replace(row.after, removed=True, planned_mm=0, planned_s=0), ""
    try:
        steps = parse(row.text)
    except ShorthandError as error:
        return row.after, f"{error.message}{f' {error.suggestion}' if error.suggestion else ''}"
    amounts = totals(row.text, card, units) or (row.after.planned_mm, row.after.planned_s)
    return replace(
        row.after,
        role=role_of(steps),
        steps=row.text,
        planned_mm=amounts[0],
        planned_s=amounts[1],
        removed=False,
    ), ""


def hand_of(proposal: Proposal, rows: list[HandRow]) -> ByHand:
    """What the rows come to; a session that comes to a day gets a place there that nobody else has."""
    mine = {row.change.session_id for row in rows}
    taken: dict[date, set[int]] = {}
    live = SessionIssue.objects.filter(schedule=proposal.schedule_id, to_version=None, removed=False)
    for issue in live.exclude(session__in=mine):
        taken.setdefault(issue.day, set()).add(issue.slot)
    for row in rows:
        stays = row.before if not row.take else row.after if row.edited is None else None
        if stays is not None and not stays.removed:
            taken.setdefault(stays.day, set()).add(stays.slot)
    edited: dict[UUID, Content] = {}
    for row in rows:
        if row.take and row.edited is not None:
            used = taken.setdefault(row.edited.day, set())
            slot = next(n for n in range(20) if n not in used)
            used.add(slot)
            edited[row.change.session_id] = replace(row.edited, slot=slot)
    left = frozenset(row.change.session_id for row in rows if not row.take)
    return ByHand(left, edited)
