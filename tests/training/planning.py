"""A board to write plans on and to read results from, for the planner's tests.

A week is one line: `build: Tue Q10 Wed E8 Thu E8s Sat E50' Sun L22(8)`.
E easy, L long, Q quality, R race; a number in km, or minutes with '; (8) hard km inside;
suffixes: s supporting, ! pinned, + put in after issue, and 2 slots by writing a day twice.
Easy and long runs take 6:00 a km, quality 5:30; a Q10 is 4 km of warming up and cooling down and
6 km of repeats, so about 80 % is 4 + 5 and about 60 % is 4 + 4.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from plans.training.replanning import rebalance
from plans.training.schedule import Inputs, Level, Log, Placed, Result, Session, Standing, Week

KM = 1_000_000
MONDAY = date(2026, 1, 5)
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
ROLES = {"E": "easy", "L": "long", "Q": "quality", "R": "race"}
RUN = re.compile(r"(Mon|Tue|Wed|Thu|Fri|Sat|Sun) ([ELQR])(\d+)('?)(?:\((\d+)\))?([s!+]*)")


def day(week: int, name: str = "Mon") -> date:
    """The date of a day of a week; weeks count from 1."""
    return MONDAY + timedelta(days=7 * (week - 1) + DAYS.index(name))


def write(*lines: str, **given) -> Inputs:
    """Inputs from one line a week. A line may begin with `3x` to stand for three weeks."""
    weeks, plan = [], []
    for line in lines:
        times, rest = re.match(r"(?:(\d+)x )?(.*)", line).groups()
        for _ in range(int(times or 1)):
            kind, runs = rest.split(":", 1)
            number = len(weeks) + 1
            weeks.append(Week(day(number), kind.strip()))
            plan += _week(number, runs)
    given.setdefault("today", MONDAY)
    return Inputs(tuple(weeks), tuple(plan), **given)


def _week(number: int, runs: str) -> list[Session]:
    found, seen = [], {}
    assert RUN.sub("", runs).strip() == "", f"not understood: {RUN.sub('', runs)!r}"
    for name, letter, amount, minutes, hard, marks in RUN.findall(runs):
        slot = seen.get(name, 0)
        seen[name] = slot + 1
        key = f"{number}{name}" + ("b" if slot else "")
        found.append(_session(key, day(number, name), letter, int(amount), bool(minutes), hard, marks, slot))
    return found


def _session(key, when, letter, amount, in_time, hard, marks, slot) -> Session:
    mm, s = (amount * 60 * KM // 360, amount * 60) if in_time else (amount * KM, amount * 360)
    levels: tuple[Level, ...] = ()
    hard_mm = int(hard or 0) * KM
    if letter == "Q":
        s = s if in_time else amount * 330
        work = max(0, amount - 4)
        rows = [(Fraction(1), amount, work)]
        for share in (Fraction(4, 5), Fraction(3, 5)):
            part = -(-work * share.numerator // share.denominator)
            rows.append((share, amount - work + part, part))
        if in_time:
            levels = tuple(Level(f, n * 60 * KM // 330, n * 60, w * 60 * KM // 330) for f, n, w in rows)
            mm = levels[0].mm
        else:
            levels = tuple(Level(f, n * KM, n * 330, w * KM) for f, n, w in rows)
        hard_mm = levels[0].hard_mm
    return Session(
        key, when, ROLES[letter], mm, s, slot, "time" if in_time else "distance", levels=levels, hard_mm=hard_mm,
        supporting="s" in marks, pinned="!" in marks, added="+" in marks, s_per_km=360,
    )  # fmt: skip


def done_until(inputs: Inputs, until: date) -> Inputs:
    """Everything before this day was run as advised, and it is that day now."""
    known = {log.key: log.day for log in sorted(inputs.logs, key=lambda log: log.day)}
    logs = list(inputs.logs)
    for s in inputs.plan:
        standing = inputs.standing.get(s.key)
        stood = standing.day if standing else s.day
        told = s.key in known and known[s.key] >= stood  # an earlier log was about another day
        if stood < until and not told and not (standing and standing.dropped_by):
            mm, seconds = (standing.mm, standing.s) if standing else (s.mm, s.s)
            logs.append(Log(stood, s.key, "done", mm, seconds))
    return replace(inputs, logs=tuple(logs), today=until)


def missed(
    inputs: Inputs, first: date, last: date | None = None, why: str = "", roles: str = "ELQ"
) -> Inputs:
    """Runs from `first` to `last` were missed; `roles` limits which."""
    wanted = {ROLES[r] for r in roles}
    logs = [
        Log(s.day, s.key, "missed", reason=why)
        for s in inputs.plan
        if first <= s.day <= (last or first) and s.role in wanted
    ]
    return replace(inputs, logs=(*inputs.logs, *logs))


def ran(inputs: Inputs, key: str, km: float, when: date | None = None) -> Inputs:
    """One session was run over another distance."""
    s = next(s for s in inputs.plan if s.key == key)
    log = Log(when or s.day, key, "part", int(km * KM), int(km * 360))
    return replace(inputs, logs=(*inputs.logs, log))


def issued(inputs: Inputs, result: Result) -> Inputs:
    """What the coach's acceptance stores: the result stands from now on."""
    standing = dict(inputs.standing)
    for placed in result.sessions:
        standing[placed.key] = placed.as_standing()
    return replace(inputs, standing=standing)


def follow(inputs: Inputs, until: date) -> Inputs:
    """Re-balance, accept, and do exactly as told until this day."""
    return done_until(issued(inputs, rebalance(inputs)), until)


def week_totals(result: Result) -> list[int]:
    """Allowed kilometres (or minutes), week by week."""
    return [w.allowed // (KM if result.measured_in == "mm" else 60) for w in result.weeks]


def table(inputs: Inputs, result: Result, weeks: int = 99) -> str:
    """The board after re-balancing: a line for each changed week, `Tue Q10>E5` before and after."""
    sessions = {s.key: s for s in inputs.plan}
    lines = []
    for n, week in enumerate(inputs.weeks[:weeks], 1):
        there = [p for p in result.sessions if 0 <= (sessions[p.key].day - week.first_day).days < 7]
        if not any(p.reason for p in there):
            continue
        there.sort(key=lambda p: (sessions[p.key].day, sessions[p.key].slot))
        lines.append(f"{n:2} {week.kind:8} " + "  ".join(_cell(sessions[p.key], p) for p in there))
    return "\n".join(lines) or "as planned"


def _cell(s: Session, p: Placed) -> str:
    letter = {v: k for k, v in ROLES.items()}[s.role]
    there = DAYS[s.day.weekday()] + (f">{DAYS[p.day.weekday()]}" if p.day != s.day and not p.dropped else "")
    hard = f"({s.hard_mm // KM})" if s.hard_mm and s.role == "long" else ""
    text = f"{there} {letter}{_amount(s, s.mm, s.s)}{hard}"
    if p.dropped:
        return text + ">out"
    after = _amount(s, p.mm, p.s)
    if p.turned_easy:
        return f"{text}>E{after}"
    if p.level != 1:
        text += f">{after}@{int(p.level * 100)}"
    elif after != _amount(s, s.mm, s.s):
        text += f">{after}"
    return text + (" eased" if p.eased else "")


def _amount(s: Session, mm: int, seconds: int) -> str:
    if s.written_in == "time":
        return f"{seconds // 60}'"
    km = Fraction(mm, KM)
    return str(km.numerator) if km.denominator == 1 else f"{float(km):.2f}"


def standing_of(placed: Placed) -> Standing:
    return placed.as_standing()
