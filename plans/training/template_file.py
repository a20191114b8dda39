"""Season plans as a file of our own: one shape, written as YAML or JSON. docs/template-file.md describes it.

Reading never guesses: what is unknown, missing or of the wrong sort becomes a sentence with its place, and all
of them are told at once.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, Literal, cast
from uuid import uuid4

import yaml

from plans.training.template import (
    DAY_NAMES,
    KINDS,
    PRIORITIES,
    ROLES,
    Amount,
    Findings,
    Priority,
    Role,
    Template,
    TemplateError,
    TemplateSession,
    TemplateWeek,
    WeekKind,
    problems,
    read_amount,
    write_amount,
)

FORMAT = 1
LARGEST_FILE = 1_000_000  # characters; the longest plan of the library has some 40,000

PLAN_FIELDS = (
    "season_plan", "name", "about", "level", "race", "fewest_weeks", "least_long_run",
    "starts_from_week", "starts_from_long_run", "weeks",
)  # fmt: skip
WEEK_FIELDS = ("kind", "purpose", "sessions")
SESSION_FIELDS = ("day", "session", "purpose", "role", "priority", "amount", "second_run", "key")

RACES = {"marathon": 42_195_000, "half marathon": 21_097_500}  # mm; World Athletics distances
_RACE_NAMES = {mm: name for name, mm in RACES.items()}


def read_template(text: str) -> Template:
    """A template from YAML or JSON text (JSON is read as the YAML it is). Raises TemplateError."""
    if len(text) > LARGEST_FILE:
        raise TemplateError((_whole(f"The file has {len(text)} characters; {LARGEST_FILE} can be read."),))
    try:
        raw = yaml.load(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    except (yaml.YAMLError, RecursionError, ValueError) as error:
        raise TemplateError((_whole(f"This isn't a YAML or JSON file: {_where(error)}"),)) from None
    return template_from_values(raw)


def write_yaml(template: Template) -> str:
    """The template as YAML, a key per session; `read_template` gives the same template back."""
    return yaml.safe_dump(template_to_values(template), sort_keys=False, allow_unicode=True, width=110)


def write_json(template: Template) -> str:
    """The template as JSON of the same shape."""
    return json.dumps(template_to_values(template), ensure_ascii=False, indent=1) + "\n"


def template_to_values(template: Template) -> dict[str, Any]:
    """Plain dicts, lists and texts, in the order they are documented."""
    values: dict[str, Any] = {"season_plan": FORMAT, "name": template.name}
    if template.about:
        values["about"] = template.about
    if template.level:
        values["level"] = template.level
    values["race"] = write_race(template.race_mm)
    values["fewest_weeks"] = template.least_weeks
    for name, mm in (
        ("least_long_run", template.least_long_mm),
        ("starts_from_week", template.from_week_mm),
        ("starts_from_long_run", template.from_long_mm),
    ):
        if mm:
            values[name] = write_amount(Amount(mm, mm, "mm"))
    values["weeks"] = [
        {"kind": w.kind, "purpose": w.purpose, "sessions": [_session_values(s) for s in w.sessions]}
        for w in template.weeks
    ]
    return values


def _session_values(session: TemplateSession) -> dict[str, Any]:
    values: dict[str, Any] = {"day": "any" if session.day is None else DAY_NAMES[session.day]}
    values["session"] = session.text
    if session.purpose:
        values["purpose"] = session.purpose
    values["role"] = session.role
    values["priority"] = session.priority
    if session.amount:
        values["amount"] = write_amount(session.amount)
    if session.second:
        values["second_run"] = True
    values["key"] = session.key
    return values


def template_from_values(raw: object) -> Template:
    """A template from what a YAML or JSON reader gives. Raises TemplateError with every problem found."""
    if not isinstance(raw, Mapping):
        raise TemplateError((_whole("The file holds no plan: it begins with season_plan: 1 and a name."),))
    reader = Reader(raw, PLAN_FIELDS, Findings())
    if reader.whole("season_plan", 1) != FORMAT:
        reader.tell(f"season_plan is {raw.get('season_plan')}; this program reads {FORMAT}.")
    template = Template(
        name=reader.text("name"),
        about=reader.text("about"),
        level=reader.text("level"),
        race_mm=reader.race("race"),
        least_weeks=reader.whole("fewest_weeks", 1),
        least_long_mm=reader.distance("least_long_run"),
        from_week_mm=reader.distance("starts_from_week"),
        from_long_mm=reader.distance("starts_from_long_run"),
        weeks=tuple(_week(week, n, reader.findings) for n, week in enumerate(reader.rows("weeks"))),
    )
    reader.findings.stop_if_any()
    found = problems(template)
    if found:
        raise TemplateError(found)
    return template


def _week(raw: object, number: int, findings: Findings) -> TemplateWeek:
    if not isinstance(raw, Mapping):
        findings.add("A week is written with kind, purpose and sessions.", number)
        return TemplateWeek("base", "")
    reader = Reader(raw, WEEK_FIELDS, findings, number)
    return TemplateWeek(
        kind=cast(WeekKind, reader.one_of("kind", KINDS)),
        purpose=reader.text("purpose"),
        sessions=tuple(
            read_session(session, number, place, findings)
            for place, session in enumerate(reader.rows("sessions"))
        ),
    )


def read_session(raw: object, week: int, place: int, findings: Findings) -> TemplateSession:
    """One session from its fields; a missing key gets a new one."""
    if not isinstance(raw, Mapping):
        findings.add("A session is written with at least day, session and role.", week, place)
        return TemplateSession("", None, "rest", "rest")
    reader = Reader(raw, SESSION_FIELDS, findings, week, place)
    return TemplateSession(
        key=reader.text("key") or str(uuid4()),
        day=reader.weekday("day"),
        role=cast(Role, reader.one_of("role", ROLES)),
        text=reader.text("session"),
        purpose=reader.text("purpose"),
        priority=cast(Priority, reader.one_of("priority", PRIORITIES, "supporting")),
        amount=reader.amount("amount"),
        second=reader.truth("second_run"),
    )


def write_race(mm: int | None) -> str:
    """`marathon`, `half marathon`, `10 km` or `none`."""
    if mm is None:
        return "none"
    return _RACE_NAMES.get(mm) or write_amount(Amount(mm, mm, "mm"))


@dataclass
class Reader:
    """Takes fields out of one mapping and tells, with the place, what can't be taken."""

    raw: Mapping[Any, Any]
    fields: Sequence[str]
    findings: Findings
    week: int | None = None
    session: int | None = None

    def __post_init__(self) -> None:
        for name in self.raw:
            if name not in self.fields:
                near = get_close_matches(str(name), self.fields, 1)
                hint = f"did you mean {near[0]}?" if near else f"known are {', '.join(self.fields)}."
                self.tell(f"There is no field “{name}”; {hint}")

    def tell(self, message: str) -> None:
        day = self.raw.get("day") if self.session is not None else None
        self.findings.add(message, self.week, self.session, day if day in DAY_NAMES else "")

    def text(self, name: str) -> str:
        value = self.raw.get(name)
        if value is None:
            return ""
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            self.tell(f"{name} should be a text.")
            return ""
        return str(value).strip()

    def whole(self, name: str, otherwise: int) -> int:
        value = self.raw.get(name, otherwise)
        if isinstance(value, str) and value.strip().isdecimal():
            value = int(value)
        if isinstance(value, bool) or not isinstance(value, int):
            self.tell(f"{name} should be a whole number, not “{value}”.")
            return otherwise
        return value

    def truth(self, name: str) -> bool:
        value = self.raw.get(name, False)
        if isinstance(value, str):
            value = {"": False, "no": False, "yes": True, "false": False, "true": True}.get(value.lower())
        if not isinstance(value, bool):
            self.tell(f"{name} should be true or false, not “{self.raw[name]}”.")
            return False
        return value

    def one_of(self, name: str, possible: Sequence[str], otherwise: str = "") -> str:
        value = self.text(name).lower() or otherwise
        if value not in possible:
            said = f"“{value}”" if value else "nothing"
            self.tell(f"{name} says {said}; possible are {', '.join(possible)}.")
            return possible[0]
        return value

    def weekday(self, name: str) -> int | None:
        value = self.text(name).lower()
        if value in ("", "any"):
            return None
        found = [n for n, day in enumerate(DAY_NAMES) if len(value) >= 3 and day.lower().startswith(value)]
        if not found:
            self.tell(f"The day “{value}” isn't a weekday; possible are {', '.join(DAY_NAMES)} and any.")
            return None
        return found[0]

    def amount(self, name: str) -> Amount | None:
        value = self.text(name)
        if not value:
            return None
        try:
            return read_amount(value)
        except ValueError as error:
            self.tell(f"{name}: {error}.")
            return None

    def distance(self, name: str) -> int:
        amount = self.amount(name)
        if amount is not None and amount.unit != "mm":
            self.tell(f"{name} is a distance, like 40 km or 25 mi.")
            return 0
        return amount.high if amount else 0

    def race(self, name: str) -> int | None:
        value = self.text(name).lower()
        if value in ("", "none"):
            return None
        return RACES.get(value) or self.distance(name) or None

    def rows(self, name: str) -> Sequence[object]:
        value = self.raw.get(name) or ()
        if isinstance(value, str) or not isinstance(value, Sequence):
            self.tell(f"{name} should be a list.")
            return ()
        most: Literal[500] = 500
        if len(value) > most:
            self.tell(f"{name} has {len(value)} entries; {most} can be read.")
        return value[:most]


def _whole(message: str) -> Any:
    findings = Findings()
    findings.add(message)
    return findings.found[0]


def _where(error: Exception) -> str:
    mark = getattr(error, "problem_mark", None)
    what = getattr(error, "problem", None) or "it can't be taken apart"
    return f"{what} (line {mark.line + 1}, column {mark.column + 1})." if mark else f"{what}."
