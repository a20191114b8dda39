"""What a session comes to for one athlete: total and hard distance and time, each from a low to a high end.

Law of this file: what the coach wrote is exact; what only a pace can tell is a range, from the fast end of the
card's pace to the slow end. Recoveries stand between repeats, so once less often than the work. Strides after a
run in the same session are done within it and add nothing. Running at a recovery's jog, and walking, count as
distance; standing does not. Estimates where a card says nothing are named here, common practice without a source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from athletes.running.paces import PaceCard
from athletes.running.units import Units
from plans.training.intensity import (
    HARD_FROM,
    SECONDS_PER_EFFORT,
    is_hard,
    progression_efforts,
    seconds_per_km,
)
from plans.training.levels import resolved_part
from plans.training.speeds import Speed, race_speed, speed_of, target_speed
from plans.training.steps import (
    Extent,
    Ladder,
    Other,
    Part,
    Progression,
    Race,
    RacePace,
    Repeats,
    RunWith,
    Session,
    Step,
    Words,
)
from plans.training.wording import show_rough
from plans.training.writing import is_strides

# Extents where the coach gave none. Common practice, no source.
STRIDE_MS: Final = 20_000
HILL_MS: Final = 45_000
DRILLS_MS: Final = 5 * 60_000
WARM_UP_MS: Final = 15 * 60_000
COOL_DOWN_MS: Final = 10 * 60_000
OTHER_MS: Final = 30 * 60_000
RECOVERY_MS: Final = 120_000  # "jog" without an amount
UNSAID_RECOVERY_MS: Final = 90_000  # hard repeats with no recovery written at all
STRIDE_RECOVERY_MS: Final = 60_000
MOST_PIECES: Final = 500
# "Jog back" takes twice as long as the work, "walk back" three times, over the same distance.
JOG_BACK, WALK_BACK = 2, 3


@dataclass(frozen=True, slots=True)
class Sums:
    """Amounts in mm and ms, low and high ends, and how much of each is hard."""

    mm: tuple[int, int] = (0, 0)
    ms: tuple[int, int] = (0, 0)
    hard_mm: tuple[int, int] = (0, 0)
    hard_ms: tuple[int, int] = (0, 0)

    def __add__(self, other: Sums) -> Sums:
        return Sums(
            (self.mm[0] + other.mm[0], self.mm[1] + other.mm[1]),
            (self.ms[0] + other.ms[0], self.ms[1] + other.ms[1]),
            (self.hard_mm[0] + other.hard_mm[0], self.hard_mm[1] + other.hard_mm[1]),
            (self.hard_ms[0] + other.hard_ms[0], self.hard_ms[1] + other.hard_ms[1]),
        )

    def times(self, low: int, high: int) -> Sums:
        return Sums(
            (self.mm[0] * low, self.mm[1] * high),
            (self.ms[0] * low, self.ms[1] * high),
            (self.hard_mm[0] * low, self.hard_mm[1] * high),
            (self.hard_ms[0] * low, self.hard_ms[1] * high),
        )

    def hardened(self, share: Fraction = Fraction(1)) -> Sums:
        mm = (round(self.mm[0] * share), round(self.mm[1] * share))
        return Sums(self.mm, self.ms, mm, (round(self.ms[0] * share), round(self.ms[1] * share)))


@dataclass(frozen=True, slots=True)
class Measure:
    """Total and hard amounts of a session, whole mm and s, each (low, high)."""

    total_mm: tuple[int, int]
    total_s: tuple[int, int]
    hard_mm: tuple[int, int]
    hard_s: tuple[int, int]
    units: Units = "km"

    @property
    def distance_text(self) -> str:
        """`12–12.6 km`, in the athlete's units; empty without running."""
        low, high = (show_rough(mm, self.units) for mm in self.total_mm)
        return _between(low, high) if self.total_mm[1] else ""

    @property
    def time_text(self) -> str:
        """`1:02–1:10 h` or `34 min`, to the minute; empty for a day of rest."""
        low, high = (show_minutes(s) for s in self.total_s)
        return _between(low, high) if self.total_s[1] else ""


