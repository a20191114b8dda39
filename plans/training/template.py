"""A season plan as a coach writes it: weeks with a purpose, sessions with a wish, never a date.

Law of this module: a template that exists is well formed. Every way in (a file, a spreadsheet, the editor's
form) builds these dataclasses, and `problems` says in sentences what a coach would have to mend, with its place.
Whether a plan is *wise* is asked elsewhere (`template_check`): a coach may knowingly write what breaks a rail.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, cast, get_args
from uuid import UUID

from plans.training import shorthand
from plans.training.steps import Session

Role = Literal["easy", "long", "quality", "race", "strength", "cross", "rest"]
Priority = Literal["key", "supporting"]
WeekKind = Literal["base", "build", "recovery", "peak", "taper", "race"]
AmountUnit = Literal["mm", "s", "percent"]

ROLES: tuple[Role, ...] = get_args(Role)
RUNS: frozenset[Role] = frozenset(("easy", "long", "quality", "race"))
HARD: frozenset[Role] = frozenset(("long", "quality", "race"))
PRIORITIES: tuple[Priority, ...] = get_args(Priority)
KINDS: tuple[WeekKind, ...] = get_args(WeekKind)
DAY_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")

LONGEST_TEXT = 300
LONGEST_PURPOSE = 400
MOST_WEEKS = 60
MOST_SESSIONS = 14  # two a day


@dataclass(frozen=True)
class Amount:
    """How much, beside the shorthand: millimetres, seconds or percent of the week's running; low <= high."""

    low: int
    high: int
    unit: AmountUnit


@dataclass(frozen=True)
class TemplateSession:
    """One session. `day` is the weekday wished for (0 is Monday), None where any day serves.

    `key` is a UUID kept for life: versions of a template and schedules fitted from it are matched by it.
    `second` marks a planned second run of a day. Free words stand in the shorthand as `free: as you feel = 60 min`.
    """

    key: str
    day: int | None
    role: Role
    text: str
    purpose: str = ""
    priority: Priority = "supporting"
    amount: Amount | None = None
    second: bool = False


@dataclass(frozen=True)
class TemplateWeek:
    """One week: its kind steers the arithmetic, its purpose is the sentence people read."""

    kind: WeekKind
    purpose: str
    sessions: tuple[TemplateSession, ...] = ()


@dataclass(frozen=True)
class Template:
    """A season plan. `race_mm` is None for a block without a race (base, return, recovery).

    `least_weeks`: with fewer weeks than this to the race the plan is not fitted at all.
    `least_long_mm`: a longest run under this does not prepare for the race, in the coach's judgement.
    `from_week_mm`, `from_long_mm`: what someone should be running already when it begins.
    """

    name: str
    weeks: tuple[TemplateWeek, ...]
    about: str = ""
    level: str = ""
    race_mm: int | None = None
    least_weeks: int = 1
    least_long_mm: int = 0
    from_week_mm: int = 0
    from_long_mm: int = 0


@dataclass(frozen=True)
class Problem:
    """One thing to mend: where (for people), what (a sentence), and week and session counted from 0."""

    place: str
    message: str
    week: int | None = None
    session: int | None = None

    def __str__(self) -> str:
        return f"{self.place}: {self.message}" if self.place else self.message


