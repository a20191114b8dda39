"""Which weeks of a template an athlete runs, and on which dates: counted back from the race.

Template weeks begin on Monday, as they are written. A race from Thursday to Sunday lies in the last of them;
a race from Monday to Wednesday comes right after it. Missing weeks are taken from the base, then from the
build, never from peak, taper or race week; spare ones repeat the base's first cycle up to its recovery week.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta

from plans.training.fitting_types import CannotFit, FitRace
from plans.training.template import Template

MOST_WEEKS_AHEAD = 60
LAST_WEEKDAY_TO_BEGIN = 3  # from Friday on, a plan begins with the next week


@dataclass(frozen=True)
class DatedWeek:
    """A week of the template on its Monday. `repeat` is 0 for the copy nearest the race."""

    monday: date
    index: int
    repeat: int


def dated_weeks(
    template: Template, race: FitRace | None, start: date, joining: bool = False
) -> tuple[tuple[DatedWeek, ...], list[str]]:
    """The weeks to run and sentences about weeks left out or added. Raises CannotFit.

    `joining`: the plan is already under way, its first weeks are gone and stay as they are.
    """
    first = monday_to_begin(start)
    if race is None:
        indexes, told = tuple(range(len(template.weeks))), list[str]()
    else:
        last = monday_of_race_week(race.day)
        count = (last - first).days // 7 + 1
        _check_distance_in_time(template, race, count, start, joining)
        indexes, told = choose_weeks(template, count, joining)
        first = last - timedelta(weeks=len(indexes) - 1)
    seen: Counter[int] = Counter()
    repeats = []
    for index in reversed(indexes):
        repeats.append(seen[index])
        seen[index] += 1
    weeks = tuple(
        DatedWeek(first + timedelta(weeks=n), index, repeat)
        for n, (index, repeat) in enumerate(zip(indexes, reversed(repeats), strict=True))
    )
    return weeks, told


def monday_to_begin(start: date) -> date:
    """This week's Monday while at least four of its days are left, else the next."""
    monday = start - timedelta(days=start.weekday())
    return monday if start.weekday() <= LAST_WEEKDAY_TO_BEGIN else monday + timedelta(days=7)


def monday_of_race_week(day: date) -> date:
    monday = day - timedelta(days=day.weekday())
    return monday if day.weekday() >= 3 else monday - timedelta(days=7)


def _check_distance_in_time(
    template: Template, race: FitRace, count: int, start: date, joining: bool
) -> None:
    if race.day < start:
        raise CannotFit("race", f"The race on {race.day:%-d %B %Y} is in the past.")
    least = 1 if joining else template.least_weeks
    if joining and count < 1:
        raise CannotFit(
            "race", f"The race on {race.day:%-d %B %Y} is too near: nothing is fitted before it any more."
        )
    if count < least:
        weeks = "1 week" if count == 1 else f"{max(count, 0)} weeks"
        raise CannotFit(
            "race",
            f"The race on {race.day:%-d %B %Y} leaves {weeks}; this plan needs at least {least}."
            " Choose a later race, a shorter plan, or let the athlete join a plan that is under way.",
        )
    if count > MOST_WEEKS_AHEAD:
        raise CannotFit(
            "race",
            f"The race on {race.day:%-d %B %Y} is {count} weeks away; a schedule holds {MOST_WEEKS_AHEAD}."
            " Begin with a base block and fit this plan later.",
        )


def choose_weeks(template: Template, count: int, joining: bool = False) -> tuple[tuple[int, ...], list[str]]:
    """`count` template weeks in order, and sentences about what was left out or added. Raises CannotFit."""
    length = len(template.weeks)
    if count == length:
        return tuple(range(length)), []
    if count > length:
        chosen = _longer(template, count)
        if len(chosen) < count:
            weeks = _weeks(count - length)
            return chosen, [
                f"{weeks} more than the plan has, and no base to run again: it begins {weeks} later."
            ]
        return chosen, [
            f"{_weeks(count - length)} more than the plan has: {_weeks(count - length)} of its base"
            f" {'is' if count - length == 1 else 'are'} run again first."
        ]
    if joining:
        return tuple(range(length - count, length)), [
            f"Joins at week {length - count + 1} of {length}; the {_weeks(length - count)} gone"
            f" {'is' if length - count == 1 else 'are'} not made up."
        ]
    chosen = _shorter(template, count)
    gone = [n for n in range(length) if n not in chosen]
    return chosen, [f"{_weeks(len(gone))} fewer than the plan has: left out {_numbers(gone)}."]


def _shorter(template: Template, count: int) -> tuple[int, ...]:
    """Takes the earliest base weeks, then the earliest build weeks; a plan doesn't begin with a step back."""
    kinds = [week.kind for week in template.weeks]
    left = list(range(len(kinds)))
    last_taken: int | None = None
    while len(left) > count:
        takeable = [n for kind in ("base", "build", "recovery") for n in left if kinds[n] == kind]
        if kinds[left[0]] == "recovery":
            left.pop(0)
        elif takeable:
            last_taken = takeable[0]
            left.remove(last_taken)
        else:
            raise CannotFit(
                "race",
                f"{_weeks(count)} hold no more than peak, taper and race week of this plan. Choose a later race.",
            )
    if kinds[left[0]] == "recovery" and last_taken is not None and last_taken < left[0]:
        left[0] = last_taken
    return tuple(left)


def _longer(template: Template, count: int) -> tuple[int, ...]:
    """Puts whole base cycles in front; of a rest of one or two weeks, the first are run twice in a row."""
    kinds = [week.kind for week in template.weeks]
    base_end = next((n for n, kind in enumerate(kinds) if kind not in ("base", "recovery")), len(kinds))
    ends = next((n + 1 for n, kind in enumerate(kinds[:base_end]) if kind == "recovery"), base_end)
    cycle = list(range(ends)) or [n for n, kind in enumerate(kinds) if kind == "build"][:1]
    if not cycle:
        return tuple(range(len(kinds)))
    spare = count - len(kinds)
    full, rest = divmod(spare, len(cycle))
    weeks = list(range(len(kinds)))
    if kinds[cycle[-1]] == "recovery" and rest >= 3:
        weeks = cycle[: rest - 1] + cycle[-1:] + weeks
    else:
        weeks = [n for n in weeks for _ in range(2 if n in cycle[:rest] else 1)]
    return tuple(cycle * full + weeks)


def _weeks(number: int) -> str:
    return "1 week" if number == 1 else f"{number} weeks"


def _numbers(indexes: list[int]) -> str:
    numbers = [str(n + 1) for n in indexes]
    if len(numbers) == 1:
        return f"week {numbers[0]}"
    return f"weeks {', '.join(numbers[:-1])} and {numbers[-1]}"
