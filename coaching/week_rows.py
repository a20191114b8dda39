"""Who does what which day: the week of the practice as rows of seven days, with the group sessions over them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from athletes.models import Athlete, Group, TimeOff
from plans.gathering import Meetings, running_on
from plans.models import GroupSession, Schedule
from plans.reading import Item, Week, weeks_of_many


@dataclass(frozen=True)
class DayCell:
    """What one athlete does on one day. `with_group` are the group sessions they are expected at."""

    day: date
    items: tuple[Item, ...]
    extra: int  # runs that were not in the plan
    with_group: tuple[str, ...]
    off: bool


@dataclass(frozen=True)
class AthleteRow:
    athlete: Athlete
    cells: tuple[DayCell, ...]
    planned_mm: int
    run_mm: int
    has_plan: bool


@dataclass(frozen=True)
class MeetingCell:
    """A group session over the columns, and how many of those shown are expected."""

    one: GroupSession
    expected: int
    came: int
    told: bool  # whether somebody wrote down who came


def short_words(one: GroupSession) -> str:
    """`18:30 Marathon A`: the place stands over the day."""
    time = f"{one.at:%H:%M} " if one.at else ""
    return f"{'called off: ' if one.called_off else ''}{time}{one.group.name}"


def days_of(first: date) -> list[date]:
    return [first + timedelta(n) for n in range(7)]


def items_by_day(schedules: Sequence[Schedule], first: date) -> dict[int, list[Week]]:
    """The weeks of each athlete (by key) that touch the seven days from `first`."""
    weeks = weeks_of_many(schedules, first, first + timedelta(6))
    return {s.athlete_id: weeks[s.pk] for s in schedules}


def rows_of(athletes: Sequence[Athlete], first: date, meetings: Meetings) -> list[AthleteRow]:
    """A row an athlete, in a constant number of queries. `meetings` are theirs in this week."""
    running = Schedule.objects.filter(athlete__in=athletes, state="running").select_related("athlete")
    weeks = items_by_day(list(running), first)
    off = days_off(athletes, first)
    return [_row(one, weeks.get(one.pk), first, meetings, off) for one in athletes]


def days_off(athletes: Sequence[Athlete], first: date) -> set[tuple[int, date]]:
    """Who can't run at all on which day of the week."""
    last = first + timedelta(6)
    away = TimeOff.objects.filter(athlete__in=athletes, minutes=0, first_day__lte=last, last_day__gte=first)
    return {
        (one.athlete_id, day)
        for one in away
        for day in days_of(first)
        if one.first_day <= day <= one.last_day
    }


def _row(
    athlete: Athlete, weeks: list[Week] | None, first: date, meetings: Meetings, off: set[tuple[int, date]]
) -> AthleteRow:
    days = days_of(first)
    within = set(days)
    by_day: dict[date, list[Item]] = defaultdict(list)
    extra: Counter[date] = Counter()
    run_mm = 0
    for week in weeks or ():
        for item in week.items:
            if item.day in within and item.role != "rest":
                by_day[item.day].append(item)
        for log in week.extra:
            if log.day in within:
                extra[log.day] += 1
                run_mm += log.distance_mm or 0
    items = [item for found in by_day.values() for item in found]
    cells = tuple(
        DayCell(
            day,
            tuple(by_day[day]),
            extra[day],
            tuple(short_words(m.session) for m in meetings.expected(athlete.pk, day, by_day[day])),
            (athlete.pk, day) in off,
        )
        for day in days
    )
    planned = sum(item.planned_mm for item in items if item.is_run)
    return AthleteRow(athlete, cells, planned, run_mm + sum(item.run_mm for item in items), weeks is not None)


def meeting_cells(
    groups: Sequence[Group], athletes: Sequence[int], meetings: Meetings, first: date
) -> list[tuple[date, list[MeetingCell]]]:
    """Each day with the group sessions of these groups, and how many of these athletes come."""
    expected: Counter[int] = Counter()
    running = running_on(athletes, first) if meetings.by_group else set()
    for athlete, theirs in meetings.groups.items():
        for (group, day), planned in meetings.by_group.items():
            for one in planned if group in theirs else ():
                free = (athlete, day) in running
                expected[one.pk] += meetings.meeting(one, athlete, None, free).expected
    came = Counter(pk for (pk, _), said in meetings.said.items() if said.came)
    told = {pk for (pk, _), said in meetings.said.items() if said.came is not None}
    held = GroupSession.objects.filter(group__in=groups, day__range=(first, first + timedelta(6)))
    by_day: dict[date, list[MeetingCell]] = defaultdict(list)
    for one in held.select_related("group"):
        by_day[one.day].append(MeetingCell(one, expected[one.pk], came[one.pk], one.pk in told))
    return [(day, by_day[day]) for day in days_of(first)]
