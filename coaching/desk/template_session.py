"""One session of a template: typed as on the board, understood while it is typed, kept as words if it isn't."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from athletes.running.units import Distance, Duration
from coaching.access import CoachRequest, coach_only, template_for
from coaching.desk.board import ROLE_WORDS, Example, board, example_for
from coaching.desk.template import STALE
from coaching.fields import DistanceField, TimeField
from plans import drafting
from plans.models import NamedSession, Template, TemplateVersion
from plans.training.shorthand import (
    Measure,
    ShorthandError,
    StepLine,
    keep_words,
    lines,
    measure,
    parse,
    role_of,
    title,
    write,
)
from plans.training.steps import Extent, Words
from plans.training.steps import Session as Steps
from plans.training.template import (
    DAY_NAMES,
    LONGEST_PURPOSE,
    LONGEST_TEXT,
    Amount,
    TemplateError,
    TemplateSession,
    read_amount,
    write_amount,
)
from plans.training.template_editing import NoSuchPlace, find, put

PRIORITIES = [
    ("supporting", "supporting: may go first when time is short"),
    ("key", "key: kept if at all possible"),
]
NO_SPELLING = {"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}


@dataclass(frozen=True)
class Understood:
    """What the parser makes of a line, for the example athlete; or where it stops, and why."""

    text: str
    steps: Steps | None = None
    title: str = ""
    role: str = ""
    measure: Measure | None = None
    lines: tuple[StepLine, ...] = ()
    error: ShorthandError | None = None

    @property
    def before(self) -> str:
        return self.text[: self.error.position] if self.error else ""

    @property
    def wrong(self) -> str:
        return self.text[self.error.position : self.error.position + self.error.length] if self.error else ""

    @property
    def after(self) -> str:
        return self.text[self.error.position + self.error.length :] if self.error else ""


def understand(text: str, example: Example) -> Understood | None:
    """None for an empty line: nothing is wrong with a line not begun."""
    text = text.strip()
    if not text:
        return None
    try:
        steps = parse(text)
    except ShorthandError as error:
        return Understood(text, error=error)
    card, units = example.card, example.units
    return Understood(
        text,
        steps,
        title(steps, units),
        ROLE_WORDS[role_of(steps)],
        measure(steps, card, units),
        lines(steps, card, units),
    )


class SessionForm(forms.Form):
    """A session by itself: what is run, what it is, why."""

    text = forms.CharField(
        label="Session",
        max_length=LONGEST_TEXT,
        widget=forms.TextInput(attrs={"class": "shorthand", **NO_SPELLING}),
        help_text="As on the board: 15 min easy; 6 x 800 m @ 10K, 90 s jog; 10 min easy",
        error_messages={"required": "Write the session as on the board, like 45 min easy."},
    )
    keep = forms.BooleanField(label="Keep it as my own words", required=False)
    words_distance = DistanceField(label="Distance", required=False)
    words_time = TimeField(label="Time", required=False)
    words_hard = TimeField(label="Of it hard", required=False)
    role = forms.ChoiceField(
        label="It is", required=False, choices=[("", "as understood"), *ROLE_WORDS.items()]
    )
    purpose = forms.CharField(
        label="Why, for the athlete",
        required=False,
        max_length=LONGEST_PURPOSE,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "text" in self.errors:
            return data
        data["steps"] = self._kept() if data.get("keep") else self._parsed()
        if data["steps"] is not None:
            data["text"] = write(data["steps"]) if data.get("keep") else " ".join(data["text"].split())
            data["role"] = data.get("role") or role_of(data["steps"])
            if len(data["text"]) > LONGEST_TEXT:
                self.add_error(
                    "text", f"With its amounts it has {len(data['text'])} characters; {LONGEST_TEXT} fit."
                )
        return data

    def _parsed(self) -> Steps | None:
        try:
            return parse(self.cleaned_data["text"])
        except ShorthandError as error:
            hint = f" {error.suggestion}" if error.suggestion else ""
            self.add_error("text", f"{error.message}{hint} (character {error.position + 1})")
            return None

    def _kept(self) -> Steps | None:
        data = self.cleaned_data
        if not (data.get("words_distance") or data.get("words_time")):
            if "words_distance" not in self.errors and "words_time" not in self.errors:
                self.add_error(
                    "words_time", "Your own words count with your own amounts: give time or distance."
                )
            return None
        for name in ("words_distance", "words_time", "words_hard"):
            if data.get(name) and not _amount(data[name]):
                self.add_error(name, "An amount is above nothing.")
                return None
        words = data["text"].removeprefix("free:").partition("=")[0]
        return keep_words(
            words,
            distance=_extent(data.get("words_distance")),
            time=_extent(data.get("words_time")),
            hard_time=_extent(data.get("words_hard")),
        )


def _amount(value: Distance | Duration) -> int:
    return value.mm if isinstance(value, Distance) else round(value.s)


def _extent(value: Distance | Duration | None) -> Extent | None:
    if value is None:
        return None
    return Extent(_amount(value), _amount(value), "km" if isinstance(value, Distance) else "min")


def words_of(text: str) -> dict[str, Any]:
    """What the form shows for a session kept as words: the words, and their amounts in their own fields."""
    try:
        steps = parse(text)
    except ShorthandError:
        return {}
    first = steps.parts[0] if steps.parts else None
    if not isinstance(first, Words):
        return {}
    found: dict[str, Any] = {"text": first.text, "keep": True}
    if first.distance:
        found["words_distance"] = Distance(first.distance.low)
    if first.time:
        found["words_time"] = Duration(first.time.low * 1000)
    if first.hard_time:
        found["words_hard"] = Duration(first.hard_time.low * 1000)
    return found


class PlacedForm(SessionForm):
    """A session in its place: day, week, priority, how much of the week."""

    base = forms.IntegerField(widget=forms.HiddenInput)
    week = forms.TypedChoiceField(label="Week", coerce=int)
    day = forms.ChoiceField(
        label="Day",
        required=False,
        choices=[*((str(n), name) for n, name in enumerate(DAY_NAMES)), ("", "any day")],
    )
    priority = forms.ChoiceField(label="Priority", choices=PRIORITIES, widget=forms.RadioSelect)
    amount = forms.CharField(
        label="How much",
        required=False,
        max_length=40,
        help_text="Instead of what the session says: 8-10 km, 45-60 min, or 20 % of the week.",
    )
    second = forms.BooleanField(label="A second run on its day", required=False)

    field_order = ("base", "text", "keep", "words_distance", "words_time", "words_hard", "role", "priority")

    def __init__(self, *args: Any, weeks: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["week"].choices = [(n, f"week {n}") for n in range(1, weeks + 1)]  # type: ignore[attr-defined]

    def clean_amount(self) -> Amount | None:
        text = self.cleaned_data["amount"].strip()
        if not text:
            return None
        try:
            return read_amount(text)
        except ValueError as error:
            message = str(error)
            raise forms.ValidationError(f"{message[:1].upper()}{message[1:]}.") from error

    def session(self, key: str) -> TemplateSession:
        data = self.cleaned_data
        return TemplateSession(
            key=key,
            day=int(data["day"]) if data["day"] else None,
            role=data["role"],
            text=data["text"],
            purpose=" ".join(data["purpose"].split()),
            priority=data["priority"],
            amount=data["amount"],
            second=data["second"],
        )


def initial_of(session: TemplateSession, week: int, base: int) -> dict[str, Any]:
    return {
        "base": base,
        "week": week + 1,
        "day": "" if session.day is None else str(session.day),
        "text": session.text,
        # Left to the text while it says so itself: typed anew as something harder, it counts as that.
        "role": "" if _understood_role(session.text) == session.role else session.role,
        "priority": session.priority,
        "purpose": session.purpose,
        "amount": write_amount(session.amount) if session.amount else "",
        "second": session.second,
        **words_of(session.text),
    }


def _understood_role(text: str) -> str:
    try:
        return role_of(parse(text))
    except ShorthandError:
        return ""


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
        form.data = {**form.data.dict(), "base": stale.newest.number}  # type: ignore[union-attr]
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
