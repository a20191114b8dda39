"""The season as a grid: a week a row, a day a column, planned and done in the same cell, the coach's draft on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property
from typing import Any
from uuid import UUID

from django.urls import reverse

from athletes.running.units import Units
from coaching.desk.board import KIND_WORDS, ROLE_WORDS
from coaching.templatetags.plain import amount, clock, rough
from plans.comparing import with_contents
from plans.editing import Edited, Season
from plans.editing_rails import Answer, Issued, answer, in_weeks, issued
from plans.issuing import Content
from plans.models import Log
from plans.reading import Item, Week, title_of, weeks_of
from plans.telling import on_day

WEEKS_BACK = 2  # so many weeks gone by stand open on the page; the earlier ones are folded
WEEKS_NEAR = 2  # so many from this one stand open on a phone too


@dataclass(frozen=True)
class Card:
    """One session in its cell. `kind`: open to be changed, gone by or logged, out (taken out), or a race."""

    key: UUID
    title: str
    lesser: str
    kind: str
    href: str
    state: str = "planned"
    state_words: str = ""
    important: bool = False
    pinned: bool = False
    edited: bool = False


@dataclass(frozen=True)
class Cell:
    offset: int
    day: date
    today: bool
    gone: bool
    cards: list[Card]
    extra: list[str] = field(default_factory=list)

    @property
    def empty(self) -> bool:
        return not self.cards and not self.extra


@dataclass(frozen=True)
class Row:
    """A week: `before_mm` is what it came to before the draft, where that differs."""

    week: Week
    cells: list[Cell]
    now: bool
    gone: bool
    before_mm: int | None
    broken: list[str]
    newly: list[str]

    @property
    def kind(self) -> str:
        return KIND_WORDS[self.week.kind]


@dataclass
class Grid:
    """Everything the page's grid is made of; computed when it is first asked for."""

    season: Season
    weeks: list[Week]

    @cached_property
    def drafted(self) -> list[Week]:
        contents = {key: edit.now for key, edit in self.season.to_send.items()}
        return with_contents(self.weeks, contents, self.season.units) if contents else self.weeks

    @cached_property
    def issued(self) -> Issued:
        return issued(self.season.found)

    @cached_property
    def said(self) -> Answer:
        return answer(self.season, self.issued)

    @cached_property
    def rows(self) -> list[Row]:
        return self.rows_of({week.number for week in self.weeks})

    def rows_of(self, numbers: set[int]) -> list[Row]:
        """The rows of these weeks, by their numbers."""
        season, today = self.season, self.season.today
        broken, fresh = in_weeks(season, self.said.before), in_weeks(season, self.said.fresh)
        outs = taken_out(season)
        made = []
        for before, week in zip(self.weeks, self.drafted, strict=True):
            if week.number not in numbers:
                continue
            differs = before.planned_mm != week.planned_mm
            made.append(
                Row(
                    week=week,
                    cells=cells_of(season, week, outs),
                    now=0 <= (today - week.first_day).days < 7,
                    gone=today > week.first_day + timedelta(6),
                    before_mm=before.planned_mm if differs else None,
                    broken=broken.get(week.number, []),
                    newly=fresh.get(week.number, []),
                )
            )
        return made

    def changed_since(self, former: Season) -> list[Row]:
        """The weeks that look different than with the former state of the same draft; only these are read."""
        numbers = self._numbers_changed(former)
        starts = [week.first_day for n, week in enumerate(self.season.found.inputs.weeks, 1) if n in numbers]
        if not starts:
            return []
        self.weeks = weeks_of(self.season.schedule, min(starts), max(starts))
        return self.rows_of(numbers)

    def _numbers_changed(self, former: Season) -> set[int]:
        season = self.season
        days: set[date] = set()
        for key in former.edits.keys() | season.edits.keys():
            was, now = former.standing.get(key), season.standing.get(key)
            if was != now or (key in former.to_send) != (key in season.to_send):
                days |= {content.day for content in (was, now, season.live.get(key)) if content is not None}
        before = answer(former, self.issued)
        weeks = enumerate(season.found.inputs.weeks, start=1)
        numbers = {n for n, week in weeks for day in days if week.first_day <= day <= week.last_day}
        for one, other in ((before.fresh, self.said.fresh), (before.before, self.said.before)):
            numbers |= {broken.week + 1 for broken in set(one) ^ set(other)}
        return numbers

    @property
    def parts(self) -> list[tuple[str, list[Row]]]:
        """The weeks in four: long gone, just gone, near and ahead, each under its name; what is empty is left out."""
        gone = sum(row.gone for row in self.rows)
        cuts = [0, max(0, gone - WEEKS_BACK), gone, gone + WEEKS_NEAR, len(self.rows)]
        names = ["early", "back", "near", "ahead"]
        parts = [(name, self.rows[a:b]) for name, a, b in zip(names, cuts, cuts[1:], strict=False)]
        return [(name, rows) for name, rows in parts if rows]

    @property
    def fresh_by_week(self) -> list[tuple[str, list[str]]]:
        """What the draft breaks, under the name of each week."""
        made: dict[str, list[str]] = {}
        for one in self.said.fresh:
            week, _, words = one.sentence.partition(": ")
            made.setdefault(week, []).append(words)
        return list(made.items())

    @property
    def steps(self) -> list[str]:
        return [step.what for step in self.season.steps]

    @property
    def blocked(self) -> list[str]:
        edits = self.season.edits.values()
        return [f"{self._name(edit)}: {edit.blocked}" for edit in edits if edit.blocked]

    @property
    def meanwhile(self) -> list[str]:
        edits = self.season.to_send.values()
        return [self._meanwhile(edit) for edit in edits if edit.meanwhile]

    def _name(self, edit: Edited) -> str:
        return f"{title_of(edit.now.steps, self.season.units)} on {on_day(edit.now.day)}"

    def _meanwhile(self, edit: Edited) -> str:
        def words(content: Content | None) -> str:
            if content is None or content.removed:
                return "taken out"
            return f"{title_of(content.steps, self.season.units)} on {on_day(content.day)}"

        return f"issued since you changed it: {words(edit.live)}; yours: {words(edit.now)}"


