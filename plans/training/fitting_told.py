"""What fitting bent, in sentences: few, the weightiest first, numbers in the athlete's units."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date

from athletes.running.units import Distance, Units, show_distance
from plans.training.fitting_calendar import Calendar
from plans.training.fitting_days import Days
from plans.training.fitting_runs import Run, Week
from plans.training.fitting_types import FitAthlete
from plans.training.template import DAY_NAMES, Template

NAMES = {"easy": "easy run", "long": "long run", "quality": "quality session", "race": "race"}
SLIGHT = 500_000  # mm; a peak this close to the plan's is not worth a sentence


def what_was_bent(template: Template, calendar: Calendar, days: Days) -> tuple[str, ...]:
    """Every change against the template that the coach should know before issuing."""
    told = [*calendar.bent, *_weakest(calendar, days), *_begin(calendar, days)]
    told += _left_out(calendar)
    told += _eased(calendar)
    told += _short_days(calendar, days.athlete)
    told += _moved(calendar)
    told += _away(calendar, days)
    told += _more_than_plan(template, days.athlete)
    if days.athlete.signed_by:
        told.append(f"Signed by {days.athlete.signed_by}.")
    return tuple(told)


def far(mm: int, units: Units) -> str:
    """A distance as this page tells it: whole km, or half miles."""
    step = 1_000_000 if units == "km" else 804_672
    whole = round(mm / step) * step
    return show_distance(Distance(whole or mm), units)


def _weakest(calendar: Calendar, days: Days) -> Iterable[str]:
    """The peak the athlete reaches instead of the plan's, with where it starts from and for how long."""
    athlete, units = days.athlete, days.athlete.units
    weeks = [week for week in calendar.weeks if week.planned_mm]
    count = sum(week.kind not in ("taper", "race") for week in weeks)
    if not count:
        return
    planned = max(week.planned_long_mm for week in weeks)
    longest = max((run.size.mm for week in weeks for run in week.training if run.is_long), default=0)
    if longest < planned - SLIGHT:
        why = _why_long(weeks, days) or (
            f"starts from {far(athlete.long_mm, units)} with {_many(count, 'week')} before the taper"
        )
        yield f"Peak long run {far(longest, units)} instead of {far(planned, units)}: {why}."
    top = max(week.planned_mm for week in weeks)
    reached = max(week.mm for week in weeks)
    if reached < top - 2 * SLIGHT:
        why = "the free days hold no more"
        if max(weeks, key=lambda week: week.planned_mm).held:
            why = f"starts from {far(athlete.week_mm, units)} a week with {_many(count, 'week')} before the taper"
        yield f"Peak week {far(reached, units)} instead of {far(top, units)}: {why}."


def _why_long(weeks: list[Week], days: Days) -> str:
    """The clock or the day's minutes, where the longest run has come up against them."""
    long = max(
        (r for w in weeks for r in w.training if r.is_long),
        key=lambda r: (r.full.mm, r.size.mm),
        default=None,
    )
    if long is None or long.chosen == 0:
        return ""
    following = long.options[long.chosen - 1]
    if following.s > days.rails.longest_s:
        return f"the guard rail ends runs at {_clock(days.rails.longest_s)}"
    if long.limit_s is not None and following.s > long.limit_s:
        return f"{long.day:%A} has {long.limit_s // 60} minutes"
    return ""


def _begin(calendar: Calendar, days: Days) -> Iterable[str]:
    if calendar.not_begun:
        yield (
            f"Begins on {days.start:%A %-d %B}: {_many(calendar.not_begun, 'session')} of the first week"
            f" {'lies' if calendar.not_begun == 1 else 'lie'} before that and"
            f" {'is' if calendar.not_begun == 1 else 'are'} not made up."
        )


def _runs(calendar: Calendar) -> Iterable[tuple[int, Run]]:
    for place, week in enumerate(calendar.weeks):
        for run in week.runs:
            yield place, run


def _left_out(calendar: Calendar) -> Iterable[str]:
    for why, words in (
        ("no_day", "no free day is left for"),
        ("cap", "the week's volume doesn't yet hold"),
    ):
        gone = [(place, run) for place, run in _runs(calendar) if run.gone and run.why == why]
        if gone:
            kinds = Counter(run.session.role for _, run in gone)
            what = " and ".join(_many(number, NAMES[role]) for role, number in sorted(kinds.items()))
            yield f"Left out, because {words} them: {what} ({_weeks(place for place, _ in gone)})."


