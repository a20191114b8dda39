"""One run on its way through fitting: what the coach wrote, what sizes it can have, which it gets.

A run never gets larger than written. Its sizes stand largest first, the first as written: whole kilometres or
half miles (five minutes where it is written in time) for running in one piece, whole repetitions for everything
else. Most runs of most athletes stay as written, so smaller sizes are made only when somebody asks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date

from plans.training.fitting_caps import NO_SHAPE, Shape
from plans.training.steps import Session
from plans.training.template import Role, TemplateSession, WeekKind

STEP_S = 300
STEP_MM = {"km": 1_000_000, "mi": 804_672}


@dataclass(slots=True)
class Size:
    """One size a run can have; `make` writes its steps. `time`: its seconds, or how to tell them when asked."""

    mm: int
    time: int | Callable[[], int]
    hard_mm: int
    make: Callable[[], Session]

    @property
    def s(self) -> int:
        if not isinstance(self.time, int):
            self.time = self.time()
        return self.time


Sizes = tuple[Size, ...]


@dataclass(slots=True)
class Run:
    """A run of one week. `chosen` and `top` are places in `options`: 0 the largest, `top` the largest allowed.

    `gone`: not run at all, `why` says for which reason; `eased`: an easy run stands for it.
    """

    session: TemplateSession
    repeat: int
    role: Role
    wished: date | None
    full: Size
    smaller: Callable[[], Sizes]
    easy: Callable[[], Sizes] | None
    day: date
    limit_s: int | None = None
    top: int = 0
    chosen: int = 0
    gone: bool = False
    eased: bool = False
    why: str = ""
    is_tune_up: bool = False
    _options: Sizes | None = None
    _easy_options: Sizes | None = None

    @property
    def options(self) -> Sizes:
        """Every size of what is run: the session itself, or the easy run in its place."""
        if self.eased and self.easy:
            if self._easy_options is None:
                self._easy_options = self.easy()
            return self._easy_options
        if self._options is None:
            self._options = (self.full, *self.smaller())
        return self._options

    @property
    def size(self) -> Size:
        """The chosen one."""
        if self.chosen == 0 and not self.eased:
            return self.full
        return self.options[self.chosen]

    @property
    def largest_allowed(self) -> Size:
        return self.full if self.top == 0 and not self.eased else self.options[self.top]

    @property
    def is_long(self) -> bool:
        return self.role == "long"

    @property
    def is_quality(self) -> bool:
        return self.role == "quality" and not self.eased

    def within(self, mm: int, s: int | None) -> int | None:
        """The place of the largest size within both limits, None if there is none."""
        if not self.eased and self.full.mm <= mm and (s is None or self.full.s <= s):
            return 0
        for place, size in enumerate(self.options):
            if size.mm <= mm and (s is None or size.s <= s):
                return place
        return None

    @property
    def can_shrink(self) -> bool:
        return self.chosen + 1 < len(self.options)

    @property
    def smallest(self) -> int:
        return len(self.options) - 1


@dataclass(slots=True)
class Week:
    """A calendar week being fitted. What is `planned` is the whole of what the template wrote for it.

    `held`: the guard rails allowed less than its days could hold.
    """

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
    shape: Shape = NO_SHAPE
    held: bool = False

    @property
    def training(self) -> list[Run]:
        """The runs that are run, races left out."""
        return [run for run in self.runs if not run.gone and run.role != "race"]

    @property
    def mm(self) -> int:
        return sum(run.size.mm for run in self.training)
