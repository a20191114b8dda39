"""A session line by line, in words for an athlete.

Law of this file: plain words, the athlete's units, one idea a line. The shorthand is for the coach; nothing of
its signs is shown here. What a pace card can't tell is left empty, never guessed in print.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from athletes.running.paces import PaceCard
from athletes.running.units import Duration, Units, show_duration
from plans.training.intensity import RACE_EFFORT, effort, has_hard, progression_efforts
from plans.training.speeds import race_speed, target_speed
from plans.training.steps import (
    BetweenPaces,
    Extent,
    FixedPace,
    Ladder,
    Manner,
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
from plans.training.summing import recovery_sums, sums_of, unsaid_recovery
from plans.training.sums import Sums
from plans.training.titles import title
from plans.training.wording import (
    TRACK_MM,
    goal_words,
    pace_text,
    race_name,
    rungs_text,
    show_extent,
    step_pace,
    target_words,
    time_text,
    times_text,
)
from plans.training.words import MANNER_WORDS
from plans.training.writing import is_strides

__all__ = ["StepLine", "lines", "title"]


@dataclass(frozen=True, slots=True)
class StepLine:
    """One line of a session.

    `amount` "3 min", "800 m", "6 ×" (a heading of repeats); `words` what to do; `pace` in the athlete's units, empty
    where there is none; `split` the time for a piece written as a distance, or empty; `effort` 0 to 10;
    `seconds` (low, high) of the line once; `times` how often at most the line is done in the whole session, so that a
    picture can be drawn; `indent` 0 for the session's parts, 1 inside repeats, 2 inside repeats of repeats;
    `hard` whether it counts as hard; `recovery` for what stands between repeats.
    """

    amount: str
    words: str
    pace: str = ""
    split: str = ""
    effort: int = 0
    seconds: tuple[int, int] = (0, 0)
    times: int = 1
    indent: int = 0
    hard: bool = False
    recovery: bool = False
    heading: bool = False


def lines(session: Session, card: PaceCard, units: Units = "km") -> tuple[StepLine, ...]:
    """The session line by line, for a page or a handout; the coach's note last. A day of rest has one line."""
    note = (StepLine("", f"Note: {session.note}"),) if session.note else ()
    if not session.parts:
        return (StepLine("", "Rest: no training today"), *note)
    hard = [index for index, part in enumerate(session.parts) if has_hard(part)]
    found: list[StepLine] = []
    for index, part in enumerate(session.parts):
        place: Manner | None = None
        if hard and index < hard[0]:
            place = "warm-up"
        elif hard and index > hard[-1]:
            place = "cool-down"
        found += _Lines(card, units).of(_placed(part, place))
    said = (replace(line, words=line.words[:1].upper() + line.words[1:]) for line in found)
    return (*said, *note)


def _placed(part: Part, place: Manner | None) -> Part:
    """An easy run before or after the hard part is the warm-up or the cool-down."""
    if place and isinstance(part, Step) and part.target is None and part.manners in (("easy",), (), ("jog",)):
        return replace(part, manners=(place,))
    return part


