"""A fitted schedule changed by hand on the page that shows it, before anything is stored.

What was changed travels in the form as a list (`hand`), so that it survives another look. One session is open at a
time; what is typed into it is taken by whichever button is pressed next, so that nothing typed is lost.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from django import forms

from plans.reading import title_of
from plans.training.fitting_by_hand import ByHand, HandEdit, Place, open_days, place_of
from plans.training.fitting_types import Fitted, FittedSession, FittedWeek
from plans.training.shorthand import ShorthandError, parse, role_of
from plans.training.template import LONGEST_TEXT

MOST_EDITS, FARTHEST, MOST_REPEATS = 900, 420, 100
Edits = dict[Place, HandEdit]


def read_edits(text: str) -> Edits:
    """The list as the form carries it; a ValidationError for anything that this page did not write."""
    if not text:
        return {}
    try:
        found: Edits = {}
        for key, repeat, words, shift in json.loads(text):
            if not (isinstance(repeat, int) and isinstance(shift, int) and isinstance(words, str | None)):
                raise ValueError
            if not (
                0 <= repeat <= MOST_REPEATS and abs(shift) <= FARTHEST and len(words or "") <= LONGEST_TEXT
            ):
                raise ValueError
            if words:
                parse(words)
            found[str(UUID(key)), repeat] = HandEdit(words, shift)
        if len(found) > MOST_EDITS:
            raise ValueError
        return found
    except (ValueError, TypeError, AttributeError, RecursionError) as error:
        raise forms.ValidationError(
            "The changes by hand arrived damaged. Press Show and make them anew."
        ) from error


def write_edits(edits: Mapping[Place, HandEdit]) -> str:
    rows = [[key, repeat, edit.text, edit.shift] for (key, repeat), edit in sorted(edits.items())]
    return json.dumps(rows, ensure_ascii=False, separators=(",", ":")) if rows else ""


def name_of(place: Place) -> str:
    return f"{place[0]}:{place[1]}"


@dataclass(frozen=True)
class Opened:
    """The one session whose fields stand open, with what was typed and what is wrong with it."""

    place: Place
    text: str
    day: str
    text_error: str = ""
    day_error: str = ""

    @property
    def name(self) -> str:
        return name_of(self.place)

    @property
    def wrong(self) -> bool:
        return bool(self.text_error or self.day_error)


@dataclass(frozen=True)
class Pressed:
    """What a press came to: the edits from now on, the session left open, and whether it changed anything."""

    edits: Edits
    opened: Opened | None = None
    changed: bool = False


def press(post: Mapping[str, str], fitted: Fitted, edits: Edits, start: date) -> Pressed:
    """Read one press: what was typed into the open session is taken, then the button does its own."""
    known = {name_of(place): s for s in fitted.sessions if (place := place_of(s))}
    kept = {place: edit for place, edit in edits.items() if name_of(place) in known}
    act, _, name = post.get("do", "").partition(" ")
    at = post.get("hand_at", "")
    changed = False
    if at in known and not (act in ("out", "fitted") and name == at):
        typed = _take(at, known[at], post, kept, open_days(fitted, start))
        if typed.opened:
            return typed
        kept, changed = typed.edits, typed.changed
    session = known.get(name)
    place = place_of(session) if session else None
    if session is None or place is None:
        return Pressed(kept, None, changed)
    if act == "out":
        return Pressed({**kept, place: HandEdit("")}, None, True)
    if act == "fitted":
        return Pressed({p: e for p, e in kept.items() if p != place}, None, True)
    edit = kept.get(place, HandEdit())
    text = session.text if edit.text is None else edit.text
    opened = (
        Opened(place, text, (session.day + timedelta(edit.shift)).isoformat()) if act == "change" else None
    )
    return Pressed(kept, opened, changed)


def _take(
    name: str, session: FittedSession, post: Mapping[str, str], edits: Edits, days: tuple[date, date]
) -> Pressed:
    place = place_of(session)
    assert place is not None
    text, typed_day = " ".join(post.get("hand_text", "").split()), post.get("hand_day", "").strip()[:20]
    text_error = _text_error(text)
    try:
        day, day_error = date.fromisoformat(typed_day), ""
    except ValueError:
        day, day_error = session.day, "This is not a day."
    first, last = days
    if not day_error and day != session.day and not first <= day <= last:
        day_error = f"Choose a day from {first.day} {first:%B} to {last.day} {last:%B}."
    if text_error or day_error:
        return Pressed(edits, Opened(place, text, typed_day, text_error, day_error))
    if not text or role_of(parse(text)) == "rest":
        edit = HandEdit("")
    else:
        edit = HandEdit(None if text == session.text else text, (day - session.day).days)
    now = {p: e for p, e in edits.items() if p != place}
    if edit != HandEdit():
        now[place] = edit
    return Pressed(now, None, now != edits)


def _text_error(text: str) -> str:
    if len(text) > LONGEST_TEXT:
        return f"It has {len(text)} characters; {LONGEST_TEXT} fit."
    try:
        if text:
            parse(text)
    except ShorthandError as error:
        return f"{error.message}{f' {error.suggestion}' if error.suggestion else ''}"
    return ""


@dataclass(frozen=True)
class Line:
    """One session in the list: as it stands, whether it was changed or left out, and its open fields."""

    session: FittedSession
    title: str
    name: str
    changed: bool = False
    removed: bool = False
    opened: Opened | None = None


def lines_by_week(hand: ByHand, opened: Opened | None, units: str) -> list[tuple[FittedWeek, list[Line]]]:
    rows = [*((s, False) for s in hand.fitted.sessions), *((s, True) for s in hand.removed)]
    made = []
    for s, removed in sorted(rows, key=lambda row: (row[0].day, row[0].slot)):
        pinned = hand.is_pinned(s)
        place = (s.template_key, s.repeat) if pinned and s.template_key else place_of(s)
        at = opened if opened and place == opened.place else None
        name = name_of(place) if place else ""
        made.append(Line(s, title_of(s.text, units), name, pinned, removed, at))
    return [
        (week, [one for one in made if 0 <= (one.session.day - week.first_day).days < 7])
        for week in hand.fitted.weeks
    ]
