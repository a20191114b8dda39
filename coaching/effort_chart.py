"""Pictures of effort: of one session over time, and week by week what was asked for and what was given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from athletes.models import PaceCard
from athletes.running.units import Duration, show_duration
from plans.drawing import Chart, label, legend, line, number, path, picture, rect, table, told
from plans.measures import card_of_text, card_text
from plans.reading import Item, Week, understood
from plans.training.asking import effort_asked, is_hard_asked

MOST = 10


@dataclass(frozen=True)
class Stretch:
    """One piece of a session in the order it is run: repeats written out. effort 0 to 10."""

    seconds: int
    effort: float
    words: str


@dataclass(frozen=True)
class Mean:
    """So many runs with an effort given: what they asked for and what was given, on the mean."""

    asked: float
    given: float
    runs: int


@dataclass(frozen=True)
class EffortWeek:
    """One week; None where no run of that kind has an effort."""

    label: str
    easy: Mean | None = None
    hard: Mean | None = None


def effort_weeks(weeks: Sequence[Week], card: PaceCard | None) -> list[EffortWeek]:
    """Runs of the plan that were logged with an effort; anything else says nothing here."""
    text = card_text(card.values) if card else ""
    found = []
    for week in weeks:
        pairs = [pair for item in week.items if (pair := _pair(item, text)) is not None]
        found.append(
            EffortWeek(
                f"Week {week.number}",
                _mean([p for p in pairs if not is_hard_asked(p[0])]),
                _mean([p for p in pairs if is_hard_asked(p[0])]),
            )
        )
    return found


def _pair(item: Item, card: str) -> tuple[int, int] | None:
    if not card or not item.is_run or item.log is None or item.log.effort is None:
        return None
    asked = asked_by(item.steps, card)
    return None if asked is None else (asked, item.log.effort)


@lru_cache(maxsize=20_000)
def asked_by(text: str, card: str) -> int | None:
    steps = understood(text)
    return effort_asked(steps, card_of_text(card)) if steps is not None else None


def _mean(pairs: Sequence[tuple[int, int]]) -> Mean | None:
    if not pairs:
        return None
    n = len(pairs)
    return Mean(sum(asked for asked, _ in pairs) / n, sum(given for _, given in pairs) / n, n)


def effort_against_plan(
    weeks: Sequence[EffortWeek], *, now: int | None = None, width: float = 640
) -> Chart | None:
    """Two bars a week, easy runs and hard sessions: outline asked for, filled given. None without any effort."""
    if not any(week.easy or week.hard for week in weeks):
        return None
    left, right, top, floor = 30.0, 4.0, 26.0, 160.0
    slot = (width - left - right) / max(len(weeks), 1)
    bar = min(slot * 0.4, 14.0)

    def y(effort: float) -> float:
        return floor - (floor - top) * effort / MOST

    centres = [left + slot * (i + 0.5) for i in range(len(weeks))]
    plan: list[str] = []
    key: list[str] = []
    run: list[str] = []
    hits: list[str] = []
    for x, week in zip(centres, weeks, strict=True):
        for mean, at, outline in ((week.easy, x - bar - 0.5, plan), (week.hard, x + 0.5, key)):
            if mean is not None:
                outline.append(rect(at, y(mean.asked), bar, floor - y(mean.asked)))
                run.append(rect(at + 2, y(mean.given), bar - 4, floor - y(mean.given)))
        if week.easy or week.hard:
            hits.append(told(x - slot / 2, top, slot, floor - top, _words(week), width - right))
    every = -(-24 // int(max(slot, 1)))
    parts = [
        path("c-axis", (line(left, y(n), width - right, y(n)) for n in range(0, MOST + 1, 2))),
        path("c-run", run),
        path("c-plan", plan),
        path("c-key", key),
        *(label(left - 5, y(n) + 4, str(n), "end") for n in range(0, MOST + 1, 2)),
        *(
            label(x, floor + 14, str(i + 1), "middle")
            for i, x in enumerate(centres)
            if i % every == 0 or i == now
        ),
        legend("effort 0 to 10; outline asked for, filled given; heavy: hard sessions"),
        *hits,
    ]
    if now is not None and 0 <= now < len(weeks):
        parts.append(path("c-now", [rect(centres[now] - bar, floor + 17, 2 * bar, 2.5)]))
    title = "Effort asked for and given, week by week, easy runs and hard sessions"
    heads = ("Week", "Easy: asked", "given", "runs", "Hard: asked", "given", "sessions")
    return Chart(title, picture(title, width, floor + 22, parts), table(title, heads, _rows(weeks)))


def _words(week: EffortWeek) -> str:
    said = [
        f"{name} {mean.given:.1f} for {mean.asked:.1f}"
        for name, mean in (("easy", week.easy), ("hard", week.hard))
        if mean
    ]
    return f"{week.label}: {', '.join(said)}"


def _rows(weeks: Sequence[EffortWeek]) -> list[tuple[str, ...]]:
    rows = []
    for week in weeks:
        if week.easy or week.hard:
            cells = []
            for mean in (week.easy, week.hard):
                cells += [f"{mean.asked:.1f}", f"{mean.given:.1f}", str(mean.runs)] if mean else ["", "", ""]
            rows.append((week.label, *cells))
    return rows


def effort_over_time(stretches: Sequence[Stretch], *, width: float = 358) -> Chart:
    """A session as it feels: one block a stretch, as wide as it lasts, as tall as its effort (0 to 10)."""
    top, floor = 4.0, 74.0
    total = sum(s.seconds for s in stretches) or 1
    blocks, x = [], 0.5
    for s in stretches:
        wide = (width - 1) * s.seconds / total
        tall = max((floor - top) * min(max(s.effort, 0.0), 10.0) / 10, 2.0)
        blocks.append(rect(x, floor - tall, max(wide - min(1.5, wide / 4), 0.5), tall))
        x += wide
    rows = [
        (s.words, show_duration(Duration(s.seconds * 1000)), f"{number(s.effort)} of 10") for s in stretches
    ]
    title = "Effort over time: " + ", ".join(f"{words} {time}" for words, time, _ in rows)
    parts = [
        path("c-area", blocks),
        path("c-axis", [line(0, floor + 0.5, width, floor + 0.5)]),
        label(0, floor + 14, "start"),
        label(width, floor + 14, show_duration(Duration(total * 1000)), "end"),
    ]
    figures = table("Effort over time", ("Part", "Time", "Effort"), rows)
    return Chart(title, picture(title, width, floor + 18, parts), figures)
