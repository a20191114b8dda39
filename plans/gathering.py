"""Who meets whom where: the group sessions of athletes, read for many at once in a constant number of queries.

Law: nobody is expected by a stored row unless a coach said so. Without a word of the coach it follows from the plan
and the free days each time it is read, so a schedule that changes needs nothing done here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from uuid import UUID

from athletes.models import DAY_FIELDS, Athlete, Availability, HealthNote, Membership, TimeOff
from plans.models import Attendance, GroupSession, SessionIssue
from plans.reading import RUNS, Item, Week, item_of, title_of

# Which session of a day is run with the group; a race never is.
WITH_THE_GROUP = {"quality": 0, "long": 1, "easy": 2}


@dataclass(frozen=True)
class Meeting:
    """A group session as one athlete meets it. `item` is their own session of that day, if there is one."""

    session: GroupSession
    item: Item | None
    by_plan: bool  # expected as the plan and the free days have it
    expected: bool
    came: bool | None

    def words(self, units: str = "km") -> str:
        """Time and place, and what the group runs where the athlete's own plan says something else."""
        words = place_words(self.session)
        if not self.session.steps or (self.item and self.item.steps == self.session.steps):
            return words
        return f"{words}. The group runs {title_of(self.session.steps, units)}"


def place_words(one: GroupSession, group: bool = True) -> str:
    """`18:30, the track, with Marathon A. Bring a torch`; of one that is called off, that it is."""
    time = f"{one.at:%H:%M}, " if one.at else ""
    whom = f", with {one.group.name}" if group else ""
    words = f"{time}{one.place}{whom}"
    if one.called_off:
        return f"Called off: {words}{f'. {one.note}' if one.note else ''}"
    return f"{words}{f'. {one.note}' if one.note else ''}"


def session_with_the_group(items: Iterable[Item]) -> Item | None:
    """The session of one day that is run with the group: quality before long before easy; None on a race day."""
    runs = [item for item in items if item.is_run]
    if any(item.role == "race" for item in runs):
        return None
    return min(runs, key=lambda item: (WITH_THE_GROUP[item.role], item.slot), default=None)


def running_on(athletes: Sequence[int], first: date) -> set[tuple[int, date]]:
    """Which of these athletes run on which day of the week by their plan, race days left out: as
    `session_with_the_group` has it, read for many without their sessions being made."""
    issues = SessionIssue.objects.filter(
        schedule__athlete__in=athletes,
        schedule__state="running",
        to_version=None,
        removed=False,
        day__range=(first, first + timedelta(6)),
        role__in=RUNS,
    )
    found = list(issues.order_by().values_list("schedule__athlete", "day", "role").distinct())
    racing = {(athlete, day) for athlete, day, role in found if role == "race"}
    return {(athlete, day) for athlete, day, _ in found} - racing


@dataclass(frozen=True)
class Meetings:
    """The group sessions of some athletes between two days, and what is known of who comes."""

    by_group: dict[tuple[int, date], list[GroupSession]] = field(default_factory=dict)
    groups: dict[int, list[int]] = field(default_factory=dict)
    said: dict[tuple[int, int], Attendance] = field(default_factory=dict)
    away: dict[int, list[TimeOff]] = field(default_factory=dict)
    resting: frozenset[int] = frozenset()

    def on(self, athlete: int, day: date, items: Iterable[Item]) -> list[Meeting]:
        """All meetings of an athlete's groups on a day, those they are not expected at too."""
        item = session_with_the_group(i for i in items if i.day == day)
        return [
            self.meeting(one, athlete, item)
            for group in self.groups.get(athlete, ())
            for one in self.by_group.get((group, day), ())
        ]

    def expected(self, athlete: int, day: date, items: Iterable[Item]) -> list[Meeting]:
        """Those meetings that the athlete is expected at, called off or not: a change of plans is news too."""
        return [one for one in self.on(athlete, day, items) if one.expected]

    def meeting(self, one: GroupSession, athlete: int, item: Item | None, free: bool = False) -> Meeting:
        """`free`: without a plan, whether the day is free."""
        said = self.said.get((one.pk, athlete))
        kept_away = self.is_away(athlete, one.day) or athlete in self.resting
        by_plan = (item is not None or free) and not kept_away
        expected = said.expected if said and said.expected is not None else by_plan
        return Meeting(one, item, by_plan, expected, said.came if said else None)

    def is_away(self, athlete: int, day: date) -> bool:
        return any(off.first_day <= day <= off.last_day for off in self.away.get(athlete, ()))


