"""One cell of the grid: what a coach types from a ticked handout, split into what the athlete's own form asks.

    ok              done as planned          8.4             that far
    45:10           that long                8.4 45:10 e6    both, effort 6
    - ill           missed, and why          28 sat          run on Saturday instead

The form of the phone checks it, so that both take and refuse the same.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from uuid import UUID

from athletes.models import Athlete
from athletes.running.units import UnitError, Units, parse_distance, parse_duration
from coaching.phone.log_forms import LogForm
from coaching.phone.reading import units_of
from plans.reading import Item
from plans.recording import Entry, likely_outcome

LONGEST = 60
DONE = {"ok", "done", "yes", "."}
MISSED = {"-", "–", "no", "missed"}
REASONS = {"time": "time", "travel": "travel", "tired": "tired", "ill": "ill", "pain": "pain"}
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
EFFORT = re.compile(r"\be(?:ffort)?\s*(\d+)\b")
TIME = re.compile(r"\b\d+(?::\d{2}){1,2}\b|\b\d+\s*(?:min|h)\b(?:\s*\d+\s*min\b)?")
DISTANCE = re.compile(r"\b\d+(?:[.,]\d+)?\s*(?:km|miles?|mi|m)?(?![\w.])")
HOW = "Type ok, a distance like 8.4, a time like 45:10, or - and a reason."


class CellError(ValueError):
    """What was typed is no run; the message is a sentence for the cell."""


def read_cell(text: str, athlete: Athlete, item: Item, first: date, entry_id: UUID) -> Entry:
    """The entry of one cell in the week from `first`. Raises CellError."""
    typed = _split(text, item, first, units_of(athlete))
    form = LogForm({**typed, "entry_id": str(entry_id)}, athlete=athlete)
    if not form.is_valid():
        raise CellError(" ".join(str(error) for errors in form.errors.values() for error in errors))
    return form.entry(typed["outcome"])


def _split(text: str, item: Item, first: date, units: Units) -> dict[str, str]:
    if len(text) > LONGEST:
        raise CellError(f"That is {len(text)} characters; at most {LONGEST} are read.")
    rest = text.lower()
    effort, rest = _take(EFFORT, rest)
    moving, rest = _take(TIME, rest)
    distance, rest = _take(DISTANCE, rest)
    typed = {"day": item.day.isoformat(), "effort": effort, "moving": moving, "distance": distance}
    missed = False
    for word in re.sub(r"^\s*([-–])", r"\1 ", rest).replace(",", " ").split():
        if word in MISSED:
            missed = True
        elif word[:3] in DAYS and len(word) >= 3:
            weekday = DAYS.index(word[:3])
            typed["day"] = (first + timedelta((weekday - first.weekday()) % 7)).isoformat()
        elif reason := _reason(word):
            typed["reason"] = reason
        elif word not in DONE:
            raise CellError(f"“{word}” is not understood. {HOW}")
    if missed and (distance or moving):
        raise CellError("Missed, or run? With a distance or a time it was run.")
    if missed and not typed.get("reason"):
        raise CellError("Say why after the -: time, travel, tired, ill or pain.")
    return typed | {"outcome": "missed" if missed else _outcome(item, distance, moving, units)}


def _take(pattern: re.Pattern[str], text: str) -> tuple[str, str]:
    """The first match, and the text without it."""
    found = pattern.search(text)
    if found is None:
        return "", text
    return found[1] if pattern.groups else found[0], f"{text[: found.start()]} {text[found.end() :]}"


def _reason(word: str) -> str:
    """A reason by its first letters, as many as tell it from the others."""
    found = [reason for reason in REASONS if reason.startswith(word)]
    return found[0] if len(found) == 1 else ""


def _outcome(item: Item, distance: str, moving: str, units: Units) -> str:
    try:
        if distance:
            return likely_outcome(parse_distance(distance, units).mm, item.planned_mm)
        if moving:
            return likely_outcome(round(parse_duration(moving).s), item.planned_s)
    except UnitError:
        return "done"  # the form says what is wrong with it
    return "done"
