"""Who needs a word, and why: few rules, each with the number behind it (`plans.attention_rules`)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from athletes.models import HealthNote
from athletes.running.load import Run, longest_before
from athletes.running.units import Distance, Units, show_distance
from plans.attention_rules import NAMES, URGENCY, numbers_of
from plans.models import Log
from plans.reading import Item, Week
from plans.training.gates import SILENT_RUN_DAYS

HARD = 8
EASY_DAYS = 14
GRAVE = ("not_recoverable", "goal_at_risk")


@dataclass(frozen=True)
class Word:
    """One reason to talk to somebody. `urgency` sorts: the lower the first."""

    rule: str
    urgency: int
    head: str
    words: str
    rule_words: str = ""  # the rule with its number, as the practice set it


def words_for(
    weeks: Sequence[Week],
    logs: Sequence[Log],
    holds: Iterable[HealthNote],
    today: date,
    race_day: date | None,
    units: Units,
    *,
    numbers: Mapping[str, int | None] | None = None,
    verdicts: Sequence[Mapping[str, str]] = (),
    last_day: date | None = None,
) -> list[Word]:
    """Every rule that applies, most urgent first. `weeks` reach back four weeks, `logs` 37 days.

    `numbers`: the rules that are on (`attention_rules.numbers_of`). `last_day`: the last day that is planned.
    """
    on = numbers_of({}) if numbers is None else numbers
    open_holds = list(holds)
    found = {
        "hold": [_hold(note, today) for note in open_holds],
        "unwell": [] if open_holds else _unwell(logs, today, on.get("unwell") or 0),
        "silent": _silent(weeks, logs, today, on.get("silent") or 0),
        "long-missed": _long_run_missed(weeks, today, units, on.get("long-missed") or 0),
        "spike": _spike(logs, weeks, today, units, on.get("spike") or 0),
        "hard-easy": _hard_easy(weeks, today, on.get("hard-easy") or 0),
        "above-plan": _far_above(weeks, today, units, on.get("above-plan") or 0),
        "goal": [v["sentence"] for v in verdicts if v["name"] in GRAVE][:1],
        "race-soon": _race(race_day, today, on.get("race-soon") or 0),
        "running-out": _running_out(last_day, race_day, today, on.get("running-out") or 0),
    }
    return [
        Word(rule, URGENCY[rule], NAMES[rule].head, words, NAMES[rule].said(on[rule]))
        for rule in sorted(found, key=URGENCY.__getitem__)
        if rule in on
        for words in found[rule]
    ]


def _ago(days: int) -> str:
    return "today" if days <= 0 else "yesterday" if days == 1 else f"{days} days ago"


def _hold(note: HealthNote, today: date) -> str:
    """The cause and what is held. The athlete's own words stand on their page, where reading is written down."""
    days = (today - note.opened).days
    since = "today" if days <= 0 else f"for {days} day{'s' * (days != 1)}"
    return f"{note.get_cause_display()}, {note.get_kind_display()}, {since}"


def _unwell(logs: Sequence[Log], today: date, within: int) -> list[str]:
    said = [log for log in logs if log.reason in ("ill", "pain") and (today - log.day).days <= within]
    if not said:
        return []
    last = max(said, key=lambda log: log.day)
    return [f"{last.get_reason_display()}, {_ago((today - last.day).days)}; no hold is open"]


def _runs_due(weeks: Iterable[Week], today: date) -> list[Item]:
    return [item for week in weeks for item in week.items if item.is_run and item.day < today]


def _silent(weeks: Sequence[Week], logs: Sequence[Log], today: date, from_days: int) -> list[str]:
    """Runs were planned, and nothing at all was said about them. From three run days on nothing is proposed."""
    last = max((log.day for log in logs), default=None)
    unlogged = [item for item in _runs_due(weeks, today) if item.log is None]
    days = {item.day for item in unlogged if last is None or item.day > last}
    if not days:
        return []
    length = (today - (last or min(days))).days
    if len(days) >= SILENT_RUN_DAYS:
        return [f"for {length} days, {len(days)} run days; asked, nothing proposed"]
    return [f"for {length} days"] if length >= from_days else []


