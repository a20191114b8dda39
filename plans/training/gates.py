"""Gates: what the planner refuses to pretend. A verdict is told; it changes no session."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from fractions import Fraction

from plans.training.caps import LongRuns, holds_on
from plans.training.ledger import BEFORE, Ledger
from plans.training.reasons import amount_words
from plans.training.rising import Number
from plans.training.schedule import RUNS, Verdict

REACHABLE = Fraction(60, 100)
AT_RISK = Fraction(85, 100)
CREDIT_MARGIN = Fraction(5, 100)
SILENT_RUN_DAYS = 3
SHOWN_DAYS = 14


def silent_days(ledger: Ledger) -> int:
    """Run days in a row, up to now, about which nothing was said."""
    told = {log.day.toordinal() for log in ledger.inputs.logs}
    said: dict[int, bool] = {}
    for item in ledger.items:
        if item.day < ledger.today and item.state in ("done", "missed", "again"):
            said[item.day] = said.get(item.day, False) or item.logged
    last = max((d for d in told if d < ledger.today), default=0)
    return sum(1 for day, spoken in said.items() if not spoken and day > last)


def verdicts(ledger: Ledger, longs: LongRuns, run: Sequence[Number], changed: bool) -> tuple[Verdict, ...]:
    """All verdicts of a finished pass. `run`: what each week realises, races included."""
    found = _hold(ledger)
    if changed or any(i.absent for i in ledger.items):
        found += _peak(ledger, longs, run)
    return (*found, *_credit(ledger))


def _taper_start(ledger: Ledger) -> int:
    for index in range(BEFORE, len(ledger.kinds)):
        if all(kind in ("taper", "race") for kind in ledger.kinds[index:]):
            return ledger.start(index)
    return ledger.start(len(ledger.kinds))


def _peak(ledger: Ledger, longs: LongRuns, run: Sequence[Number]) -> list[Verdict]:
    """Longest run and largest week reachable before the taper, against the plan as issued."""
    taper, inputs = _taper_start(ledger), ledger.inputs
    races = {i.day for i in ledger.items if i.session.role == "race"}
    reached = max((a for d, a in longs.ran if ledger.first <= d < taper and d not in races), default=0)
    wanted = max((a for d, a in longs.planned if ledger.first <= d < taper and d not in races), default=0)
    if not wanted:
        return []
    minimum = ledger.rail(inputs.minimum_long_mm)
    words = amount_words(inputs, ledger.in_time)
    numbers = {"reached": int(reached), "planned": int(wanted), "minimum": int(minimum)}
    if reached < REACHABLE * wanted or (reached < minimum and reached < wanted):
        least = max(REACHABLE * wanted, min(minimum, wanted))
        sentence = (
            f"The longest run before the taper can be {words(reached)}, where the plan has {words(wanted)} "
            f"and this race asks for at least {words(least)}: choose another goal, another race or a later date."
        )
        return [Verdict("not_recoverable", sentence, numbers)]
    end = ledger.week_of(taper)
    week, planned_week = max(run[BEFORE:end], default=0), max(ledger.planned_all[BEFORE:end], default=0)
    if reached < AT_RISK * wanted or week < AT_RISK * planned_week:
        sentence = (
            f"The goal is at risk: longest run {words(reached)} of {words(wanted)} planned, "
            f"largest week {words(week)} of {words(planned_week)}."
        )
        numbers |= {"week": int(week), "planned_week": int(planned_week)}
        return [Verdict("goal_at_risk", sentence, numbers)]
    return []


def _hold(ledger: Ledger) -> list[Verdict]:
    found = []
    for hold in holds_on(ledger):
        what = "no run" if hold.stops_running else "no quality and no step up"
        until = ledger.inputs.today + timedelta(days=SHOWN_DAYS)
        race = " The race waits for clearance." if ledger.inputs.race_day else ""
        sentence = (
            f"On hold since {hold.opened:%-d %b}: {what} until a coach clears it, with a clinician's word "
            f"where one is needed. Nothing is shown beyond {until:%-d %b}.{race}"
        )
        found.append(Verdict("hold", sentence, {"opened": hold.opened.isoformat()}))
    return found


def _credit(ledger: Ledger) -> list[Verdict]:
    """Somebody who lives just above the line from which a week counts as done."""
    rails, last = ledger.inputs.rails, ledger.current - 1
    if last < BEFORE + 3:
        return []
    four, told = sum(ledger.actual[last - 3 : last + 1]), sum(ledger.advised[last - 3 : last + 1])
    if not told or not rails.credit4 * told <= four < (rails.credit4 + CREDIT_MARGIN) * told:
        return []
    percent = int(100 * Fraction(four) / told)
    sentence = (
        f"The last four weeks together were {percent} % of what was advised: just enough to count as done."
    )
    return [Verdict("credit", sentence, {"percent": percent})]


def silence(ledger: Ledger, days: int) -> Verdict:
    """After three silent run days nothing is proposed; the athlete is asked."""
    unlogged = sorted(
        i.session.day for i in ledger.items if i.state == "missed" and not i.logged and i.session.role in RUNS
    )
    since = unlogged[-days:][0] if unlogged else ledger.inputs.today
    sentence = f"No word about {days} run days since {since:%A %-d %b}: ask before anything is changed."
    return Verdict("silence", sentence, {"days": days, "since": since.isoformat()})
