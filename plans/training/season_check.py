"""The guard rails on a season under way, as it stands or as a coach is about to change it.

Law: what lies behind counts as it was run, what lies ahead as it is written; only weeks still to be run are told.
A rail that a coach breaks by hand is named, never mended: the coach may have meant it. The rails themselves live in
`fitting_check`; here are those that need a calendar: free time, rest, holds, days after a break, a race close by.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from plans.training.fitting_caps import longest_declared
from plans.training.fitting_check import Broken, RunSeen, WeekSeen, check_weeks
from plans.training.placing import BEFORE_RACE
from plans.training.schedule import HARD, RUNS, Break, Inputs, Log, Session, Standing
from plans.training.schedule import Week as PlanWeek

SLACK_S = 5 * 60  # a run is not timed to the minute; common practice, no source


@dataclass(frozen=True)
class Stands:
    """One session where it stands now, or as it was run."""

    session: Session
    day: date
    mm: int
    s: int
    hard_mm: int
    behind: bool


def season_rails(inputs: Inputs, breaks: Sequence[Break] = ()) -> tuple[Broken, ...]:
    """Every guard rail that the weeks still to be run don't keep, in order of weeks; `week` counts from 0.

    `breaks`: as the re-balancing of the same inputs found them.
    """
    stands = sessions_standing(inputs)
    seen = [_seen(week, stands, inputs) for week in inputs.weeks]
    now = max(0, (inputs.today - inputs.weeks[0].first_day).days // 7) if inputs.weeks else 0
    declared = inputs.weekly_mm or (seen[0].mm if seen else 0)
    longest = inputs.longest_mm or max((run.mm for run in seen[0].training), default=0) if seen else 0
    reckoned = longest_declared(declared, longest)
    ahead = [*check_weeks(seen, inputs.rails, inputs.units, declared, reckoned, now)]
    ahead += _across(seen, now, inputs)
    for place, week in enumerate(seen):
        if place >= now:
            told = (*_free(week, inputs), *_rest(week, inputs), *_held(week, stands, inputs))
            told += (*_after_break(week, stands, inputs, breaks), *_race_near(week, inputs))
            ahead += [Broken(rail, place, f"{week.name}: {words}") for rail, words in told]
    return tuple(sorted(ahead, key=lambda one: one.week))


def sessions_standing(inputs: Inputs) -> list[Stands]:
    """Every session that stands or was run, and runs outside the plan."""
    logs = {log.key: log for log in inputs.logs if log.key is not None}
    found = []
    for session in inputs.plan:
        one = _stands(session, inputs.standing.get(session.key), logs.get(session.key), inputs)
        if one is not None:
            found.append(one)
    for log in inputs.logs:
        if log.key is None and log.outcome != "missed":
            found.append(
                Stands(
                    Session("", log.day, "easy", log.mm or 0, log.s or 0),
                    log.day,
                    log.mm or 0,
                    log.s or 0,
                    0,
                    True,
                )
            )
    return found


def _stands(session: Session, standing: Standing | None, log: Log | None, inputs: Inputs) -> Stands | None:
    day, mm, s = (standing.day, standing.mm, standing.s) if standing else (session.day, session.mm, session.s)
    if log is not None:
        if log.outcome == "missed" and (day <= inputs.today or log.day >= day):
            return None
        if log.outcome != "missed":
            told = mm if log.outcome == "done" else mm // 2
            ran = log.mm if log.mm is not None else told
            took = log.s if log.s is not None else (s * ran // mm if mm else s)
            hard = session.hard_mm * min(ran, session.mm) // session.mm if session.mm else 0
            return Stands(session, log.day, ran, took, hard, True)
    elif day < inputs.today and (inputs.unknown_from is None or day < inputs.unknown_from):
        return None  # nobody said a word, and its noon has passed: missed
    if standing is not None and standing.dropped_by:
        return None
    calm = standing is not None and (standing.turned_easy or standing.eased)
    hard = 0 if calm or not session.mm else session.hard_mm * min(mm, session.mm) // session.mm
    return Stands(session, day, mm, s, hard, day < inputs.today)


def _seen(week: PlanWeek, stands: Sequence[Stands], inputs: Inputs) -> WeekSeen:
    eased = {key for key, one in inputs.standing.items() if one.turned_easy}
    runs = tuple(
        RunSeen(
            one.day,
            "easy" if one.session.key in eased else one.session.role,
            one.mm,
            # An hour more than planned last week is no reason to warn of the week's longest run again.
            0 if one.behind else one.s,
            one.hard_mm,
        )
        for one in stands
        if week.first_day <= one.day <= week.last_day and one.session.role in RUNS
    )
    return WeekSeen(week.first_day, week.kind, f"Week of {week.first_day.day} {week.first_day:%B}", runs)


Words = Iterator[tuple[str, str]]


def _across(seen: Sequence[WeekSeen], now: int, inputs: Inputs) -> Iterator[Broken]:
    """A hard day of this week too close to the last one of the week gone by, which itself is not told any more."""
    if not 0 < now < len(seen):
        return
    before, after = ([run.day for run in seen[n].runs if run.role in HARD] for n in (now - 1, now))
    if not (before and after) or min(after) < inputs.today:
        return
    if (min(after) - max(before)).days < inputs.rails.gap_days:
        words = f"hard days on {max(before):%A} and {min(after):%A} are too close"
        yield Broken("gap_days", now, f"{seen[now].name}: {words}")


def _free(week: WeekSeen, inputs: Inputs) -> Words:
    """Free minutes of each day still to come, against what its runs take."""
    for day in _days(week, inputs.today):
        need = sum(run.s for run in week.runs if run.day == day and run.role != "race")
        free = inputs.minutes.get(day)
        if free is None or not need or need <= free * 60 + SLACK_S:
            continue
        takes = f"about {-(-need // 60)} min"
        words = f"{takes}, and {free} min are free" if free else f"{takes}, and the day isn't free"
        yield "free", f"{_on(day)} takes {words}"


def _rest(week: WeekSeen, inputs: Inputs) -> Words:
    days = len({run.day for run in week.runs})
    if 7 - days < inputs.rails.min_rest and any(run.day >= inputs.today for run in week.runs):
        left = 7 - days
        said = "no day" if not left else f"{left} day" + "s" * (left != 1)
        yield "min_rest", f"{said} without a run; the guard rail is {inputs.rails.min_rest}"


def _held(week: WeekSeen, stands: Sequence[Stands], inputs: Inputs) -> Words:
    for hold in inputs.holds:
        if hold.closed is not None:
            continue
        for one in _ahead(week, stands, inputs.today):
            if hold.stops_running and one.session.role != "race":
                yield "hold", f"{_on(one.day)} has a run, and a hold allows none until a coach clears it"
            elif not hold.stops_running and one.hard_mm:
                yield "hold", f"{_on(one.day)} is hard, and a hold allows easy running only"


def _after_break(week: WeekSeen, stands: Sequence[Stands], inputs: Inputs, breaks: Sequence[Break]) -> Words:
    for off in breaks:
        calm = inputs.rails.calm_days(off.days)
        until = off.back + timedelta(days=calm) if off.back else None
        for one in _ahead(week, stands, inputs.today):
            if until and off.back and off.back <= one.day < until and one.hard_mm:
                yield (
                    "calm",
                    f"{_on(one.day)} is hard; after {off.days} days off the guard rail is {calm} days"
                    f" without, until {_on(until)}",
                )


def _race_near(week: WeekSeen, inputs: Inputs) -> Words:
    races = [s.day for s in inputs.plan if s.role == "race"]
    for run in week.runs:
        gap = min(((race - run.day).days for race in races if race > run.day), default=99)
        if run.day >= inputs.today and gap <= BEFORE_RACE and run.role in ("quality", "long"):
            noun = "quality session" if run.role == "quality" else "long run"
            yield "race_near", f"{noun} on {run.day:%A}, {gap} day{'s' * (gap != 1)} before a race"


def _ahead(week: WeekSeen, stands: Sequence[Stands], today: date) -> Iterator[Stands]:
    days = _days(week, today)
    return (one for one in stands if one.day in days and not one.behind and one.session.role in RUNS)


def _days(week: WeekSeen, today: date) -> list[date]:
    days = [week.first_day + timedelta(days=n) for n in range(7)]
    return [day for day in days if day >= today]


def _on(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