def _long_run_missed(weeks: Sequence[Week], today: date, units: Units, times: int) -> list[str]:
    longs = [item for item in _runs_due(weeks, today) if item.role == "long"][-times:]
    if len(longs) < times or not all(item.state == "missed" for item in longs):
        return []
    often = {1: "missed", 2: "missed twice in a row"}.get(times, f"missed {times} times in a row")
    planned = " and ".join(
        f"{_whole(item.planned_mm, units)} on {item.day.day} {item.day:%b}" for item in longs
    )
    return [f"{often}: {planned}"]


def _spike(logs: Sequence[Log], weeks: Sequence[Week], today: date, units: Units, percent: int) -> list[str]:
    """A single run of the past week so much longer than the longest of the 30 days before it."""
    ran = {(item.ran_on, item.run_mm) for week in weeks for item in week.items if item.run_mm}
    ran |= {(log.day, log.distance_mm) for log in logs if log.distance_mm and log.outcome != "missed"}
    runs = [Run(day, Distance(mm)) for day, mm in sorted(ran)]
    for run in reversed(runs):
        if run.day <= today - timedelta(7):
            break
        before = longest_before(runs, run.day)
        if before and before.mm and run.distance.mm * 100 > before.mm * (100 + percent):
            over = round(run.distance.mm * 100 / before.mm) - 100
            return [
                f"{run.day:%A} {show_distance(run.distance, units)}, {over} % over the longest in 30 days"
                f" ({show_distance(before, units)})"
            ]
    return []


def _hard_easy(weeks: Sequence[Week], today: date, times: int) -> list[str]:
    first = today - timedelta(EASY_DAYS)
    hard = [
        item
        for week in weeks
        for item in week.items
        if item.role == "easy" and item.log and (item.log.effort or 0) >= HARD and first <= item.day <= today
    ]
    if len(hard) < times:
        return []
    efforts = ", ".join(str(item.log.effort) for item in hard if item.log)
    return [f"effort {efforts} on {len(hard)} easy day{'s' * (len(hard) != 1)} in two weeks"]


def _far_above(weeks: Sequence[Week], today: date, units: Units, percent: int) -> list[str]:
    done = [week for week in weeks if week.first_day + timedelta(6) < today and week.planned_mm]
    if not done:
        return []
    week = done[-1]
    if week.run_mm * 100 < week.planned_mm * (100 + percent):
        return []
    over = week.run_mm * 100 // week.planned_mm - 100
    ran, plan = (_whole(mm, units) for mm in (week.run_mm, week.planned_mm))
    return [f"last week {ran} of {plan}, {over} % over"]


def _whole(mm: int, units: Units) -> str:
    """To the whole kilometre or mile: what is planned is no more exact."""
    return f"{round(mm / (1_609_344 if units == 'mi' else 1_000_000))} {units}"


def _race(race_day: date | None, today: date, within: int) -> list[str]:
    if race_day is None or not 0 <= (race_day - today).days <= within:
        return []
    days = (race_day - today).days
    return ["today" if days == 0 else "tomorrow" if days == 1 else f"in {days} days"]


def _running_out(last_day: date | None, race_day: date | None, today: date, within: int) -> list[str]:
    """The last planned day comes near. With the race still ahead, the race is the end and is told by itself."""
    if last_day is None or (race_day is not None and race_day >= today):
        return []
    days = (last_day - today).days
    if days > within:
        return []
    if days < 0:
        return [f"ended {_ago(-days)}; nothing follows"]
    return [f"ends {'today' if days == 0 else f'in {days} day' + 's' * (days != 1)}; nothing follows"]
