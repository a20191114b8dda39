"""The sizes a session can have for one athlete, from the one written to the smallest left standing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache, partial

from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.training.fitting_caps import scaled
from plans.training.fitting_runs import STEP_MM, STEP_S, Size, Sizes
from plans.training.intensity import has_hard
from plans.training.levels import at_level
from plans.training.sizing import resized, written_in
from plans.training.steps import DISTANCE_UNITS, Extent, Part, Repeats, RunWith, Session, Step, Unit
from plans.training.summing import sums_of
from plans.training.sums import Sums
from plans.training.writing import is_strides

LEVELS = (Fraction(4, 5), Fraction(3, 5))


class Measurer:
    """Measures sessions with one athlete's paces, each only once, and makes them smaller."""

    def __init__(self, card: PaceCard, units: Units, shortest_mm: int) -> None:
        self.card = card
        self.units = units
        self.shortest_mm = shortest_mm
        self.easy_ms_per_km = round(1000 * card.ranges["easy"].mid.s_per_km)
        self._measured: dict[Session, tuple[int, int, int]] = {}
        self._parts: dict[Part, Sums] = {}
        self._smaller: dict[Session, Sizes] = {}
        self._easy: dict[Session, Sizes] = {}

    def amounts(self, session: Session) -> tuple[int, int, int]:
        """Millimetres, seconds and hard millimetres: the middle of what the paces allow."""
        known = self._measured.get(session)
        if known is None:
            known = self._measured[session] = self._measure(session)
        return known

    def _measure(self, session: Session) -> tuple[int, int, int]:
        """As `measure` does it, with every part measured once: warm-ups and cool-downs are always the same."""
        total, has_run = Sums(), False
        for part in session.parts:
            if is_strides(part) and has_run:
                continue
            sums = self._parts.get(part)
            if sums is None:
                sums = self._parts[part] = sums_of(part, self.card)
            total += sums
            has_run = has_run or sums.mm[1] > 0
        seconds = sum((ms + 500) // 1000 for ms in total.ms)
        return sum(total.mm) // 2, seconds // 2, sum(total.hard_mm) // 2

    def full(self, session: Session) -> Size:
        """The session as written."""
        return Size(*self.amounts(session), partial(_given, session))

    def smaller(self, session: Session) -> Callable[[], Sizes]:
        """Every smaller size of the session, largest first, when asked for."""
        return partial(self._remembered, self._smaller, self._make_smaller, session)

    def easy(self, session: Session) -> Callable[[], Sizes]:
        """Every size of an easy run in the session's place, at most as far or as long, when asked for."""
        return partial(self._remembered, self._easy, self._make_easy, session)

    def _remembered(
        self, known: dict[Session, Sizes], make: Callable[[Session], Sizes], session: Session
    ) -> Sizes:
        found = known.get(session)
        if found is None:
            found = known[session] = make(session)
        return found

    def _make_smaller(self, session: Session) -> Sizes:
        full = self.full(session)
        place = _one_piece(session)
        if place is not None:
            return self._shorter(session, place, full)
        sizes = [self.full(tree) for tree in smaller_trees(session)]
        found, last = list[Size](), full
        for size in sorted(sizes, key=lambda s: (-s.hard_mm, -s.mm)):
            # A step down the row is never longer: less hard work with more around it could overrun the day.
            if size.mm < last.mm and size.s <= last.s:
                found.append(size)
                last = size
        return tuple(found)

    def _shorter(self, session: Session, place: int, full: Size) -> Sizes:
        """A run in one piece in whole steps; hard parts inside shrink with it, amounts in proportion."""
        extent = _extent(session.parts[place])
        step, unit = self._step(extent)
        least = min(self.shortest_mm, full.mm)
        found = []
        for amount in range((extent.low - 1) // step * step, 0, -step):
            cut = extent.low - amount
            mm = full.mm - cut if extent.is_distance else scaled(full.mm, amount, extent.low)
            if mm < least:
                break
            make, hard = partial(_cut, session, place, amount, unit), scaled(full.hard_mm, amount, extent.low)
            # A hard part is cut to steps of its own: in proportion is some seconds off.
            s = partial(self._seconds, make) if full.hard_mm else -scaled(-full.s, mm, full.mm)
            found.append(Size(mm, s, hard, make))
        return tuple(found)

    def _seconds(self, make: Callable[[], Session]) -> int:
        return self.amounts(make())[1]

    def _make_easy(self, session: Session) -> Sizes:
        """One easy run in whole steps of the unit that the session's own easy running is written in."""
        mm, s, _ = self.amounts(session)
        is_timed = written_in(session) == "s"
        step = STEP_S if is_timed else STEP_MM[self.units]
        most = max(1, (s if is_timed else mm) // step)
        found: list[Size] = []
        for times in range(most, 0, -1):
            amount = times * step
            mm = amount * 1_000_000_000 // self.easy_ms_per_km if is_timed else amount
            if mm < self.shortest_mm and found:
                break
            unit: Unit = "min" if is_timed else self.units
            s = mm * self.easy_ms_per_km // 1_000_000_000
            found.append(Size(mm, s, 0, partial(_easy_run, amount, unit)))
        return tuple(found)

    def _step(self, extent: Extent) -> tuple[int, Unit]:
        if not extent.is_distance:
            return STEP_S, "h" if extent.unit == "h" else "min"
        return STEP_MM[self.units], self.units


def as_written() -> Sizes:
    """No smaller size: a race is not run shorter."""
    return ()


@lru_cache(maxsize=4096)
def smaller_trees(session: Session) -> tuple[Session, ...]:
    """The session in fewer repetitions or shorter pieces, each also with less easy running around it."""
    if not any(has_hard(part) for part in session.parts):
        return tuple(_fewer_repeats(session))
    levels = [session, *(at_level(session, level) for level in LEVELS)]
    return tuple(dict.fromkeys(tree for level in levels for tree in (level, _trimmed(level))))


def _easy_run(amount: int, unit: Unit) -> Session:
    return Session((Step(Extent(amount, amount, unit), ("easy",)),))


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
    tree = replace(session, parts=(*session.parts[:place], changed, *session.parts[place + 1 :]))
    return resized(tree, mm=amount) if unit in DISTANCE_UNITS else resized(tree, s=amount)


def _trimmed(session: Session) -> Session:
    """The same work with a kilometre or five minutes less of the easy running before or after it."""
    easy = [
        (part.extent.low, -place, part.extent)
        for place, part in enumerate(session.parts)
        if isinstance(part, Step) and isinstance(part.extent, Extent) and not has_hard(part)
    ]
    if not easy:
        return session
    _, place, extent = max(easy, key=lambda found: found[:2])
    step = 1_000_000 if extent.is_distance else STEP_S
    if extent.low < 3 * step:  # two kilometres or ten minutes are the least that hard work wants around it
        return session
    part = session.parts[-place]
    assert isinstance(part, Step)
    shorter = replace(part, extent=Extent(extent.low - step, extent.low - step, extent.unit))
    return replace(session, parts=(*session.parts[:-place], shorter, *session.parts[-place + 1 :]))


def _fewer_repeats(session: Session) -> list[Session]:
    """Easy repeats with walks: one repetition fewer at a time, never under half."""
    for place, part in enumerate(session.parts):
        if isinstance(part, Repeats) and not is_strides(part):
            before, after = session.parts[:place], session.parts[place + 1 :]
            return [
                replace(session, parts=(*before, replace(part, low=times, high=times), *after))
                for times in range(part.low - 1, max(0, (part.low - 1) // 2), -1)
            ]
    return []
