"""One session of a running season, changed in place: what is typed is understood while it is typed, and the guard
rails answer beside it. Nothing is issued here: a save is one step of the coach's draft.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.datastructures import MultiValueDict

from coaching.access import CoachRequest, coach_only
from coaching.desk.board import Example, example_for
from coaching.desk.season import base_of
from coaching.desk.season_acts import STALE, after, change, typed_words, unseen, with_season
from coaching.desk.session_forms import SessionForm, understand, understood_role, words_of
from coaching.desk.template_session import taken
from coaching.fields import day_input
from plans import editing, editing_acts
from plans.comparing import with_contents
from plans.editing import NotPossible, Season, StaleDraft, Step
from plans.editing_rails import answer
from plans.issuing import Content
from plans.models import NamedSession
from plans.reading import Week, week_of

TAKEN = [("swap", "change places with what stands there"), ("beside", "both that day")]
ACTS: dict[str, Callable[[Season, UUID], Step]] = {
    "out": editing_acts.remove,
    "back": editing_acts.put_back,
    "pin": lambda season, key: editing_acts.pin(season, key, True),
    "unpin": lambda season, key: editing_acts.pin(season, key, False),
}


class SeasonForm(SessionForm):
    """A session on its day. `base` is what the page was made from."""

    base = forms.CharField(widget=forms.HiddenInput, required=False)
    day = forms.DateField(label="Day", widget=day_input())
    taken = forms.ChoiceField(label="If that day is taken", choices=TAKEN, required=False)

    field_order = ("base", "text", "keep", "words_distance", "words_time", "words_hard", "day", "role")

    def __init__(self, *args: Any, season: Season, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        first, last = season.first_and_last
        self.fields["day"].widget.attrs |= {"min": first.isoformat(), "max": last.isoformat()}

    def step(self, season: Season, key: UUID, *, new: bool) -> Step:
        """What the form comes to. Raises NotPossible."""
        data = self.cleaned_data
        words = (data["text"], data["role"], " ".join(data["purpose"].split()), data["day"])
        text, role, purpose, day = words
        if new:
            return editing_acts.add(season, day, text, role, purpose, key)
        beside = data["taken"] == "beside"
        return editing_acts.write(season, key, text, role, purpose, day, beside=beside)


def initial_of(content: Content) -> dict[str, Any]:
    return {
        "text": content.steps,
        "role": "" if understood_role(content.steps) == content.role else content.role,
        "purpose": content.purpose,
        "day": content.day,
        "taken": "swap",
        **words_of(content.steps),
    }


@coach_only
@with_season
def new_session(request: CoachRequest, season: Season) -> HttpResponse:
    """A session more, on the day of the address; `like`: with the words of another one."""
    asked = request.GET.get("day", "")
    first, _ = season.first_and_last
    try:
        day = max(first, date.fromisoformat(asked))
    except ValueError:
        day = first
    initial: dict[str, Any] = {"day": day, "taken": "beside"}
    try:
        like = season.standing.get(UUID(request.GET.get("like", "")))
    except ValueError:
        like = None
    if like is not None:
        initial |= {**initial_of(like), "day": day}
    return edit(request, season, uuid4(), initial, None)


@coach_only
@with_season
def session(request: CoachRequest, season: Season, key: UUID) -> HttpResponse:
    content = season.standing.get(key)
    if content is None:
        raise Http404
    do = request.POST.get("do", "")
    if do in ACTS:
        return change(request, season, lambda one: ACTS[do](one, key), f"s-{key}")
    return edit(request, season, key, initial_of(content), content)


def edit(
    request: CoachRequest, season: Season, key: UUID, initial: dict[str, Any], content: Content | None
) -> HttpResponse:
    """GET the form; POST looks, takes a named session, or saves."""
    example, do = example_of(request, season), request.POST.get("do", "save")
    if request.method == "POST" and do == "look":
        return look(request, season, key, content, example)
    status = 200
    if request.method == "POST" and do == "take":
        form = SeasonForm(initial={**request.POST.dict(), **taken(request)}, season=season)
    elif request.method == "POST":
        form = SeasonForm(request.POST, season=season)
        status, made = keep(request, form, season, key, new=content is None)
        if made is not None:
            return after(request, season, made, f"s-{key}")
    else:
        form = SeasonForm(initial={"base": base_of(season), **initial}, season=season)
    text = form["text"].value() or ""
    address = "season-session-new" if content is None else "season-session"
    args = [season.schedule.pk] if content is None else [season.schedule.pk, key]
    context = {
        "schedule": season.schedule,
        "athlete": season.schedule.athlete,
        "form": form,
        "key": key,
        "content": content,
        "waits": bool(season.steps),
        "base": base_of(season),
        "understood": None if form["keep"].value() else understand(text, example),
        "look": look_at(season, form, key, content),
        "example": example,
        "units": season.units,
        "named": NamedSession.objects.all(),
        "action": reverse(address, args=args),
        "moves": moves_of(season, key, content),
        "stays": why_not(season, key, content),
    }
    page = "desk/season_session.html"
    return render(request, f"{page}#form" if request.htmx else page, context, status=status)


def example_of(request: CoachRequest, season: Season) -> Example:
    """The athlete's own paces; a schedule without a card is reckoned for nobody in particular."""
    if season.card is None:
        return example_for(request)
    return Example(season.schedule.athlete, season.card, season.units)


