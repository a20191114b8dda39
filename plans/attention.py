"""Who needs a word, and why: few rules, each with the number behind it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from athletes.models import HealthNote
from athletes.running.units import Distance, Units, show_distance
from plans.models import Log
from plans.reading import Item, Week
from plans.training.gates import SILENT_RUN_DAYS

SILENT_DAYS = 4
FAR_ABOVE_PERCENT = 20
RACE_SOON_DAYS = 14


@dataclass(frozen=True)
class Word:
    """One reason to talk to somebody. `urgency` sorts: the lower the first."""

    rule: str
    urgency: int
    head: str
    words: str


def words_for(
    weeks: Sequence[Week],
    logs: Sequence[Log],
    holds: Iterable[HealthNote],
    today: date,
    race_day: date | None,
    units: Units,
) -> list[Word]:
    """Every rule that applies, most urgent first. `weeks` reach back four weeks, `logs` 37 days."""
    found = [_hold(note, today) for note in holds]
    found += _silent(weeks, logs, today)
    found += _long_run_missed(weeks, today)
    found += _spike(logs, weeks, today, units)
    found += _far_above(weeks, today, units)
    if race_day and 0 <= (race_day - today).days <= RACE_SOON_DAYS:
        days = (race_day - today).days
        found.append(Word("race-soon", 6, "Race", "today" if days == 0 else f"in {days} days"))
    return sorted(found, key=lambda word: word.urgency)


def _hold(note: HealthNote, today: date) -> Word:
    days = (today - note.opened).days
    since = "today" if days == 0 else f"for {days} day{'s' * (days != 1)}"
    return Word(
        "hold", 0, "Hold", f"{note.words or note.get_cause_display()}, {note.get_kind_display()}, {since}"
    )


def _runs_due(weeks: Iterable[Week], today: date) -> list[Item]:
    return [item for week in weeks for item in week.items if item.is_run and item.day < today]


def _silent(weeks: Sequence[Week], logs: Sequence[Log], today: date) -> list[Word]:
    """Runs were planned, and nothing at all was said about them. From three run days on nothing is proposed."""
    last = max((log.day for log in logs), default=None)
    unlogged = [item for item in _runs_due(weeks, today) if item.log is None]
    days = {item.day for item in unlogged if last is None or item.day > last}
    if not days:
        return []
    length = (today - (last or min(days))).days
    if len(days) >= SILENT_RUN_DAYS:
        return [
            Word("silent", 1, "Silent", f"for {length} days, {len(days)} run days; asked, nothing proposed")
        ]
    if length >= SILENT_DAYS:
        return [Word("silent", 1, "Silent", f"for {length} days")]
    return []


def _long_run_missed(weeks: Sequence[Week], today: date) -> list[Word]:
    longs = [item for item in _runs_due(weeks, today) if item.role == "long"][-2:]
    if len(longs) == 2 and all(item.state == "missed" for item in longs):
        return [Word("long-missed", 2, "Long run", "missed twice in a row")]
    return []


def _spike(logs: Sequence[Log], weeks: Sequence[Week], today: date, units: Units) -> list[Word]:
    """A single run more than 30 % over the longest of the 30 days before it (Frandsen et al. 2025), this past week."""
    runs = sorted(
        {(item.ran_on, item.run_mm) for week in weeks for item in week.items if item.run_mm}
        | {(log.day, log.distance_mm or 0) for log in logs if log.session_id is None}
    )
    for day, mm in reversed(runs):
        if day <= today - timedelta(7):
            break
        before = max((m for d, m in runs if day - timedelta(30) <= d < day), default=0)
        if before and mm * 100 > before * 130:
            over = round(mm * 100 / before) - 100
            return [
                Word(
                    "spike",
                    3,
                    "One long jump",
                    f"{day:%A} {show_distance(Distance(mm), units)}, {over} % over the longest in 30 days",
                )
            ]
    return []


def _far_above(weeks: Sequence[Week], today: date, units: Units) -> list[Word]:
    done = [week for week in weeks if week.first_day + timedelta(6) < today and week.planned_mm]
    if not done:
        return []
    week = done[-1]
    over = week.run_mm * 100 // week.planned_mm - 100
    if over < FAR_ABOVE_PERCENT:
        return []
    size = 1_609_344 if units == "mi" else 1_000_000
    ran, plan = (f"{round(mm / size)} {units}" for mm in (week.run_mm, week.planned_mm))
    return [Word("above-plan", 4, "Far above plan", f"last week {ran} of {plan}")]
