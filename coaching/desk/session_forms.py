"""The forms of a session as it is typed: by itself, and in its place in a template; what the parser makes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms

from athletes.running.units import Distance, Duration
from coaching.desk.board import ROLE_WORDS, Example
from coaching.fields import DistanceField, TimeField
from plans.training.shorthand import (
    Measure,
    ShorthandError,
    StepLine,
    keep_words,
    lines,
    measure,
    parse,
    role_of,
    title,
    write,
)
from plans.training.steps import Extent, Words
from plans.training.steps import Session as Steps
from plans.training.template import (
    DAY_NAMES,
    LONGEST_PURPOSE,
    LONGEST_TEXT,
    Amount,
    TemplateSession,
    read_amount,
    write_amount,
)

PRIORITIES = [
    ("supporting", "supporting: may go first when time is short"),
    ("key", "key: kept if at all possible"),
]
NO_SPELLING = {"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}


@dataclass(frozen=True)
class Understood:
    """What the parser makes of a line, for the example athlete; or where it stops, and why."""

    text: str
    steps: Steps | None = None
    title: str = ""
    role: str = ""
    measure: Measure | None = None
    lines: tuple[StepLine, ...] = ()
    error: ShorthandError | None = None

    @property
    def before(self) -> str:
        return self.text[: self.error.position] if self.error else ""

    @property
    def wrong(self) -> str:
        return self.text[self.error.position : self.error.position + self.error.length] if self.error else ""

    @property
    def after(self) -> str:
        return self.text[self.error.position + self.error.length :] if self.error else ""


def understand(text: str, example: Example) -> Understood | None:
    """None for an empty line: nothing is wrong with a line not begun."""
    text = text.strip()
    if not text:
        return None
    try:
        steps = parse(text)
    except ShorthandError as error:
        return Understood(text, error=error)
    card, units = example.card, example.units
    return Understood(
        text,
        steps,
        title(steps, units),
        ROLE_WORDS[role_of(steps)],
        measure(steps, card, units),
        lines(steps, card, units),
    )


class SessionForm(forms.Form):
    """A session by itself: what is run, what it is, why."""

    text = forms.CharField(
        label="Session",
        max_length=LONGEST_TEXT,
        widget=forms.TextInput(attrs={"class": "shorthand", **NO_SPELLING}),
        help_text="As on the board: 15 min easy; 6 x 800 m @ 10K, 90 s jog; 10 min easy",
        error_messages={"required": "Write the session as on the board, like 45 min easy."},
    )
    keep = forms.BooleanField(label="Keep it as my own words", required=False)
    words_distance = DistanceField(label="Distance", required=False)
    words_time = TimeField(label="Time", required=False)
    words_hard = TimeField(label="Of it hard", required=False)
    role = forms.ChoiceField(
        label="It is", required=False, choices=[("", "as understood"), *ROLE_WORDS.items()]
    )
    purpose = forms.CharField(
        label="Why, for the athlete",
        required=False,
        max_length=LONGEST_PURPOSE,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "text" in self.errors:
            return data
        data["steps"] = self._kept() if data.get("keep") else self._parsed()
        if data["steps"] is not None:
            data["text"] = write(data["steps"]) if data.get("keep") else " ".join(data["text"].split())
            data["role"] = data.get("role") or role_of(data["steps"])
            if len(data["text"]) > LONGEST_TEXT:
                self.add_error(
                    "text", f"With its amounts it has {len(data['text'])} characters; {LONGEST_TEXT} fit."
                )
        return data

    def _parsed(self) -> Steps | None:
        try:
            return parse(self.cleaned_data["text"])
        except ShorthandError as error:
            hint = f" {error.suggestion}" if error.suggestion else ""
            self.add_error("text", f"{error.message}{hint} (character {error.position + 1})")
            return None

    def _kept(self) -> Steps | None:
        data = self.cleaned_data
        if not (data.get("words_distance") or data.get("words_time")):
            if "words_distance" not in self.errors and "words_time" not in self.errors:
                self.add_error(
                    "words_time", "Your own words count with your own amounts: give time or distance."
                )
            return None
        for name in ("words_distance", "words_time", "words_hard"):
            if data.get(name) and not _amount(data[name]):
                self.add_error(name, "An amount is above nothing.")
                return None
        words = data["text"].removeprefix("free:").partition("=")[0]
        return keep_words(
            words,
            distance=_extent(data.get("words_distance")),
            time=_extent(data.get("words_time")),
            hard_time=_extent(data.get("words_hard")),
        )


def _amount(value: Distance | Duration) -> int:
    return value.mm if isinstance(value, Distance) else round(value.s)


def _extent(value: Distance | Duration | None) -> Extent | None:
    if value is None:
        return None
    return Extent(_amount(value), _amount(value), "km" if isinstance(value, Distance) else "min")


def words_of(text: str) -> dict[str, Any]:
    """What the form shows for a session kept as words: the words, and their amounts in their own fields."""
    try:
        steps = parse(text)
    except ShorthandError:
        return {}
    first = steps.parts[0] if steps.parts else None
    if not isinstance(first, Words):
        return {}
    found: dict[str, Any] = {"text": first.text, "keep": True}
    if first.distance:
        found["words_distance"] = Distance(first.distance.low)
    if first.time:
        found["words_time"] = Duration(first.time.low * 1000)
    if first.hard_time:
        found["words_hard"] = Duration(first.hard_time.low * 1000)
    return found


class PlacedForm(SessionForm):
    """A session in its place: day, week, priority, how much of the week."""

    base = forms.IntegerField(widget=forms.HiddenInput)
    week = forms.TypedChoiceField(label="Week", coerce=int)
    day = forms.ChoiceField(
        label="Day",
        required=False,
        choices=[*((str(n), name) for n, name in enumerate(DAY_NAMES)), ("", "any day")],
    )
    priority = forms.ChoiceField(label="Priority", choices=PRIORITIES, widget=forms.RadioSelect)
    amount = forms.CharField(
        label="How much",
        required=False,
        max_length=40,
        help_text="Instead of what the session says: 8-10 km, 45-60 min, or 20 % of the week.",
    )
    second = forms.BooleanField(label="A second run on its day", required=False)

    field_order = ("base", "text", "keep", "words_distance", "words_time", "words_hard", "role", "priority")

    def __init__(self, *args: Any, weeks: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["week"].choices = [(n, f"week {n}") for n in range(1, weeks + 1)]  # type: ignore[attr-defined]

    def clean_amount(self) -> Amount | None:
        text = self.cleaned_data["amount"].strip()
        if not text:
            return None
        try:
            return read_amount(text)
        except ValueError as error:
            message = str(error)
            raise forms.ValidationError(f"{message[:1].upper()}{message[1:]}.") from error

    def session(self, key: str) -> TemplateSession:
        data = self.cleaned_data
        return TemplateSession(
            key=key,
            day=int(data["day"]) if data["day"] else None,
            role=data["role"],
            text=data["text"],
            purpose=" ".join(data["purpose"].split()),
            priority=data["priority"],
            amount=data["amount"],
            second=data["second"],
        )


def initial_of(session: TemplateSession, week: int, base: int) -> dict[str, Any]:
    return {
        "base": base,
        "week": week + 1,
        "day": "" if session.day is None else str(session.day),
        "text": session.text,
        # Left to the text while it says so itself: typed anew as something harder, it counts as that.
        "role": "" if understood_role(session.text) == session.role else session.role,
        "priority": session.priority,
        "purpose": session.purpose,
        "amount": write_amount(session.amount) if session.amount else "",
        "second": session.second,
        **words_of(session.text),
    }


def understood_role(text: str) -> str:
    try:
        return role_of(parse(text))
    except ShorthandError:
        return ""