def _rounded(value: int, step: int) -> int:
    return (value + step // 2) // step * step


def show_minutes(seconds: int) -> str:
    """`45 min`, `1:05 h`: to the minute, at least one."""
    minutes = max(1, _rounded(seconds, 60) // 60)
    return f"{minutes} min" if minutes < 100 else f"{minutes // 60}:{minutes % 60:02d} h"


def _between(low: str, high: str) -> str:
    """Two amounts as one range; the unit once where it is the same."""
    if low == high:
        return low
    number, _, unit = low.partition(" ")
    return f"{number}–{high}" if unit and high.endswith(f" {unit}") else f"{low} – {high}"


def measure(session: Session, card: PaceCard, units: Units = "km") -> Measure:
    """What the session comes to at the card's paces. `units` are the athlete's, for the texts only."""
    total = Sums()
    run_before = False
    for part in session.parts:
        if is_strides(part) and run_before:
            continue
        sums = sums_of(part, card)
        total += sums
        run_before = run_before or sums.mm[1] > 0
    return Measure(total.mm, _seconds(total.ms), total.hard_mm, _seconds(total.hard_ms), units)


def _seconds(ms: tuple[int, int]) -> tuple[int, int]:
    return (ms[0] + 500) // 1000, (ms[1] + 500) // 1000


def covered(extent: Extent, speed: Speed | None) -> Sums:
    """Distance and time of an amount at a speed; None is standing still."""
    if extent.is_distance:
        if speed is None:
            return Sums()
        ms = (round(extent.low * speed.fast / 1000), round(extent.high * speed.slow / 1000))
        return Sums((extent.low, extent.high), ms)
    ms = (extent.low * 1000, extent.high * 1000)
    if speed is None:
        return Sums((0, 0), ms)
    return Sums((round(ms[0] * 1000 / speed.slow), round(ms[1] * 1000 / speed.fast)), ms)


def _for_ms(ms: int, speed: Speed | None) -> Sums:
    return covered(Extent(ms // 1000, ms // 1000, "s"), speed)


def sums_of(part: Part, card: PaceCard, *, working: bool = False) -> Sums:
    """One part on its own. `working` says that it is a piece of repeats."""
    match part:
        case Step():
            sums = _step(part, card, working=working)
            return sums.hardened() if is_hard(part, working=working) else sums
        case Repeats():
            return _repeats(part, card)
        case Ladder():
            return _ladder(part, card)
        case RunWith():
            return _run_with(part, card)
        case Progression():
            return _progression(part, card)
        case Race(extent, target):
            speed = target_speed(target, card) if target else race_speed(extent, card)
            return covered(extent, speed).hardened()
        case Other(extent=extent):
            time = Sums(ms=(OTHER_MS, OTHER_MS))
            return Sums(ms=covered(extent, None).ms) if extent and not extent.is_distance else time
        case Words():
            return _words(part, card)


def _step(step: Step, card: PaceCard, *, working: bool) -> Sums:
    speed = speed_of(step, card, working=working)
    if isinstance(step.extent, Extent):
        return covered(step.extent, speed)
    match step.manners[:1]:
        case ("drills",):
            return _for_ms(DRILLS_MS, None)
        case ("warm-up",):
            return _for_ms(WARM_UP_MS, speed)
        case ("cool-down",):
            return _for_ms(COOL_DOWN_MS, speed)
        case ("strides",):
            return _for_ms(STRIDE_MS, speed)
        case ("hill",):
            return _for_ms(HILL_MS, speed)
        case _:
            return _for_ms(RECOVERY_MS, speed)


def recovery_sums(recovery: Step | None, work: Sums, size: Extent | None, card: PaceCard) -> Sums:
    """One recovery after work that came to `work`; `size` is the work's amount where it has just one."""
    if recovery is None:
        return Sums()
    speed = speed_of(recovery, card, working=False)
    if recovery.extent == "equal":
        return covered(size, speed) if size else _same_time(work, speed)
    if recovery.extent == "back":
        factor = WALK_BACK if recovery.manners[:1] == ("walk",) else JOG_BACK
        return Sums(work.mm, (work.ms[0] * factor, work.ms[1] * factor))
    return _step(recovery, card, working=False)


def _same_time(work: Sums, speed: Speed | None) -> Sums:
    if speed is None:
        return Sums(ms=work.ms)
    return Sums((round(work.ms[0] * 1000 / speed.slow), round(work.ms[1] * 1000 / speed.fast)), work.ms)


def unsaid_recovery(part: Repeats) -> Step | None:
    """The recovery of repeats for which none was written: strides and single hard pieces need one."""
    only = part.body[0]
    if part.recovery or len(part.body) > 1 or not isinstance(only, Step):
        return part.recovery
    if "strides" in only.manners:
        return Step(Extent(STRIDE_RECOVERY_MS // 1000, STRIDE_RECOVERY_MS // 1000, "s"), ("walk",))
    if "hill" in only.manners:
        return Step("back", ("jog",))
    if is_hard(only, working=True):
        return Step(Extent(UNSAID_RECOVERY_MS // 1000, UNSAID_RECOVERY_MS // 1000, "s"), ("jog",))
    return None


def _repeats(part: Repeats, card: PaceCard) -> Sums:
    once = sum_all(sums_of(p, card, working=True) for p in part.body)
    only = part.body[0]
    size = (
        only.extent
        if len(part.body) == 1 and isinstance(only, Step) and isinstance(only.extent, Extent)
        else None
    )
    between = recovery_sums(unsaid_recovery(part), once, size, card)
    return once.times(part.low, part.high) + between.times(part.low - 1, part.high - 1)


def sum_all(parts: Iterable[Sums]) -> Sums:
    total = Sums()
    for sums in parts:
        total += sums
    return total


def _ladder(part: Ladder, card: PaceCard) -> Sums:
    total = Sums()
    for index, rung in enumerate(part.rungs):
        step = Step(rung, part.manners, part.target)
        work = sums_of(step, card, working=True)
        total += work
        if index < len(part.rungs) - 1:
            total += recovery_sums(part.recovery, work, rung, card)
    return total


def _run_with(part: RunWith, card: PaceCard) -> Sums:
    """The whole is as long as written; what isn't inside is run at the outer pace. Both ends of what is inside."""
    assert isinstance(part.outer.extent, Extent)
    speed = speed_of(part.outer, card, working=False)
    if speed is None or is_strides(part.inner):
        return covered(part.outer.extent, speed)
    ends = [
        _around(part.outer.extent, speed, sums_of(resolved_part(part.inner, Fraction(at)), card))
        for at in (0, 1)
    ]
    first, second = ends
    return Sums(
        _hull(first.mm, second.mm),
        _hull(first.ms, second.ms),
        _hull(first.hard_mm, second.hard_mm),
        _hull(first.hard_ms, second.hard_ms),
    )


def _hull(one: tuple[int, int], other: tuple[int, int]) -> tuple[int, int]:
    return min(one[0], other[0]), max(one[1], other[1])


def _around(whole: Extent, speed: Speed, inside: Sums) -> Sums:
    """The whole run; where paces make the inside longer than the whole, the whole as written still holds."""
    if whole.is_distance:
        mm = whole.low, whole.high
        left = max(0, mm[0] - inside.mm[1]), max(0, mm[1] - inside.mm[0])
        ms = (
            round(left[0] * speed.fast / 1000) + inside.ms[0],
            round(left[1] * speed.slow / 1000) + inside.ms[1],
        )
    else:
        ms = whole.low * 1000, whole.high * 1000
        left = max(0, ms[0] - inside.ms[1]), max(0, ms[1] - inside.ms[0])
        mm = (
            round(left[0] * 1000 / speed.slow) + inside.mm[0],
            round(left[1] * 1000 / speed.fast) + inside.mm[1],
        )
    return Sums(mm, ms, _at_most(inside.hard_mm, mm), _at_most(inside.hard_ms, ms))


def _at_most(amount: tuple[int, int], limit: tuple[int, int]) -> tuple[int, int]:
    return min(amount[0], limit[0]), min(amount[1], limit[1])


def _progression(run: Progression, card: PaceCard) -> Sums:
    first, last = progression_efforts(run)
    start = target_speed(run.start, card) if run.start else target_speed(None, card)
    if run.change and start:
        shift = seconds_per_km(run.change.shift)
        ends = [_stepped(run, start, shift, amount) for amount in (run.extent.low, run.extent.high)]
        sums = Sums((ends[0].mm[0], ends[1].mm[1]), (ends[0].ms[0], ends[1].ms[1]))
    else:
        end = target_speed(run.end or RacePace("MP"), card)
        middle = start.between(end) if start and end else start
        sums = covered(run.extent, middle)
    if max(first, last) < HARD_FROM:
        return sums
    return sums.hardened(Fraction(1) if first >= HARD_FROM else _hard_share(run, first, last))


def _hard_share(run: Progression, first: int, last: int) -> Fraction:
    """The share of the run from which it is hard, effort rising evenly (or a step after each piece)."""
    change = run.change
    if change and change.every.is_distance == run.extent.is_distance:
        needed = Fraction((HARD_FROM - first) * SECONDS_PER_EFFORT) / -seconds_per_km(change.shift)
        pieces = -(-needed.numerator // needed.denominator)
        return max(Fraction(0), 1 - Fraction(pieces * change.every.low, run.extent.high))
    return Fraction(last - HARD_FROM + 1, last - first + 1)


def _stepped(run: Progression, start: Speed, shift: Fraction, amount: int) -> Sums:
    """Piece after piece, each so much faster or slower than the one before; the last may be short."""
    assert run.change
    every, total, left, pace = run.change.every, Sums(), amount, start
    for _ in range(MOST_PIECES):
        if left <= 0:
            break
        piece = every.low
        if every.is_distance != run.extent.is_distance:
            piece = round(
                every.low * pace.middle / 1_000_000
                if every.is_distance
                else every.low * 1_000_000 / pace.middle
            )
        piece = min(left, max(1, piece))
        total += covered(Extent(piece, piece, run.extent.unit), pace)
        left -= piece
        pace = pace.shifted(shift)
    return total + (covered(Extent(left, left, run.extent.unit), pace) if left > 0 else Sums())


def _words(part: Words, card: PaceCard) -> Sums:
    """Amounts as the coach gave them; the one not given follows at easy pace, the hard one at 10K pace."""
    easy, hard = target_speed(None, card), target_speed(RacePace("10K"), card)
    total = _pair(part.distance, part.time, easy)
    strong = _pair(part.hard_distance, part.hard_time, hard)
    mm = max(total.mm[0], strong.mm[0]), max(total.mm[1], strong.mm[1])
    ms = max(total.ms[0], strong.ms[0]), max(total.ms[1], strong.ms[1])
    return Sums(mm, ms, strong.mm, strong.ms)


def _pair(distance: Extent | None, time: Extent | None, speed: Speed | None) -> Sums:
    if distance and time:
        return Sums((distance.low, distance.high), (time.low * 1000, time.high * 1000))
    given = distance or time
    return covered(given, speed) if given else Sums()
