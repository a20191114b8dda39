"""One session of a template: typed as on the board, understood while it is typed, kept as words if it isn't."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from coaching.access import CoachRequest, coach_only, template_for
from coaching.desk.board import board, example_for
from coaching.desk.session_forms import PlacedForm, initial_of, understand, words_of
from coaching.desk.template import STALE
from plans import drafting
from plans.models import NamedSession, Template, TemplateVersion
from plans.training.template import (
    DAY_NAMES,
    TemplateError,
)
from plans.training.template_editing import NoSuchPlace, find, put


@coach_only
def new_session(request: CoachRequest, pk: int) -> HttpResponse:
    """A session more, on the week and day of the address."""
    one = template_for(request.user, pk)
    version = one.latest
    week, day = request.GET.get("week", ""), request.GET.get("day", "")
    initial = {
        "base": version.number,
        "week": int(week) if week.isdecimal() and len(week) < 4 else 1,
        "day": day if day in ("", *map(str, range(7))) else "",
        "priority": "supporting",
    }
    return edit(request, one, version, str(uuid4()), initial, new=True)


@coach_only
def session(request: CoachRequest, pk: int, key: UUID) -> HttpResponse:
    one = template_for(request.user, pk)
    version = one.latest
    try:
        week, written = find(version.plan, str(key))
    except NoSuchPlace:
        if request.method != "POST":
            raise Http404 from None
        # Removed while it was being edited: what was typed is kept, and put back if the coach wishes.
        return edit(request, one, version, str(key), {}, new=True)
    return edit(request, one, version, str(key), initial_of(written, week, version.number), new=False)


def edit(
    request: CoachRequest,
    one: Template,
    version: TemplateVersion,
    key: str,
    initial: dict[str, Any],
    *,
    new: bool,
) -> HttpResponse:
    """GET the form; POST looks (what was understood), takes a named session, or saves."""
    example = example_for(request)
    do = request.POST.get("do", "save")
    if request.method == "POST" and do == "look":
        understood = understand(request.POST.get("text", ""), example)
        return render(
            request, "desk/template_session.html#understood", {"understood": understood, "example": example}
        )
    weeks = len(version.plan.weeks)
    status = 200
    if request.method == "POST" and do == "take":
        form = PlacedForm(initial={**request.POST.dict(), **taken(request)}, weeks=weeks)
    elif request.method == "POST":
        form = PlacedForm(request.POST, weeks=weeks)
        if form.is_valid():
            status = keep(request, one, form, key)
            if status == 200:
                return done(request, one, key)
        status = 422 if status == 200 else status
    else:
        form = PlacedForm(initial=initial, weeks=weeks)
    text = form["text"].value() or ""
    context = {
        "template": one,
        "form": form,
        "key": key,
        "new": new,
        "understood": None if form["keep"].value() else understand(text, example),
        "example": example,
        "named": NamedSession.objects.all(),
        "action": request.get_full_path() if new else reverse("template-session", args=[one.pk, key]),
        "version": version,
        "moves": moves_of(version, key),
    }
    page = "desk/template_session.html"
    return render(request, f"{page}#form" if request.htmx else page, context, status=status)


def moves_of(version: TemplateVersion, key: str) -> list[tuple[str, str]]:
    """Plain buttons to the neighbouring days and weeks, each with its `week:day`."""
    plan = version.plan
    try:
        week, written = find(plan, key)
    except NoSuchPlace:
        return []
    steps = [
        ("A day earlier", week, written.day - 1 if written.day is not None else 6),
        ("A day later", week, written.day + 1 if written.day is not None else 0),
        ("A week earlier", week - 1, written.day),
        ("A week later", week + 1, written.day),
    ]
    return [
        (words, f"{to + 1}:{'' if day is None else day}")
        for words, to, day in steps
        if 0 <= to < len(plan.weeks) and (day is None or 0 <= day <= 6)
    ]


def taken(request: CoachRequest) -> dict[str, Any]:
    """The fields that a session of the library fills."""
    wanted = request.POST.get("named", "")
    named = NamedSession.objects.filter(pk=int(wanted)).first() if wanted.isdecimal() else None
    if named is None:
        return {}
    key = "key" if named.role in ("quality", "long") else "supporting"
    return {"text": named.steps, "role": named.role, "purpose": named.purpose, "priority": key, "keep": False,
            **words_of(named.steps)}  # fmt: skip


def keep(request: CoachRequest, one: Template, form: PlacedForm, key: str) -> int:
    """Save the session in its week: 200, or the status of what stood in the way, said in the form."""
    written = form.session(key)
    week = form.cleaned_data["week"]
    where = DAY_NAMES[written.day] if written.day is not None else "any day"
    try:
        drafting.change(
            one,
            form.cleaned_data["base"],
            lambda plan: put(plan, week - 1, written),
            by=request.coach,
            what=f"week {week}, {where}: {written.text}",
        )
    except drafting.StaleTemplate as stale:
        form.data = {**request.POST.dict(), "base": stale.newest.number}
        form.add_error(None, f"{stale} What you typed is kept; save again to put it into that version.")
        return STALE
    except TemplateError as error:
        for problem in error.problems:
            form.add_error(None, str(problem))
        return 422
    except NoSuchPlace as error:
        form.add_error("week", str(error))
        return 422
    return 200


def done(request: CoachRequest, one: Template, key: str) -> HttpResponse:
    one.refresh_from_db()
    if not request.htmx:
        return redirect(reverse("template", args=[one.pk]) + f"#s-{key}")
    response = render(request, "desk/template.html#board", {**board(request, one, one.latest), "saved": key})
    response["HX-Retarget"] = "#board"
    response["HX-Reswap"] = "outerHTML"
    return response
