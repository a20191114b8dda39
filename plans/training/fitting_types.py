"""What fitting takes and gives: frozen, in whole millimetres, seconds and dates."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Literal

from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.training.template import Priority, Role, WeekKind

Place = Literal["race", "start", "availability", "athlete", "template"]


class CannotFit(ValueError):
    """No schedule can be made; the message is a sentence for the coach, `place` is where it is mended."""

    def __init__(self, place: Place, sentence: str) -> None:
        super().__init__(sentence)
        self.place = place
        self.sentence = sentence


@dataclass(frozen=True)
class FitRace:
    """A race on a day. `mm` is its distance."""

    day: date
    mm: int
    name: str = ""


@dataclass(frozen=True)
class FitTimeOff:
    """Days known ahead, both ends included, with `minutes` free on each (0: no running)."""

    first_day: date
    last_day: date
    minutes: int = 0


@dataclass(frozen=True)
class FitFree:
    """Other free minutes, Monday to Sunday, from a day on."""

    first_day: date
    minutes: tuple[int, int, int, int, int, int, int]


@dataclass(frozen=True)
class FitAthlete:
    """What fitting must know of a person.

    `week_mm` is a usual week of the last four, `long_mm` the longest run of the last 30 days. `minutes` are
    the free minutes from Monday to Sunday, 0 where a day isn't free; `later` what is free instead from a day on,
    in order of days. `long_day` is the weekday wished for the
    long run (0 is Monday). `level` places the athlete in written ranges, 0 the low end, 1 the top; None lets
    the present running decide. `no_plan_reason` is filled while health questions are open. A coach who
    decides otherwise for a minor or in pregnancy signs with a name (`signed_by`).
    """

    week_mm: int
    long_mm: int
    minutes: tuple[int, int, int, int, int, int, int]
    card: PaceCard
    units: Units = "km"
    long_day: int | None = None
    level: Fraction | None = None
    time_off: tuple[FitTimeOff, ...] = ()
    tune_ups: tuple[FitRace, ...] = ()
    age: int | None = None
    pregnant: bool = False
    no_plan_reason: str = ""
    signed_by: str = ""
    week_starts: int = 0
    later: tuple[FitFree, ...] = ()

    def free_on(self, day: date) -> int:
        """Free minutes on a day, time off not yet taken out."""
        minutes = self.minutes
        for free in self.later:
            if free.first_day > day:
                break
            minutes = free.minutes
        return minutes[day.weekday()]


@dataclass(frozen=True)
class FittedSession:
    """A session on its day. `template_key` and `repeat` find it again at the next fitting.

    `repeat` is 0 for the week nearest the race and counts copies backwards from it. `slot` is 0 for the
    day's first session. `mm` and `s` are running only, the middle of what the paces allow. `template_key`
    is None for a tune-up race.
    """

    day: date
    slot: int
    template_key: str | None
    repeat: int
    role: Role
    priority: Priority
    text: str
    purpose: str
    mm: int
    s: int
    hard_mm: int = 0

    @property
    def supporting(self) -> bool:
        return self.priority == "supporting"


@dataclass(frozen=True)
class FittedWeek:
    """A training week. `template_week` counts from 0; None for days outside the template's weeks."""

    first_day: date
    kind: WeekKind
    purpose: str
    mm: int
    template_week: int | None
    repeat: int


@dataclass(frozen=True)
class Merit:
    """How far a fit is from the plan as written: compared from the first number on, less is better.

    Sessions are counted over the whole schedule; `minutes_short` is what free days cut off; the two
    last count days away from the wished ones.
    """

    key_lost: int
    key_eased: int
    lost: int
    eased: int
    minutes_short: int
    long_days_off: int
    days_off: int

    def as_tuple(self) -> tuple[int, ...]:
        return (
            self.key_lost,
            self.key_eased,
            self.lost,
            self.eased,
            self.minutes_short,
            self.long_days_off,
            self.days_off,
        )


@dataclass(frozen=True)
class Fitted:
    """The schedule, in order of days. `bent` says what was changed against the template and why; `broken`
    names the guard rails that this schedule can't keep. Both are sentences in the athlete's units."""

    first_day: date
    last_day: date
    weeks: tuple[FittedWeek, ...]
    sessions: tuple[FittedSession, ...]
    bent: tuple[str, ...]
    broken: tuple[str, ...]
    merit: Merit
