"""One run on its way through fitting: what the coach wrote, what sizes it can have, which it gets.

A run never gets larger than written. It has a short list of sizes, smallest first, the last the one written:
whole kilometres or half miles (five minutes where it is written in time) for running in one piece, whole
repetitions for everything else.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date

from plans.training.steps import Session
from plans.training.template import TemplateSession, WeekKind

STEP_S = 300
STEP_MM = {"km": 1_000_000, "mi": 804_672}


@dataclass(frozen=True, slots=True)
class Size:
    """One size a run can have; `make` writes its steps."""

    mm: int
    s: int
    hard_mm: int
    make: Callable[[], Session]


@dataclass(slots=True)
class Run:
    """A run of one week. `chosen` and `top` are places in `sizes`; -1 means it is not run at all."""

    session: TemplateSession
    repeat: int
    role: str
    wished: date | None
    sizes: tuple[Size, ...]
    easy_sizes: tuple[Size, ...] = ()
    day: date | None = None
    limit_s: int | None = None
    top: int = 0
    chosen: int = 0
    eased: bool = False
    why: str = ""
    fixed: bool = False
    taken_from: list[str] = field(default_factory=list)

    @property
    def full(self) -> Size:
        """The size written, run as written."""
        return self.sizes[-1]

    @property
    def options(self) -> tuple[Size, ...]:
        return self.easy_sizes if self.eased else self.sizes

    @property
    def size(self) -> Size | None:
        return self.options[self.chosen] if self.chosen >= 0 else None

    @property
    def mm(self) -> int:
        return self.options[self.chosen].mm if self.chosen >= 0 else 0

    @property
    def hard_mm(self) -> int:
        return self.options[self.chosen].hard_mm if self.chosen >= 0 else 0

    @property
    def is_hard(self) -> bool:
        return self.role in ("long", "quality", "race") and not self.eased

    @property
    def is_long(self) -> bool:
        return self.role == "long"

    @property
    def is_quality(self) -> bool:
        return self.role == "quality" and not self.eased

    def largest(self, mm: int, s: int | None) -> int:
        """The largest size within both limits, -1 if none is."""
        options = self.options
        for place in range(len(options) - 1, -1, -1):
            if options[place].mm <= mm and (s is None or options[place].s <= s):
                return place
        return -1


@dataclass(slots=True)
class Week:
    """A calendar week being fitted. `planned_mm` is the whole of what the template wrote for it."""

    first_day: date
    kind: WeekKind
    purpose: str
    index: int | None
    repeat: int
    runs: list[Run] = field(default_factory=list)
    planned_mm: int = 0
    planned_long_mm: int = 0
    planned_hard_mm: int = 0
    race_mm: int = 0

    @property
    def mm(self) -> int:
        """Running of the week without races."""
        return sum(run.mm for run in self.runs if run.role != "race")
