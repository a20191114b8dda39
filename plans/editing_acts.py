"""What a coach does to a running season, each as one step of the draft: move, write, add, take out, pin.

Whatever is written or moved by hand is a pin of the coach who did it. Races are moved by their date, on their page.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from uuid import UUID, uuid4

from plans.editing import NotPossible, Season, Step, in_free_slot, within
from plans.issuing import Content
from plans.measures import totals
from plans.reading import title_of
from plans.telling import on_day
from plans.training.intensity import role_of
from plans.training.shorthand import parse

Put = dict[UUID, tuple[Content | None, Content]]


def session(season: Season, key: UUID) -> Content:
    """What stands for a session, to be changed. NotPossible where it may not be."""
    content = season.standing.get(key)
    if content is None:
        raise NotPossible("This session is no longer in the season.")
    if content.role == "race":
        raise NotPossible("A race is moved by its date: use “Move the race” above.")
    if str(key) in season.logged:
        raise NotPossible("It is logged already. Correct the log instead.")
    if content.day < season.today:
        raise NotPossible("Its day has gone by. Log it instead.")
    return content


def _put(season: Season, contents: Mapping[UUID, Content]) -> Put:
    return {key: (season.live.get(key), content) for key, content in contents.items()}


def move(season: Season, key: UUID, day: date, *, beside: bool = False) -> Step:
    """To another day. One session there already: the two change places, unless both shall stand that day."""
    content = session(season, key)
    within(season, day)
    if day == content.day:
        raise NotPossible("It stands on that day already.")
    if content.removed:
        raise NotPossible("It was taken out. Put it back first.")
    there = season.on(day)
    moved = replace(content, day=day, slot=0, pinned_by_id=season.coach.pk, bent={})
    name = title_of(content.steps, season.units)
    if len(there) == 1 and not beside:
        other, stood = next(iter(there.items()))
        if stood.role != "race" and str(other) not in season.logged:
            swapped = replace(
                stood, day=content.day, slot=content.slot, pinned_by_id=season.coach.pk, bent={}
            )
            what = f"{name} and {title_of(stood.steps, season.units)} change places, {on_day(content.day)} and {on_day(day)}"
            moved = replace(moved, slot=stood.slot)
            return Step(what, _put(season, {key: moved, other: swapped}))
    placed = in_free_slot(moved, {(c.day, c.slot) for c in there.values()})
    what = f"{name} from {on_day(content.day)} to {on_day(day)}"
    return Step(what, _put(season, {key: placed}))


def write(
    season: Season, key: UUID, text: str, role: str, purpose: str, day: date, *, beside: bool = False
) -> Step:
    """Another text, kind, purpose or day; on a taken day as `move` does."""
    content = session(season, key)
    if content.removed:
        raise NotPossible("It was taken out. Put it back first.")
    moved: Step | None = None
    if day != content.day:
        moved = move(season, key, day, beside=beside)
        season = season.with_step(moved)
    stood = season.standing[key]
    new = written(season, stood, text, role, purpose)
    if new == stood:
        if moved is None:
            raise NotPossible("Nothing was changed.")
        return moved
    title, before = title_of(text, season.units), title_of(content.steps, season.units)
    said = f"{title} instead of {before}" if text != content.steps else f"{title}: kind or purpose"
    put = _put(season, {key: replace(new, pinned_by_id=season.coach.pk, bent={})})
    if moved is None:
        return Step(f"{said} on {on_day(day)}", put)
    return Step(f"{moved.what}; {said}", {**moved.put, **put})


def written(season: Season, content: Content, text: str, role: str, purpose: str) -> Content:
    """The content with another text; the amounts stay where the text does."""
    new = replace(content, steps=text, role=role or role_of(parse(text)), purpose=purpose)
    if text == content.steps and not content.removed and (content.planned_mm or content.planned_s):
        return new
    mm, s = totals(text, season.card, season.units) or (0, 0)
    return replace(new, planned_mm=mm, planned_s=s)


def add(season: Season, day: date, text: str, role: str, purpose: str, key: UUID | None = None) -> Step:
    """A session more; on a day that has one, a second one."""
    within(season, day)
    kind = role or role_of(parse(text))
    if kind == "race":
        raise NotPossible("Races are entered on the races' page, so that the season knows of them.")
    blank = Content(day, 0, kind, kind not in ("quality", "long"), text, purpose, 0, 0, season.coach.pk)
    new = in_free_slot(
        written(season, blank, text, kind, purpose), {(c.day, c.slot) for c in season.on(day).values()}
    )
    what = f"{title_of(text, season.units)} put in on {on_day(day)}"
    return Step(what, _put(season, {key or uuid4(): new}))


def remove(season: Season, key: UUID) -> Step:
    content = session(season, key)
    if content.removed:
        raise NotPossible("It was taken out already.")
    out = replace(content, removed=True, planned_mm=0, planned_s=0, pinned_by_id=season.coach.pk, bent={})
    return Step(
        f"{title_of(content.steps, season.units)} on {on_day(content.day)} taken out",
        _put(season, {key: out}),
    )


def put_back(season: Season, key: UUID) -> Step:
    """What was taken out stands again, as it is written."""
    content = session(season, key)
    if not content.removed:
        raise NotPossible("It stands already.")
    within(season, content.day)
    mm, s = totals(content.steps, season.card, season.units) or (0, 0)
    back = replace(
        content, removed=False, planned_mm=mm, planned_s=s, pinned_by_id=season.coach.pk, bent={}, slot=0
    )
    placed = in_free_slot(back, {(c.day, c.slot) for c in season.on(content.day).values()})
    what = f"{title_of(content.steps, season.units)} put back on {on_day(content.day)}"
    return Step(what, _put(season, {key: placed}))


def pin(season: Season, key: UUID, fixed: bool) -> Step:
    """Fixed: re-balancing leaves it as it stands. Not fixed: re-balancing may change it again."""
    content = session(season, key)
    if bool(content.pinned_by_id) == fixed:
        raise NotPossible("It is pinned already." if fixed else "It isn't pinned.")
    new = replace(content, pinned_by_id=season.coach.pk if fixed else None)
    title = title_of(content.steps, season.units)
    what = f"{title} on {on_day(content.day)} {'pinned' if fixed else 'unpinned'}"
    return Step(what, _put(season, {key: new}))
