"""What the planner is told and what it answers: frozen, no clock, no database, no shorthand.

Amounts are whole millimetres and whole seconds. A session carries everything the planner may decide
with as numbers; the text of its steps stays with the caller, who rewrites it from the answer
(new total, level of the repetitions, hard steps eased, turned into easy running, dropped).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction
from typing import Any, Literal

from plans.training.guardrails import Rails

Role = Literal["easy", "long", "quality", "race", "strength", "cross", "rest"]
Kind = Literal["base", "build", "recovery", "peak", "taper", "race"]
WrittenIn = Literal["distance", "time"]
Outcome = Literal["done", "part", "missed"]
Why = Literal["", "time", "travel", "tired", "ill", "hurt"]

RUNS: frozenset[str] = frozenset({"easy", "long", "quality", "race"})
HARD: frozenset[str] = frozenset({"long", "quality", "race"})
FULL = Fraction(1)
EIGHTY = Fraction(4, 5)
SIXTY = Fraction(3, 5)


@dataclass(frozen=True)
class Level:
    """A quality session in whole repetitions at about `share` of what the coach wrote."""

    share: Fraction
    mm: int
    s: int
    hard_mm: int = 0


@dataclass(frozen=True)
class Session:
    """A session as the coach wrote and signed it at issue.

    `mm`, `s`: its planned total (the middle of a range); `low_mm`, `low_s`: the low end, from which on
    it counts as done in full. `levels`: quality only, (full, about 4/5, about 3/5). `hard_mm`: hard
    running inside it. `s_per_km`: easy pace, to estimate it when run easy (0: its own mean pace).
    `signed_s`: the seconds it took when signed, if the pace card has changed since.
    `added`: put in after issue (a tune-up race). `title`: how a sentence names it.
    """

    key: str
    day: date
    role: Role
    mm: int
    s: int
    slot: int = 0
    written_in: WrittenIn = "distance"
    low_mm: int | None = None
    low_s: int | None = None
    levels: tuple[Level, ...] = ()
    hard_mm: int = 0
    supporting: bool = False
    pinned: bool = False
    added: bool = False
    s_per_km: int = 0
    signed_s: int | None = None
    title: str = ""


@dataclass(frozen=True)
class Week:
    first_day: date
    kind: Kind

    @property
    def last_day(self) -> date:
        return self.first_day + timedelta(days=6)


@dataclass(frozen=True)
class Standing:
    """What stood for a session before its day (past), or stands now (still to come).

    Give one for every session that does not stand as planned; the others stand as in the plan.
    `dropped_by`: the rule that took it out ("" if it stands), as in `Reason.rule`.
    `counted`: what of a pinned amount above a cap counts in later references, in its own unit.
    """

    day: date
    mm: int
    s: int
    slot: int = 0
    level: Fraction = FULL
    turned_easy: bool = False
    eased: bool = False
    dropped_by: str = ""
    counted: int | None = None


@dataclass(frozen=True)
class Log:
    """What was run, or that it was not. `key` None: a run outside the plan. A later log of a key wins."""

    day: date
    key: str | None = None
    outcome: Outcome = "done"
    mm: int | None = None
    s: int | None = None
    reason: Why = ""


@dataclass(frozen=True)
class Hold:
    """An open or closed health note. `closed` is the first day that may be run again."""

    opened: date
    stops_running: bool
    hurt: bool = False
    closed: date | None = None


@dataclass(frozen=True)
class Away:
    """Known time off; its days also stand in `minutes`. Travel has a quicker way back."""

    first_day: date
    last_day: date
    travel: bool = False


@dataclass(frozen=True)
class Inputs:
    """Everything one re-balancing is decided by.

    `minutes`: free minutes by date, 0 not available, a missing date is not limited.
    `unknown_from`: days from here on without a log are not known yet and count as advised; earlier
    ones are missed. `weekly_mm`, `longest_mm`: what the athlete ran before the first week, as declared
    and signed (None: as much as the first planned week). `signed_silence`: the coach wants an answer
    though three run days went by without a word.
    """

    weeks: tuple[Week, ...]
    plan: tuple[Session, ...]
    today: date
    unknown_from: date | None = None
    units: Literal["km", "mi"] = "km"
    standing: Mapping[str, Standing] = field(default_factory=dict)
    logs: tuple[Log, ...] = ()
    minutes: Mapping[date, int] = field(default_factory=dict)
    away: tuple[Away, ...] = ()
    holds: tuple[Hold, ...] = ()
    weekly_mm: int | None = None
    longest_mm: int | None = None
    rails: Rails = field(default_factory=Rails)
    race_day: date | None = None
    race_mm: int = 0
    minimum_long_mm: int = 0
    signed_silence: bool = False
    step_mm: int | None = None
    step_s: int = 300

    @property
    def step(self) -> int:
        """The step of a distance: 1 km or half a mile, in mm."""
        return self.step_mm or (1_000_000 if self.units == "km" else 804_672)


@dataclass(frozen=True)
class Refusal:
    """A day that was weighed for a session, and the check it failed."""

    day: date
    words: str


@dataclass(frozen=True)
class Reason:
    """Why a session is not as planned: the rule, its numbers (exact, JSON-ready ints), one sentence."""

    rule: str
    sentence: str
    numbers: Mapping[str, Any] = field(default_factory=dict)
    refused: tuple[Refusal, ...] = ()


@dataclass(frozen=True)
class Placed:
    """A session as it should stand now; `reason` is None exactly when it is as planned."""

    key: str
    day: date
    slot: int
    mm: int
    s: int
    level: Fraction = FULL
    turned_easy: bool = False
    eased: bool = False
    dropped: bool = False
    counted: int | None = None
    reason: Reason | None = None

    def as_standing(self) -> Standing:
        """The same as the next run of the planner wants to be told it."""
        rule = self.reason.rule if self.dropped and self.reason else ""
        return Standing(
            self.day, self.mm, self.s, self.slot, self.level, self.turned_easy, self.eased, rule, self.counted
        )


@dataclass(frozen=True)
class Change:
    """A difference between what stands and what should: the line of a proposal."""

    key: str
    before: Standing
    after: Placed
    reason: Reason


@dataclass(frozen=True)
class WeekResult:
    """One week with the numbers behind it, mm (or s when the whole plan is written in time).

    `planned`, `allowed` and `cap` leave races out; `caps` are all limits weighed, name to amount;
    `binding` is the smallest one's name ("" when the plan itself is). `run`: what counts in references.
    """

    first_day: date
    kind: Kind
    planned: int
    cap: int
    allowed: int
    run: int
    reference: int
    caps: Mapping[str, int]
    binding: str


@dataclass(frozen=True)
class Verdict:
    """What the tool refuses to pretend. `name`: not_recoverable, goal_at_risk, hold, silence, credit."""

    name: str
    sentence: str
    numbers: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class PinConflict:
    """A pinned session above a rail: it stands, the coach is told by how much."""

    key: str
    rule: str
    sentence: str
    numbers: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Break:
    """Days off: from the first planned run missed to the first of two runs within four days."""

    first_day: date
    back: date | None
    days: int
    hurt: bool = False
    why: Why = ""


@dataclass(frozen=True)
class Result:
    """The answer. `sessions`: every session still to come, or moved, by day; `changes`: what differs
    from what stands; `departures`: keys that differ from the plan. `shown_until`: with an open hold
    nothing is shown after this day."""

    weeks: tuple[WeekResult, ...]
    sessions: tuple[Placed, ...]
    changes: tuple[Change, ...]
    verdicts: tuple[Verdict, ...]
    conflicts: tuple[PinConflict, ...]
    breaks: tuple[Break, ...]
    measured_in: Literal["mm", "s"] = "mm"
    shown_until: date | None = None

    @property
    def departures(self) -> tuple[Placed, ...]:
        return tuple(placed for placed in self.sessions if placed.reason is not None)

    def placed(self, key: str) -> Placed:
        """The session with this key; KeyError if it is not among those still to come."""
        for one in self.sessions:
            if one.key == key:
                return one
        raise KeyError(key)
