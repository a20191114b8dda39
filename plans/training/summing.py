"""What each part of a session comes to, by its kind.

Law of this file: recoveries stand between repeats, so once less often than the work. Running at a recovery's jog,
and walking, count as distance; standing does not. Estimates where a card says nothing are named here, common
practice without a source.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from athletes.running.paces import PaceCard
from plans.training.intensity import is_hard
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
    Step,
    Words,
)
from plans.training.summing_progressions import progression_sums
from plans.training.sums import Sums, covered, for_ms, mm_in, ms_at, sum_all
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
# "Jog back" takes twice as long as the work, "walk back" three times, over the same distance.
JOG_BACK, WALK_BACK = 2, 3
NONE, ALL = Fraction(0), Fraction(1)  # the ends of a range


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
            return progression_sums(part, card)
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
            return for_ms(DRILLS_MS, None)
        case ("warm-up",):
            return for_ms(WARM_UP_MS, speed)
        case ("cool-down",):
            return for_ms(COOL_DOWN_MS, speed)
        case ("strides",):
            return for_ms(STRIDE_MS, speed)
        case ("hill",):
            return for_ms(HILL_MS, speed)
        case _:
            return for_ms(RECOVERY_MS, speed)


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
    return Sums((mm_in(work.ms[0], speed.slow), mm_in(work.ms[1], speed.fast)), work.ms)


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
    least, most = (resolved_part(part.inner, end) for end in (NONE, ALL))
    first = _around(part.outer.extent, speed, sums_of(least, card))
    if least == most:
        return first
    second = _around(part.outer.extent, speed, sums_of(most, card))
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
            ms_at(left[0], speed.fast) + inside.ms[0],
            ms_at(left[1], speed.slow) + inside.ms[1],
        )
    else:
        ms = whole.low * 1000, whole.high * 1000
        left = max(0, ms[0] - inside.ms[1]), max(0, ms[1] - inside.ms[0])
        mm = (
            mm_in(left[0], speed.slow) + inside.mm[0],
            mm_in(left[1], speed.fast) + inside.mm[1],
        )
    return Sums(mm, ms, _at_most(inside.hard_mm, mm), _at_most(inside.hard_ms, ms))


def _at_most(amount: tuple[int, int], limit: tuple[int, int]) -> tuple[int, int]:
    return min(amount[0], limit[0]), min(amount[1], limit[1])


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