class TemplateError(ValueError):
    """A template that can't be used; `problems` holds every sentence, not only the first."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


@dataclass
class Findings:
    """Collects problems while a template is read or checked."""

    found: list[Problem] = field(default_factory=list)

    def add(self, message: str, week: int | None = None, session: int | None = None, day: str = "") -> None:
        self.found.append(Problem(place_of(week, session, day), message, week, session))

    def stop_if_any(self) -> None:
        if self.found:
            raise TemplateError(tuple(self.found))


def place_of(week: int | None, session: int | None, day: str = "") -> str:
    """`Week 3, Tuesday` or `Week 3, session 2`; empty for the plan as a whole."""
    if week is None:
        return ""
    if session is None:
        return f"Week {week + 1}"
    return f"Week {week + 1}, {day or f'session {session + 1}'}"


_AMOUNT = re.compile(
    r"\s*(\d+(?:\.\d+)?)\s*(?:(?:-|–|to)\s*(\d+(?:\.\d+)?))?\s*(km|mi|miles?|min|h|%)\s*", re.ASCII | re.I
)
_UNIT_SIZE: dict[str, tuple[int, AmountUnit]] = {
    "km": (1_000_000, "mm"),
    "mi": (1_609_344, "mm"),
    "mile": (1_609_344, "mm"),
    "miles": (1_609_344, "mm"),
    "min": (60, "s"),
    "h": (3600, "s"),
    "%": (1, "percent"),
}


def read_amount(text: str) -> Amount:
    """`8 km`, `8-10 km`, `5 mi`, `45-60 min`, `1.5 h` or `20 %` (of the week); ValueError with a sentence."""
    match = _AMOUNT.fullmatch(text)
    if match is None:
        raise ValueError(f"the amount “{text}” isn't one of 8 km, 8-10 km, 5 mi, 45-60 min, 1.5 h or 20 %")
    size, unit = _UNIT_SIZE[match[3].lower()]
    low = round(Fraction(match[1]) * size)
    high = round(Fraction(match[2] or match[1]) * size)
    if low <= 0 or high < low:
        raise ValueError(f"the amount “{text}” must be above nothing, and a range must rise")
    if unit == "percent" and high > 80:
        raise ValueError(f"{high} % of the week in one session is more than the 80 % this can work with")
    return Amount(low, high, unit)


def write_amount(amount: Amount) -> str:
    """The text that `read_amount` reads back to the same amount."""
    sizes = {"mm": ((1_000_000, "km"), (1_609_344, "mi")), "s": ((60, "min"),), "percent": ((1, "%"),)}
    for size, unit in sizes[amount.unit]:
        numbers = [_decimal(Fraction(value, size)) for value in (amount.low, amount.high)]
        if None not in numbers:
            return f"{'-'.join(dict.fromkeys(cast(list[str], numbers)))} {unit}"
    size, unit = sizes[amount.unit][0]
    numbers = [f"{value / size:.6f}" for value in (amount.low, amount.high)]
    return f"{'-'.join(dict.fromkeys(cast(list[str], numbers)))} {unit}"


def _decimal(value: Fraction) -> str | None:
    """At most three decimals, without trailing noughts; None where that would not be exact."""
    thousandths = value * 1000
    if thousandths.denominator != 1:
        return None
    return f"{thousandths.numerator / 1000:.3f}".rstrip("0").rstrip(".")


def problems(template: Template) -> tuple[Problem, ...]:
    """Everything that keeps a template from being used, in the order a coach reads the plan."""
    findings = Findings()
    if not template.name.strip():
        findings.add("The plan needs a name.")
    if not 1 <= len(template.weeks) <= MOST_WEEKS:
        findings.add(f"A plan has 1 to {MOST_WEEKS} weeks; this one has {len(template.weeks)}.")
    if not 1 <= template.least_weeks <= max(1, len(template.weeks)):
        findings.add(
            f"The fewest weeks it can be fitted into must lie between 1 and {len(template.weeks)};"
            f" it is {template.least_weeks}."
        )
    counted = Counter(session.key for week in template.weeks for session in week.sessions)
    for number, week in enumerate(template.weeks):
        _check_week(week, number, counted, findings)
    _check_race(template, findings)
    return tuple(findings.found)


def _check_week(week: TemplateWeek, number: int, counted: Counter[str], findings: Findings) -> None:
    if week.kind not in KINDS:
        findings.add(f"The kind “{week.kind}” isn't one of {', '.join(KINDS)}.", number)
    if len(week.purpose) > LONGEST_PURPOSE:
        findings.add(f"The purpose has {len(week.purpose)} characters; {LONGEST_PURPOSE} fit.", number)
    if len(week.sessions) > MOST_SESSIONS:
        findings.add(f"A week holds at most {MOST_SESSIONS} sessions; this has {len(week.sessions)}.", number)
    shares = sum(s.amount.high for s in week.sessions if s.amount and s.amount.unit == "percent")
    if shares > 80:
        findings.add(f"The shares of the week add up to {shares} %; at most 80 % can be shares.", number)
    taken: set[int] = set()
    for place, session in enumerate(week.sessions):
        for message in _session_problems(session, counted):
            findings.add(message, number, place, _day_name(session.day))
        if session.role in RUNS and session.day is not None and not session.second:
            if session.day in taken:
                findings.add("Another run wishes for this day; mark the second run of a day as such.",
                             number, place, _day_name(session.day))  # fmt: skip
            taken.add(session.day)


def _day_name(day: int | None) -> str:
    return DAY_NAMES[day] if day is not None and 0 <= day <= 6 else ""


def _session_problems(session: TemplateSession, counted: Counter[str]) -> list[str]:
    found = []
    if session.day is not None and not 0 <= session.day <= 6:
        found.append(f"The day {session.day} isn't a weekday from 0 (Monday) to 6 (Sunday).")
    if session.role not in ROLES:
        found.append(f"The role “{session.role}” isn't one of {', '.join(ROLES)}.")
    if session.priority not in PRIORITIES:
        found.append(f"The priority “{session.priority}” is neither key nor supporting.")
    if not _is_uuid(session.key):
        found.append(f"The key “{session.key}” isn't a UUID.")
    elif counted[session.key] > 1:
        found.append(
            f"The key {session.key} stands {counted[session.key]} times; a key belongs to one session."
        )
    if session.second and session.role != "easy":
        found.append("A second run of a day is an easy one.")
    if len(session.purpose) > LONGEST_PURPOSE:
        found.append(f"The purpose has {len(session.purpose)} characters; {LONGEST_PURPOSE} fit.")
    return found + _text_problems(session)


def tree_of(session: TemplateSession) -> Session:
    """The steps of a session; with an amount beside it the text may leave its own out: `easy + 6 strides`.

    The amount itself is not yet in the tree. Raises ShorthandError.
    """
    try:
        return shorthand.parse(session.text)
    except shorthand.ShorthandError:
        if session.amount is None:
            raise
        try:
            return shorthand.parse(f"1 km {session.text}")
        except shorthand.ShorthandError:
            pass  # the first complaint is about what was really written
        raise


def _text_problems(session: TemplateSession) -> list[str]:
    if len(session.text) > LONGEST_TEXT:
        return [f"The session has {len(session.text)} characters; {LONGEST_TEXT} fit."]
    if not session.text.strip():
        return ["The session says nothing yet: write it as on the board, like 45 min easy."]
    try:
        tree_of(session)
    except shorthand.ShorthandError as error:
        return [f"“{session.text}” can't be read: {_sentence(error)}"]
    return []


def _sentence(error: shorthand.ShorthandError) -> str:
    hint = f" {error.suggestion}" if error.suggestion and error.suggestion not in error.message else ""
    return f"{error.message} (character {error.position + 1}){hint}"


def _check_race(template: Template, findings: Findings) -> None:
    races = [
        (number, place)
        for number, week in enumerate(template.weeks)
        for place, session in enumerate(week.sessions)
        if session.role == "race"
    ]
    if template.race_mm is None:
        return
    if template.race_mm <= 0:
        findings.add("The race distance must be above nothing.")
    if template.weeks and template.weeks[-1].kind != "race":
        findings.add("A plan for a race ends with its race week.", len(template.weeks) - 1)
    if not [race for race in races if race[0] == len(template.weeks) - 1]:
        findings.add("The race itself is missing from the last week.", len(template.weeks) - 1)


def _is_uuid(text: str) -> bool:
    try:
        return str(UUID(text)) == text
    except ValueError:
        return False
