"""Weeks before and after: the same weeks with other contents put in, and any two versions side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from uuid import UUID

from athletes.running.units import Units
from plans.issuing import Content
from plans.models import Schedule, SessionIssue
from plans.reading import Item, Week, title_of, week_of
from plans.telling import Difference


@dataclass(frozen=True)
class WeekPair:
    """One week as it was and as it becomes, with the sessions in it that differ."""

    before: Week
    after: Week
    differences: tuple[Difference, ...]


def item_with(pk: UUID, content: Content, units: Units, like: Item | None) -> Item:
    return Item(
        session_id=pk,
        day=content.day,
        slot=content.slot,
        role=content.role,
        key=content.role in ("long", "race") or (content.role == "quality" and not content.supporting),
        title=title_of(content.steps, units),
        steps=content.steps,
        purpose=content.purpose,
        planned_mm=content.planned_mm,
        planned_s=content.planned_s,
        changed=True,
        log=like.log if like else None,
    )


def with_contents(weeks: Sequence[Week], contents: Mapping[UUID, Content], units: Units) -> list[Week]:
    """The same weeks with these sessions standing as given; a removed one, or None's, is not in them."""
    known = {item.session_id: item for week in weeks for item in week.items}
    put = [
        item_with(pk, content, units, known.get(pk))
        for pk, content in contents.items()
        if not content.removed
    ]
    made = []
    for week in weeks:
        stay = [item for item in week.items if item.session_id not in contents]
        come = [item for item in put if 0 <= (item.day - week.first_day).days < 7]
        made.append(replace(week, items=tuple(sorted([*stay, *come], key=lambda i: (i.day, i.slot)))))
    return made


def pairs(
    weeks: Sequence[Week], differences: Mapping[UUID, Difference], units: Units, week_starts: int
) -> list[WeekPair]:
    """The weeks that differ, in order. `weeks` as they are read now; both sides are put in from the differences."""
    before = with_contents(weeks, {pk: d.before or _gone(d) for pk, d in differences.items()}, units)
    after = with_contents(weeks, {pk: d.after or _gone(d) for pk, d in differences.items()}, units)
    touched: dict[date, list[Difference]] = {}
    for difference in sorted(differences.values(), key=lambda d: (d.seen.day, d.seen.slot)):
        for day in {week_of(c.day, week_starts) for c in (difference.seen, difference.new)}:
            touched.setdefault(day, []).append(difference)
    return [
        WeekPair(b, a, tuple(touched[b.first_day]))
        for b, a in zip(before, after, strict=True)
        if b.first_day in touched
    ]


def _gone(difference: Difference) -> Content:
    return replace(difference.new, removed=True)


def versions_apart(schedule: Schedule, older: int, newer: int) -> dict[UUID, Difference]:
    """What differs between two versions of a schedule, by session."""
    touched = SessionIssue.objects.filter(schedule=schedule, from_version__gt=older, from_version__lte=newer)
    rows = SessionIssue.objects.filter(schedule=schedule, session__in=touched.values("session"))
    then, now = (
        {i.session_id: Content.of(i) for i in rows if _stood(i, number)} for number in (older, newer)
    )
    found = {pk: Difference(then.get(pk), content) for pk, content in now.items()}
    return {pk: difference for pk, difference in found.items() if difference.how != "same"}


def _stood(issue: SessionIssue, number: int) -> bool:
    return issue.from_version <= number and (issue.to_version is None or issue.to_version > number)