def look(
    request: CoachRequest, season: Season, key: UUID, content: Content | None, example: Example
) -> HttpResponse:
    """What was understood so far, and what the guard rails say of it."""
    form = SeasonForm(request.POST, season=season)
    context = {
        "understood": None if request.POST.get("keep") else understand(request.POST.get("text", ""), example),
        "example": example,
        "look": look_at(season, form, key, content),
        "units": season.units,
    }
    return render(request, "desk/_understood.html", context)


def look_at(season: Season, form: SeasonForm, key: UUID, content: Content | None) -> dict[str, Any] | None:
    """The week with this change in it, and what it does to the guard rails. None for what can't be read yet."""
    if not form.is_bound:
        asked = {name: form.initial.get(name) for name in form.fields if form.initial.get(name) is not None}
        form = SeasonForm(MultiValueDict({k: [v] for k, v in asked.items()}), season=season)
    if not form.is_valid():
        return None
    problem = ""
    try:
        drafted = season.with_step(form.step(season, key, new=content is None))
    except NotPossible as error:
        drafted, problem = season, "" if str(error) == "Nothing was changed." else str(error)
    day = form.cleaned_data["day"]
    first = week_of(day, season.schedule.week_starts)
    was, now = (week_in(one, first) for one in (season, drafted))
    return {
        "problem": problem,
        "day": day,
        "was_mm": was.planned_mm,
        "now_mm": now.planned_mm,
        "said": answer(drafted, base=season),
    }


def week_in(season: Season, first: date) -> Week:
    """One week with what stands in the draft, for its sums."""
    contents = {key: c for key, c in season.standing.items() if 0 <= (c.day - first).days < 7}
    return with_contents([Week(first, 0, 0, "base", "", ())], contents, season.units)[0]


def moves_of(season: Season, key: UUID, content: Content | None) -> list[tuple[str, str]]:
    """Plain buttons to the neighbouring days and weeks, each with its date."""
    if content is None or content.removed:
        return []
    first, last = season.first_and_last
    steps = [("A day earlier", -1), ("A day later", 1), ("A week earlier", -7), ("A week later", 7)]
    days = [(words, content.day + timedelta(n)) for words, n in steps]
    return [(words, day.isoformat()) for words, day in days if first <= day <= last]


def why_not(season: Season, key: UUID, content: Content | None) -> str:
    """Why the session can't be changed; empty when it can."""
    if content is None:
        return ""
    try:
        editing_acts.session(season, key)
    except NotPossible as error:
        return str(error)
    return ""


def keep(
    request: CoachRequest, form: SeasonForm, season: Season, key: UUID, *, new: bool
) -> tuple[int, Season | None]:
    """Save the form as a step of the draft: the season with it, or the status of what stood in the way."""
    if not form.is_valid():
        return 422, None
    problem = unseen(request, season)
    if not problem:
        try:
            return 200, editing.keep(season, form.step(season, key, new=new), typed_words(request))
        except NotPossible as error:
            form.add_error(None, str(error))
            return 422, None
        except StaleDraft:
            problem = "This draft was changed in another window."
    form.data = {**request.POST.dict(), "base": base_of(season)}
    form.add_error(None, f"{problem} What you typed is kept; look at it again, then save.")
    return STALE, None