def with_places(weeks: Sequence[Week], meetings: Meetings, athlete: int, units: str) -> list[Week]:
    """These weeks with time and place of the group sessions that the athlete is expected at."""
    if not meetings.by_group:
        return list(weeks)
    return [_placed(week, meetings, athlete, units) for week in weeks]


def _placed(week: Week, meetings: Meetings, athlete: int, units: str) -> Week:
    where: dict[UUID, str] = {}
    loose: list[tuple[date, str]] = []
    for day, items in week.days:
        for one in meetings.expected(athlete, day, items):
            if one.item is None:
                loose.append((day, one.words(units)))
            else:
                key = one.item.session_id
                where[key] = " · ".join(filter(None, [where.get(key), one.words(units)]))
    placed = tuple(replace(item, where=where.get(item.session_id, "")) for item in week.items)
    return replace(week, items=placed, places=tuple(loose))


def place_of(issue: SessionIssue, athlete: Athlete) -> str:
    """Time and place of the group session that one session is run in; empty without one."""
    meetings = meetings_of([athlete], issue.day, issue.day)
    if issue.removed or not meetings.by_group:
        return ""
    same_day = SessionIssue.objects.filter(
        schedule=issue.schedule_id, day=issue.day, to_version=None, removed=False
    )
    items = [item_of(one, None, athlete.units) for one in same_day]
    found = meetings.expected(athlete.pk, issue.day, items)
    mine = [one for one in found if one.item and one.item.session_id == issue.session_id]
    return " · ".join(one.words(athlete.units) for one in mine)


def meetings_of(athletes: Sequence[Athlete | int], first: date, last: date) -> Meetings:
    """One query where no group meets, five where one does."""
    keys = [one if isinstance(one, int) else one.pk for one in athletes]
    held = GroupSession.objects.filter(group__athletes__in=keys, day__range=(first, last))
    rows = list(held.select_related("group").distinct())
    if not rows:
        return Meetings()
    return _meetings(rows, keys)


def meetings_at(rows: Sequence[GroupSession], athletes: Sequence[Athlete]) -> Meetings:
    """What is known of these group sessions and these athletes."""
    return _meetings(rows, [one.pk for one in athletes])


def _meetings(rows: Sequence[GroupSession], keys: Sequence[int]) -> Meetings:
    by_group: dict[tuple[int, date], list[GroupSession]] = defaultdict(list)
    for one in rows:
        by_group[one.group_id, one.day].append(one)
    first, last = min(one.day for one in rows), max(one.day for one in rows)
    groups: dict[int, list[int]] = defaultdict(list)
    within = Membership.objects.filter(athlete__in=keys, group__in={one.group_id for one in rows})
    for athlete, group in within.order_by("group__name").values_list("athlete_id", "group_id"):
        groups[athlete].append(group)
    away: dict[int, list[TimeOff]] = defaultdict(list)
    for off in TimeOff.objects.filter(athlete__in=keys, minutes=0, first_day__lte=last, last_day__gte=first):
        away[off.athlete_id].append(off)
    said = Attendance.objects.filter(group_session__in=rows, athlete__in=keys)
    resting = HealthNote.objects.filter(athlete__in=keys, closed__isnull=True, kind="rest")
    return Meetings(
        by_group,
        groups,
        {(one.group_session_id, one.athlete_id): one for one in said},
        away,
        frozenset(resting.values_list("athlete_id", flat=True)),
    )


def free_on(athletes: Sequence[Athlete], day: date) -> set[int]:
    """Keys of those who have minutes for running on that day of the week, as they said last before it."""
    name = DAY_FIELDS[day.weekday()]
    newest: dict[int, int] = {}
    rows = Availability.objects.filter(athlete__in=athletes, valid_from__lte=day).order_by("valid_from")
    for athlete, minutes in rows.values_list("athlete_id", name):
        newest[athlete] = minutes
    return {athlete for athlete, minutes in newest.items() if minutes}
