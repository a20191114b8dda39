"""The sizes a session can have for one athlete, from the smallest left standing to the one written."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import partial

from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.training.easing import eased
from plans.training.fitting_caps import scaled
from plans.training.fitting_runs import STEP_MM, STEP_S, Size
from plans.training.intensity import has_hard
from plans.training.levels import at_level
from plans.training.measuring import measure
from plans.training.sizing import resized, written_in
from plans.training.steps import DISTANCE_UNITS, Extent, Part, Repeats, RunWith, Session, Step, Unit
from plans.training.writing import is_strides

LEVELS = (Fraction(3, 5), Fraction(4, 5))


class Sizes:
    """Measures sessions with one athlete's paces, each only once."""

    def __init__(self, card: PaceCard, units: Units, shortest_mm: int) -> None:
        self.card = card
        self.units = units
        self.shortest_mm = shortest_mm
        self._measured: dict[Session, tuple[int, int, int]] = {}
        self._sizes: dict[tuple[Session, bool], tuple[Size, ...]] = {}

    def amounts(self, session: Session) -> tuple[int, int, int]:
        """Millimetres, seconds and hard millimetres: the middle of what the paces allow."""
        known = self._measured.get(session)
        if known is None:
            found = measure(session, self.card, self.units)
            known = (
                sum(found.total_mm) // 2,
                sum(found.total_s) // 2,
                sum(found.hard_mm) // 2,
            )
            self._measured[session] = known
        return known

    def of(self, session: Session) -> tuple[Size, ...]:
        """Every size of the session as written, smallest first."""
        return self._remember(session, False)

    def easy(self, session: Session) -> tuple[Size, ...]:
        """Every size of an easy run in the session's place, at most as far or as long."""
        return self._remember(session, True)

    def _as_easy_run(self, session: Session) -> Session:
        """One easy run in whole steps of the unit that the session's own easy running is written in."""
        mm, s, _ = self.amounts(session)
        easy = eased(session)
        if written_in(easy) == "s":
            whole = max(STEP_S, s // STEP_S * STEP_S)
            return Session((Step(Extent(whole, whole, "min"), ("easy",)),))
        step = STEP_MM[self.units]
        whole = max(step, mm // step * step)
        return Session((Step(Extent(whole, whole, self.units), ("easy",)),))

    def whole(self, session: Session) -> tuple[Size, ...]:
        """Only the session as written: a race is not run shorter."""
        return (Size(*self.amounts(session), lambda: session),)

    def _remember(self, session: Session, easy: bool) -> tuple[Size, ...]:
        known = self._sizes.get((session, easy))
        if known is None:
            known = self._make(self._as_easy_run(session) if easy else session)
            self._sizes[session, easy] = known
        return known

    def _make(self, session: Session) -> tuple[Size, ...]:
        full = Size(*self.amounts(session), lambda: session)
        place = _one_piece(session)
        if place is not None:
            return (*self._shorter(session, place, full), full)
        if any(has_hard(part) for part in session.parts):
            smaller = [at_level(session, level) for level in LEVELS]
        else:
            smaller = _fewer_repeats(session)
        kept = [Size(*self.amounts(tree), partial(_given, tree)) for tree in dict.fromkeys(smaller)]
        return (*sorted((size for size in kept if size.mm < full.mm), key=lambda size: size.mm), full)

    def _shorter(self, session: Session, place: int, full: Size) -> list[Size]:
        """A run in one piece in whole steps; hard parts inside shrink with it, amounts in proportion."""
        extent = _extent(session.parts[place])
        step, unit = self._step(extent)
        least = min(self.shortest_mm, full.mm)
        found = []
        for amount in range(step, extent.low, step):
            mm = full.mm - (extent.low - amount)
            if not extent.is_distance:
                mm = scaled(full.mm, amount, extent.low)
            if mm >= least:
                make = partial(_cut, session, place, amount, unit)
                s = scaled(full.s, mm, full.mm)
                found.append(Size(mm, s, scaled(full.hard_mm, amount, extent.low), make))
        return found

    def _step(self, extent: Extent) -> tuple[int, Unit]:
        if not extent.is_distance:
            return STEP_S, "h" if extent.unit == "h" else "min"
        return STEP_MM[self.units], self.units


def _given(tree: Session) -> Session:
    return tree


def _extent(part: Part) -> Extent:
    step = part.outer if isinstance(part, RunWith) else part
    assert isinstance(step, Step)
    assert isinstance(step.extent, Extent)
    return step.extent


def _one_piece(session: Session) -> int | None:
    """The place of the only running that isn't strides or drills, if it is one piece that isn't hard."""
    places = [
        n for n, part in enumerate(session.parts)
        if not is_strides(part) and not (isinstance(part, Step) and part.manners == ("drills",))
    ]  # fmt: skip
    if len(places) != 1:
        return None
    part = session.parts[places[0]]
    outer = part.outer if isinstance(part, RunWith) else part
    if not isinstance(outer, Step) or not isinstance(outer.extent, Extent) or has_hard(outer):
        return None
    return places[0]


def _cut(session: Session, place: int, amount: int, unit: Unit) -> Session:
    """The session with its one piece cut to `amount`, written in the athlete's unit."""
    part = session.parts[place]
    step = part.outer if isinstance(part, RunWith) else part
    assert isinstance(step, Step)
    step = replace(step, extent=replace(_extent(part), unit=unit))
    changed = RunWith(step, part.inner) if isinstance(part, RunWith) else step
    parts = (*session.parts[:place], changed, *session.parts[place + 1 :])
    tree = replace(session, parts=parts)
    return resized(tree, mm=amount) if unit in DISTANCE_UNITS else resized(tree, s=amount)


def _fewer_repeats(session: Session) -> list[Session]:
    """Easy repeats with walks: one repetition fewer at a time, never under half."""
    for place, part in enumerate(session.parts):
        if isinstance(part, Repeats) and not is_strides(part):
            return [
                replace(
                    session,
                    parts=(
                        *session.parts[:place],
                        replace(part, low=times, high=times),
                        *session.parts[place + 1 :],
                    ),
                )
                for times in range(max(1, -(-part.low // 2)), part.low)
            ]
    return []