def taken_out(season: Season) -> dict[date, list[tuple[UUID, Content]]]:
    """What a coach took out and could put back, by day: of the draft, and of what was issued."""
    found: dict[date, list[tuple[UUID, Content]]] = {}
    for key, content in season.standing.items():
        theirs = content.pinned_by_id and key in season.live
        if content.removed and theirs and content.day >= season.today and str(key) not in season.logged:
            found.setdefault(content.day, []).append((key, content))
    return found


def cells_of(season: Season, week: Week, outs: Mapping[date, list[tuple[UUID, Content]]]) -> list[Cell]:
    made = []
    for offset, (day, items) in enumerate(week.days):
        cards = [card_of(season, item) for item in items]
        cards += [out_card(season, key, content) for key, content in outs.get(day, [])]
        extra = [f"another run, {ran_words(log, season.units)}" for log in week.extra if log.day == day]
        made.append(Cell(offset, day, day == season.today, day < season.today, cards, extra))
    return made


def card_of(season: Season, item: Item) -> Card:
    schedule = season.schedule.pk
    stands = season.standing.get(item.session_id)
    still = item.day < season.today or item.log is not None
    if item.role == "race":
        kind, href = "race", reverse("session-words", args=[item.session_id])
    elif still:
        kind, href = "still", reverse("log-for", args=[item.session_id])
    else:
        kind, href = "open", reverse("season-session", args=[schedule, item.session_id])
    return Card(
        key=item.session_id,
        title=item.title,
        lesser=lesser_of(item, season.units),
        kind=kind,
        href=href,
        state=item.state,
        state_words=state_words(item, season),
        important=item.key,
        pinned=bool(stands and stands.pinned_by_id) and not still,
        edited=item.session_id in season.to_send,
    )


def out_card(season: Season, key: UUID, content: Content) -> Card:
    return Card(
        key=key,
        title=title_of(content.steps, season.units),
        lesser="taken out",
        kind="out",
        href=reverse("season-session", args=[season.schedule.pk, key]),
        edited=key in season.to_send,
    )


def lesser_of(item: Item, units: Units) -> str:
    """Under the title: how far, unless the title says so; or what it is where nothing is run."""
    if item.role == "race" or not item.planned_mm:
        return ROLE_WORDS[item.role]
    far = rough(item.planned_mm, units)
    return "" if f" {far} " in f" {item.title} " else far


def state_words(item: Item, season: Season) -> str:
    """What became of it: run 8.1 km in 45:10, effort 4. Empty while nothing is said."""
    log = item.log
    if log is None:
        return ""
    if log.outcome == "missed":
        return log.get_reason_display()
    said = ran_words(log, season.units)
    elsewhere = f" on {log.day:%a}" if log.day != item.day else ""
    return f"{'cut short, ' if log.outcome == 'cut' else ''}{said}{elsewhere}"


def ran_words(log: Log, units: Units) -> str:
    said = [amount(log.distance_mm, units)] if log.distance_mm else []
    if log.moving_s:
        said.append(f"in {clock(log.moving_s)}" if said else clock(log.moving_s))
    words = " ".join(said)
    if log.effort is not None:
        words = f"{words}, effort {log.effort}" if words else f"effort {log.effort}"
    return words


def context_of(season: Season, weeks: list[Week], problem: str = "", words: str = "") -> dict[str, Any]:
    """What `desk/_season.html` needs."""
    return {
        "grid": Grid(season, weeks),
        "schedule": season.schedule,
        "athlete": season.schedule.athlete,
        "units": season.units,
        "base": base_of(season),
        "problem": problem,
        "words": words or season.words,
    }


def base_of(season: Season) -> str:
    """What a page was made from: the version that is issued, and how far the draft was."""
    return f"{season.schedule.current_version}.{season.revision}"
