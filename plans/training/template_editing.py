"""Changes to a season plan, each a function from one template to the next. Nothing is changed in place.

Law: a session keeps its key through every edit; a copy gets keys of its own. Whether the outcome is well formed
is asked of `template.problems` by whoever keeps it: on the way a plan may stand without its race.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from uuid import uuid4

from plans.training.template import (
    RUNS,
    Template,
    TemplateSession,
    TemplateWeek,
    WeekKind,
    place_of,
)


class NoSuchPlace(LookupError):
    """The week or session isn't there (any more)."""


def find(template: Template, key: str) -> tuple[int, TemplateSession]:
    """The week (from 0) a session stands in, and the session."""
    for number, week in enumerate(template.weeks):
        for session in week.sessions:
            if session.key == key:
                return number, session
    raise NoSuchPlace("This session is no longer in the plan.")


def put(template: Template, week: int, session: TemplateSession) -> Template:
    """With the session in that week: added, or in place of the one with its key."""
    template = without(template, session.key)
    rows = _week(template, week).sessions
    return _with_week(template, week, replace(template.weeks[week], sessions=_sorted((*rows, session))))


def without(template: Template, key: str) -> Template:
    """Without the session of that key; unchanged if there is none."""
    weeks = tuple(
        replace(week, sessions=tuple(s for s in week.sessions if s.key != key))
        if any(s.key == key for s in week.sessions)
        else week
        for week in template.weeks
    )
    return replace(template, weeks=weeks)


def moved(template: Template, key: str, week: int, day: int | None) -> Template:
    """The session on another day. A run that stands there already takes the place that became free."""
    was, session = find(template, key)
    there = next((s for s in _week(template, week).sessions if _in_the_way(s, session, day)), None)
    if there is not None:
        template = put(template, was, replace(there, day=session.day))
    return put(template, week, replace(session, day=day))


def _in_the_way(there: TemplateSession, coming: TemplateSession, day: int | None) -> bool:
    first_runs = all(s.role in RUNS and not s.second for s in (there, coming))
    return first_runs and day is not None and there.day == day and there.key != coming.key


def with_week_words(template: Template, week: int, kind: WeekKind, purpose: str) -> Template:
    return _with_week(template, week, replace(_week(template, week), kind=kind, purpose=purpose))


def week_added(template: Template, week: int) -> Template:
    """An empty week before this one, of its kind unless that is the race week."""
    kind = _week(template, week).kind
    made = TemplateWeek("taper" if kind == "race" else kind, "")
    return replace(template, weeks=(*template.weeks[:week], made, *template.weeks[week:]))


def week_copied(template: Template, week: int) -> Template:
    """The week twice: its copy comes right before it, so that a race week stays last; a race isn't copied."""
    written = _week(template, week)
    kind: WeekKind = "taper" if written.kind == "race" else written.kind
    copies = tuple(_copy(s) for s in written.sessions if s.role != "race")
    made = replace(written, kind=kind, sessions=copies)
    return replace(template, weeks=(*template.weeks[:week], made, *template.weeks[week:]))


def week_removed(template: Template, week: int) -> Template:
    _week(template, week)
    weeks = template.weeks[:week] + template.weeks[week + 1 :]
    return replace(template, weeks=weeks, least_weeks=max(1, min(template.least_weeks, len(weeks))))


def week_earlier(template: Template, week: int) -> Template:
    """The week and the one before it change places."""
    if not 1 <= week < len(template.weeks):
        raise NoSuchPlace("No week comes before this one.")
    rows = list(template.weeks)
    rows[week - 1], rows[week] = rows[week], rows[week - 1]
    return replace(template, weeks=tuple(rows))


def week_later(template: Template, week: int) -> Template:
    if not 0 <= week < len(template.weeks) - 1:
        raise NoSuchPlace("No week comes after this one.")
    return week_earlier(template, week + 1)


def week_days_later(template: Template, week: int) -> Template:
    """Every session of the week a day later; Sunday's comes to Monday. The race keeps its day."""
    rows = tuple(
        s if s.day is None or s.role == "race" else replace(s, day=(s.day + 1) % 7)
        for s in _week(template, week).sessions
    )
    return _with_week(template, week, replace(template.weeks[week], sessions=_sorted(rows)))


WeekChange = Callable[[Template, int], Template]

WEEK_CHANGES: dict[str, tuple[WeekChange, str]] = {
    "copy": (week_copied, "copied"),
    "add": (week_added, "added before it"),
    "remove": (week_removed, "removed"),
    "earlier": (week_earlier, "put a week earlier"),
    "later": (week_later, "put a week later"),
    "days": (week_days_later, "every session a day later"),
}
"""What can be done to a whole week: by the name in an address, with the words for the list of versions."""


def duplicated(template: Template, name: str) -> Template:
    """The same plan under another name, with keys of its own."""
    weeks = tuple(replace(w, sessions=tuple(map(_copy, w.sessions))) for w in template.weeks)
    return replace(template, name=name, weeks=weeks)


def blank(name: str, weeks: int, race_mm: int | None) -> Template:
    """A plan to begin with: empty weeks, and the race on the last Sunday."""
    rows = [TemplateWeek("base", "") for _ in range(weeks)]
    if race_mm is not None:
        race = TemplateSession(str(uuid4()), 6, "race", f"race {race_mm / 1_000_000:.7g} km", "", "key")
        rows[-1] = TemplateWeek("race", "", (race,))
    return Template(name=name, weeks=tuple(rows), race_mm=race_mm)


def _copy(session: TemplateSession) -> TemplateSession:
    return replace(session, key=str(uuid4()))


def _week(template: Template, week: int) -> TemplateWeek:
    if not 0 <= week < len(template.weeks):
        raise NoSuchPlace(f"{place_of(week, None)} is no longer in the plan.")
    return template.weeks[week]


def _with_week(template: Template, week: int, written: TemplateWeek) -> Template:
    _week(template, week)
    return replace(template, weeks=(*template.weeks[:week], written, *template.weeks[week + 1 :]))


def _sorted(sessions: tuple[TemplateSession, ...]) -> tuple[TemplateSession, ...]:
    """By day, first runs first, any-day sessions last; otherwise in the order written."""
    return tuple(
        sorted(sessions, key=lambda s: (7 if s.day is None else s.day, s.role not in RUNS or s.second))
    )