@dataclass(frozen=True, slots=True)
class _Lines:
    """Writes parts for one card; `times` and `indent` grow inside repeats."""

    card: PaceCard
    units: Units
    times: int = 1
    indent: int = 0

    def of(self, part: Part, *, working: bool = False) -> Iterator[StepLine]:
        match part:
            case Step():
                yield self._step(part, working=working)
            case Repeats():
                yield from self._repeats(part)
            case Ladder():
                yield from self._ladder(part)
            case RunWith():
                yield from self._run_with(part)
            case _:
                yield self._whole(part)

    def _line(self, amount: str, words: str, sums: Sums, **more: object) -> StepLine:
        seconds = (sums.ms[0] + 500) // 1000, (sums.ms[1] + 500) // 1000
        line = StepLine(amount, words, seconds=seconds, times=self.times, indent=self.indent)
        return replace(line, **more)  # type: ignore[arg-type]

    def _step(self, step: Step, *, working: bool, prefix: str = "") -> StepLine:
        sums = sums_of(step, self.card, working=working)
        amount = show_extent(step.extent, self.units) if isinstance(step.extent, Extent) else ""
        words = " ".join(filter(None, [prefix, _step_words(step, self.units, working=working)]))
        return self._line(
            amount,
            words,
            sums,
            pace=step_pace(step, self.card, self.units, working=working),
            split=_split(step, sums, working=working),
            effort=effort(step, working=working),
            hard=sums.hard_ms[1] > 0,
        )

    def _recovery(
        self, recovery: Step | None, work: Sums, size: Extent | None, times: int, *, said: bool
    ) -> Iterator[StepLine]:
        if recovery is None or times < 1:
            return
        sums = recovery_sums(recovery, work, size, self.card)
        words = f"{' or '.join(MANNER_WORDS[m] for m in recovery.manners or ('jog',))} between"
        amount = show_extent(recovery.extent, self.units) if isinstance(recovery.extent, Extent) else ""
        if recovery.extent == "equal":
            amount, words = (
                (show_extent(size, self.units) if size else ""),
                f"{words}, as long as the piece before",
            )
        elif recovery.extent == "back":
            words = words.removesuffix(" between") + " back to the start"
        elif not said or recovery.extent is None:
            amount, words = (
                "",
                f"{words} until you are ready, about {time_text(sums.ms[1] // 1000, short=True)}",
            )
        yield replace(
            self._line(amount, words, sums, effort=effort(recovery, working=False), recovery=True),
            times=self.times * times,
        )

    def _repeats(self, part: Repeats) -> Iterator[StepLine]:
        only = part.body[0]
        sums = sums_of(part, self.card)
        plain = len(part.body) == 1 and isinstance(only, Step)
        inner = replace(self, times=self.times * part.high, indent=self.indent + (0 if plain else 1))
        if is_strides(part) and isinstance(only, Step):
            yield self._strides(part, only)
            if part.recovery is None:
                return
        elif plain:
            line = inner._step(part.body[0], working=True)  # type: ignore[arg-type]
            times = times_text(part.low, part.high) if part.high > 1 else ""
            yield replace(line, amount=f"{times} {line.amount}".strip())
        else:
            yield self._line(times_text(part.low, part.high), "repeat", sums, heading=True)
            for inside in part.body:
                yield from inner.of(inside, working=True)
        work = Sums()
        for inside in part.body:
            work += sums_of(inside, self.card, working=True)
        size = only.extent if plain and isinstance(only, Step) and isinstance(only.extent, Extent) else None
        said = part.recovery is not None
        yield from self._recovery(unsaid_recovery(part), work, size, part.high - 1, said=said)

    def _strides(self, part: Repeats, only: Step) -> StepLine:
        given = show_extent(only.extent, self.units) if isinstance(only.extent, Extent) else "about 20 s"
        words = f"{MANNER_WORDS['strides']}; walk or jog back until you are ready"
        if part.recovery is not None:
            words = MANNER_WORDS["strides"]
        sums = sums_of(only, self.card, working=True)
        line = self._line(
            f"{times_text(part.low, part.high)} {given}", words, sums, effort=effort(only, working=True)
        )
        return replace(line, times=self.times * part.high)

    def _ladder(self, part: Ladder) -> Iterator[StepLine]:
        yield self._line(rungs_text(part.rungs, self.units), "ladder", sums_of(part, self.card), heading=True)
        inner = replace(self, indent=self.indent + 1)
        for index, rung in enumerate(part.rungs):
            step = Step(rung, part.manners, part.target)
            yield inner._step(step, working=True)
            if index < len(part.rungs) - 1:
                yield from inner._recovery(
                    part.recovery, sums_of(step, self.card, working=True), rung, 1, said=True
                )

    def _run_with(self, part: RunWith) -> Iterator[StepLine]:
        """The whole run first, then what it holds."""
        whole = self._step(part.outer, working=False)
        sums = sums_of(part, self.card)
        inside = sums_of(part.inner, self.card)
        if is_strides(part.inner):
            yield whole
            yield from self.of(part.inner)
            return
        until = (
            " until the last part" if isinstance(part.inner, Step) else ", before and after what is inside"
        )
        rest = max(0, sums.ms[0] - inside.ms[1]), max(0, sums.ms[1] - inside.ms[0])
        yield replace(
            whole,
            seconds=((rest[0] + 500) // 1000, (rest[1] + 500) // 1000),
            split="",
            words=f"{whole.words}{until}",
        )
        inner = replace(self, indent=self.indent + 1)
        if isinstance(part.inner, Step):
            line = inner._step(part.inner, working=False)
            yield replace(line, amount=f"last {line.amount}")
        else:
            yield from inner.of(part.inner)

    def _whole(self, part: Part) -> StepLine:
        sums = sums_of(part, self.card)
        match part:
            case Progression():
                return self._progression(part, sums)
            case Race(extent, target):
                aim = "" if isinstance(target, FixedPace) else target_words(target, self.units)
                words = " ".join(filter(None, ["race", aim]))
                speed = target_speed(target, self.card) if target else race_speed(extent, self.card)
                pace = pace_text(speed, self.units)
                return self._line(
                    race_name(extent, self.units), words, sums, pace=pace, effort=RACE_EFFORT, hard=True
                )
            case Other(kind, extent, activity):
                name = "strength" if kind == "strength" else "cross-training"
                words = f"{name}: {activity}" if activity else name
                return self._line(show_extent(extent, self.units) if extent else "", words, sums, effort=3)
            case Words(text, distance, time):
                amount = ", ".join(show_extent(e, self.units) for e in (distance, time) if e)
                return self._line(
                    amount, text, sums, effort=6 if sums.hard_ms[1] else 3, hard=sums.hard_ms[1] > 0
                )
            case _:
                raise TypeError(part)

    def _progression(self, run: Progression, sums: Sums) -> StepLine:
        start = target_speed(run.start, self.card) if run.start else target_speed(None, self.card)
        first, last = progression_efforts(run)
        words = f"get faster evenly, from {goal_words(run.start, self.units) if run.start else 'easy'}"
        if run.change:
            shift = run.change.shift
            way = "faster" if shift.seconds < 0 else "slower"
            every = run.change.every
            each = every.unit if every.low in (1_000_000, 1_609_344) else show_extent(every, self.units)
            words = f"start {target_words(run.start, self.units) or 'easy'}, then {abs(shift.seconds)} s/{shift.per} {way} after every {each}"
        else:
            words += f" to {goal_words(run.end, self.units) if run.end else 'marathon pace'}"
        pace = f"from {pace_text(start, self.units)}" if start else ""
        return self._line(
            show_extent(run.extent, self.units),
            words,
            sums,
            pace=pace,
            effort=(first + last + 1) // 2,
            hard=sums.hard_ms[1] > 0,
        )


def _step_words(step: Step, units: Units, *, working: bool) -> str:
    target = "" if isinstance(step.target, FixedPace) else target_words(step.target, units)
    if not step.manners and isinstance(step.target, FixedPace):
        return "even pace"
    if not step.manners:
        return target or ("quick and even" if working else "easy")
    manner = " or ".join("long run, easy" if m == "long" else MANNER_WORDS[m] for m in step.manners)
    if "long" in step.manners and target:
        return f"long run, {target}"
    return f"{manner}, {target}" if target else manner


def _split(step: Step, sums: Sums, *, working: bool) -> str:
    """The time for one piece written as a distance, up to 5 km: what an athlete reads on the watch."""
    extent = step.extent
    paced = isinstance(step.target, RacePace | BetweenPaces | FixedPace)
    if not (working and paced and isinstance(extent, Extent) and extent.is_distance):
        return ""
    if extent.low != extent.high or extent.high > TRACK_MM:
        return ""
    low, high = (show_duration(Duration((ms + 500) // 1000 * 1000)) for ms in sums.ms)
    return low if low == high else f"{low}–{high}"