def _eased(calendar: Calendar) -> Iterable[str]:
    for why, words in (
        ("spacing", "no day is far enough from the other hard days or a race"),
        ("cap", "the week is still too small for them"),
        ("break", "too soon after the days off"),
    ):
        eased = [place for place, run in _runs(calendar) if run.eased and run.why == why and not run.gone]
        if eased:
            yield f"{_many(len(eased), 'quality session')} run easy: {words} ({_weeks(eased)})."


def _short_days(calendar: Calendar, athlete: FitAthlete) -> Iterable[str]:
    cut = []
    for place, run in _runs(calendar):
        if run.gone or run.limit_s is None or run.chosen == 0:
            continue
        if run.options[run.chosen - 1].s > run.limit_s:
            cut.append((place, run))
    longs = [(place, run) for place, run in cut if run.is_long]
    if longs:
        _, worst = max(longs, key=lambda found: (found[1].full.mm - found[1].size.mm, -found[0]))
        assert worst.limit_s is not None
        yield (
            f"Long runs cut to the day's minutes in {_weeks(place for place, _ in longs)}, at most"
            f" {far(worst.size.mm, athlete.units)} instead of {far(worst.full.mm, athlete.units)}"
            f" ({worst.day:%A}, {worst.limit_s // 60} minutes)."
        )
    others = [place for place, run in cut if not run.is_long]
    if others:
        yield f"{_many(len(others), 'other run')} cut to the day's minutes ({_weeks(others)})."


def _moved(calendar: Calendar) -> Iterable[str]:
    """Long runs and quality on other days than wished, told once for each change of day."""
    moves: dict[tuple[str, int, int], list[int]] = {}
    for place, run in _runs(calendar):
        if run.role in ("long", "quality") and run.wished and not run.gone and run.day != run.wished:
            key = (run.role, run.wished.weekday(), run.day.weekday())
            moves.setdefault(key, []).append(place)
    for (role, wished, day), places in sorted(moves.items(), key=lambda move: (-len(move[1]), move[0])):
        yield (
            f"{NAMES[role].capitalize()} on {DAY_NAMES[day]} instead of {DAY_NAMES[wished]} ({_weeks(places)})."
        )


def _away(calendar: Calendar, days: Days) -> Iterable[str]:
    for off in days.breaks:
        share = int(days.rails.break_share(off.days) * 100)
        calm = days.rails.calm_days(off.days)
        yield (
            f"Away {_date(off.first_day)} to {_date(off.last_day)}: no runs, then a week of at most {share} % and"
            f" {_many(calm, 'day')} without quality."
        )


def _more_than_plan(template: Template, athlete: FitAthlete) -> Iterable[str]:
    start = template.from_week_mm
    if start and athlete.week_mm > start * 3 / 2:
        yield (
            f"Runs {far(athlete.week_mm, athlete.units)} a week now; this plan begins at"
            f" {far(start, athlete.units)}. Nothing is made larger than written: another plan may suit better."
        )


def _many(number: int, word: str) -> str:
    return f"1 {word}" if number == 1 else f"{number} {word}s"


def _weeks(places: Iterable[int]) -> str:
    """`week 3`, `weeks 3 to 6 and 9`, or `16 weeks` where they are many and scattered."""
    numbers = sorted({place + 1 for place in places})
    spans: list[list[int]] = []
    for number in numbers:
        if spans and spans[-1][1] == number - 1:
            spans[-1][1] = number
        else:
            spans.append([number, number])
    if len(spans) > 3:
        return f"{len(numbers)} weeks"
    parts = [
        str(a) if a == b else f"{a} and {b}" if b == a + 1 and len(spans) == 1 else f"{a} to {b}"
        for a, b in spans
    ]
    joined = parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
    return f"week{'s' if len(numbers) > 1 else ''} {joined}"


def _clock(seconds: int) -> str:
    return f"{seconds // 3600} h {seconds % 3600 // 60:02d}"


def _date(day: date) -> str:
    return f"{day:%-d %B}"
