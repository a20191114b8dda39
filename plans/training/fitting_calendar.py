"""From a template's weeks to calendar weeks with runs that still seek their day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from fractions import Fraction
from functools import lru_cache

from athletes.running.units import Units
from plans.training.fitting_caps import Shape, shapes_of
from plans.training.fitting_runs import Run, Week
from plans.training.fitting_sizes import Measurer, as_written
from plans.training.fitting_types import FitAthlete, FitRace
from plans.training.fitting_weeks import DatedWeek
from plans.training.levels import resolved
from plans.training.sizing import scaled
from plans.training.steps import Extent, Session, Step, Words, leaves
from plans.training.template import RUNS, Amount, Template, TemplateSession, TemplateWeek, tree_of

HALF = Fraction(1, 2)
RACE_WEEKDAY = 6  # where a template names no day for its race


@dataclass(slots=True)
class Beside:
    """What isn't one of the week's first runs: strength, cross-training, a planned second run of a day."""

    session: TemplateSession
    repeat: int
    wished: date
    tree: Session
    mm: int
    s: int


@dataclass
class Calendar:
    """The weeks to fit, what goes beside the runs, and sentences about what never reached a day."""

    weeks: list[Week] = field(default_factory=list)
    beside: list[Beside] = field(default_factory=list)
    bent: list[str] = field(default_factory=list)
    not_begun: int = 0


def level_of(template: Template, athlete: FitAthlete) -> Fraction:
    """Where the athlete stands in written ranges: at the running the plan asks for 0, at half as much more 1."""
    if athlete.level is not None:
        return min(Fraction(1), max(Fraction(0), athlete.level))
    if not template.from_week_mm:
        return HALF
    return min(Fraction(1), max(Fraction(0), 2 * (Fraction(athlete.week_mm, template.from_week_mm) - 1)))


def place_in_range(template: Template, index: int, level: Fraction) -> Fraction:
    """0 for the low end of a range, 1 for its top: half by level, half by how far the plan has come.

    Recovery, taper and race week stay low.
    """
    kinds = [week.kind for week in template.weeks]
    if kinds[index] in ("recovery", "taper", "race"):
        return _in_twentieths(level * HALF)
    last = max((n for n, kind in enumerate(kinds) if kind in ("base", "build", "peak")), default=0)
    return _in_twentieths((level + Fraction(index, last or 1)) * HALF)


def _in_twentieths(place: Fraction) -> Fraction:
    """Fine enough for every range, coarse enough that many athletes share the same amounts."""
    return Fraction(round(place * 20), 20)


def resolved_week(
    week: TemplateWeek, at: Fraction, measurer: Measurer
) -> list[tuple[TemplateSession, Session]]:
    """The sessions of a template week with one amount for every range; shares of the week become amounts."""
    trees, shares = [], []
    for session in week.sessions:
        trees.append(resolved_tree(session, at, measurer.units))
        amount = session.amount
        shares.append(
            amount.low + at * (amount.high - amount.low) if amount and amount.unit == "percent" else 0
        )
    if any(shares):
        fixed = sum(
            measurer.amounts(tree)[0]
            for session, tree, share in zip(week.sessions, trees, shares, strict=True)
            if not share and session.role in RUNS and session.role != "race"
        )
        whole = Fraction(100 * fixed) / (100 - sum(shares))
        trees = [
            _with_share(tree, whole * share / 100) if share else tree
            for tree, share in zip(trees, shares, strict=True)
        ]
    return list(zip(week.sessions, trees, strict=True))


@lru_cache(maxsize=16384)
def resolved_tree(session: TemplateSession, at: Fraction, units: Units) -> Session:
    """One session with amounts for ranges, in the athlete's units; a share of the week is left as it stands."""
    tree = resolved(tree_of(session), at)
    if session.amount and session.amount.unit != "percent":
        tree = resolved(with_amount(tree, session.amount), at)
    return _in_units(tree, units)


def _in_units(tree: Session, units: Units) -> Session:
    """Easy and long runs in whole kilometres or half miles, whichever the athlete counts in."""
    written = {
        part.extent.unit
        for whole in tree.parts
        for part in leaves(whole)
        if isinstance(part, Step) and isinstance(part.extent, Extent) and part.extent.is_distance
    }
    other = "mi" if units == "km" else "km"
    return scaled(tree, Fraction(1), units) if other in written else tree


def _with_share(tree: Session, wish: Fraction) -> Session:
    """The session with so many millimetres, in whole kilometres, at least one."""
    mm = max(1, round(wish / 1_000_000)) * 1_000_000
    return with_amount(tree, Amount(mm, mm, "mm"))


def with_amount(tree: Session, amount: Amount) -> Session:
    """The session with its first easy or long piece made so long; added in front where there is none."""
    extent = Extent(amount.low, amount.high, "min" if amount.unit == "s" else "km")
    for place, part in enumerate(tree.parts):
        if isinstance(part, Words):
            distance, time = (extent, None) if extent.is_distance else (None, extent)
            return replace(tree, parts=(replace(part, distance=distance, time=time),))
        if isinstance(part, Step) and part.manners[:1] != ("strides",) and part.target is None:
            parts = (*tree.parts[:place], replace(part, extent=extent), *tree.parts[place + 1 :])
            return replace(tree, parts=parts)
    return replace(tree, parts=(Step(extent, ("easy",)), *tree.parts))


def build_calendar(
    template: Template,
    dated: Iterable[DatedWeek],
    athlete: FitAthlete,
    race: FitRace | None,
    start: date,
    measurer: Measurer,
) -> Calendar:
    """Every session of the dated weeks in the calendar week of the day it wishes for."""
    calendar = Calendar()
    level = level_of(template, athlete)
    written_weeks = [
        resolved_week(week, place_in_range(template, index, level), measurer)
        for index, week in enumerate(template.weeks)
    ]
    shapes = template_shapes(template, written_weeks, measurer)
    weeks: dict[date, Week] = {}
    votes: dict[date, Counter[DatedWeek]] = {}
    dated = tuple(dated)
    for week in dated:
        written = template.weeks[week.index]
        is_last = race is not None and week is dated[-1]
        weeks.setdefault(week.monday, Week(week.monday, written.kind, written.purpose, None, week.repeat))
        votes.setdefault(week.monday, Counter())[week] += 0
        days = _wished_days(written, week.monday, race if is_last else None, athlete.long_day)
        for (session, tree), wished in zip(written_weeks[week.index], days, strict=True):
            if session.role == "rest":
                continue
            first = wished - timedelta(days=wished.weekday())
            found = weeks.setdefault(first, Week(first, written.kind, written.purpose, None, week.repeat))
            votes.setdefault(first, Counter())[week] += 1
            _add(calendar, found, session, tree, wished, week.repeat, measurer)
    for first in _every_week(weeks):
        found = weeks.setdefault(first, Week(first, "recovery", "", None, 0))
        if first in votes:
            chosen = max(votes[first].items(), key=lambda vote: (vote[1], vote[0].monday))[0]
            written = template.weeks[chosen.index]
            found.kind, found.purpose = written.kind, written.purpose
            found.index, found.repeat = chosen.index, chosen.repeat
            found.shape = shapes[chosen.index]
        _count(found)
        calendar.weeks.append(found)
    _leave_out_gone(calendar, start)
    return calendar


def template_shapes(
    template: Template, weeks: Sequence[Sequence[tuple[TemplateSession, Session]]], measurer: Measurer
) -> list[Shape]:
    """How each week of the template stands to those before it, for this athlete."""
    volumes, races, longs = [], [], []
    for week in weeks:
        runs = [(s.role, measurer.amounts(tree)[0]) for s, tree in week if s.role in RUNS]
        volumes.append(sum(mm for role, mm in runs if role != "race"))
        races.append(sum(mm for role, mm in runs if role == "race"))
        longs.append(max((mm for role, mm in runs if role != "race"), default=0))
    kinds = [week.kind for week in template.weeks]
    return shapes_of(kinds, volumes, races, longs, template.from_week_mm, template.from_long_mm)


def _every_week(weeks: Iterable[date]) -> Iterator[date]:
    known = sorted(weeks)
    first = known[0]
    while first <= known[-1]:
        yield first
        first += timedelta(days=7)


def _add(
    calendar: Calendar,
    week: Week,
    session: TemplateSession,
    tree: Session,
    wished: date,
    repeat: int,
    measurer: Measurer,
) -> None:
    if session.role not in RUNS or session.second:
        mm, s, _ = measurer.amounts(tree)
        calendar.beside.append(Beside(session, repeat, wished, tree, mm if session.role in RUNS else 0, s))
        return
    smaller = as_written if session.role == "race" else measurer.smaller(tree)
    easy = measurer.easy(tree) if session.role == "quality" else None
    wish = None if session.day is None else wished
    week.runs.append(Run(session, repeat, session.role, wish, measurer.full(tree), smaller, easy, wished))


def _count(week: Week) -> None:
    """What the template wrote for the week, before anything is bent."""
    runs = [run for run in week.runs if run.role != "race"]
    week.planned_mm = sum(run.full.mm for run in runs)
    week.planned_long_mm = max((run.full.mm for run in runs if run.is_long), default=0)
    week.planned_hard_mm = sum(run.full.hard_mm for run in runs)
    week.race_mm = sum(run.full.mm for run in week.runs if run.role == "race")


def _leave_out_gone(calendar: Calendar, start: date) -> None:
    """Sessions wished for before the start are not invented, nor pressed into what is left of the week."""
    for week in calendar.weeks:
        here = [run for run in week.runs if run.day >= start]
        calendar.not_begun += len(week.runs) - len(here)
        week.runs = here
    calendar.beside = [one for one in calendar.beside if one.wished >= start]


def _wished_days(week: TemplateWeek, monday: date, race: FitRace | None, long_day: int | None) -> list[date]:
    """The date each session of a week wishes for; in race week counted from the race where it matters."""
    race_weekday = next(
        (s.day for s in week.sessions if s.role == "race" and s.day is not None), RACE_WEEKDAY
    )
    long = next((s.day for s in week.sessions if s.role == "long" and s.day is not None), None)
    days = []
    for session in week.sessions:
        day = session.day
        if race is not None and session.role == "race":
            days.append(race.day)
        elif race is not None and day == race_weekday - 1 and session.role == "easy":
            days.append(race.day - timedelta(days=1))
        else:
            if long_day is not None and long is not None and day is not None and not race:
                day = long_day if session.role == "long" else long if day == long_day else day
            wished = monday + timedelta(days=3 if day is None else day)
            days.append(min(wished, race.day - timedelta(days=1)) if race is not None else wished)
    return days
