"""The athlete's own past runs from a table: shown first, kept when the athlete says so."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from athletes.running.history import (
    MOST_BYTES,
    Heads,
    History,
    HistoryError,
    UnknownColumns,
    heads_of,
    read_history,
)
from coaching.access import AthleteRequest, athlete_only
from coaching.phone.reading import units_of
from coaching.uploads import too_big
from plans import filing

TOO_BIG = "At most 1 MB, some 5000 runs, at once. Nothing was kept."
NAMES = {"day": "Day", "distance": "Distance", "time": "Time"}


class HistoryForm(forms.Form):
    file = forms.FileField(
        label="CSV file",
        widget=forms.FileInput(
            attrs={"accept": ".csv,text/csv", "data-most": MOST_BYTES, "data-too-big": TOO_BIG}
        ),
    )


class ColumnsForm(forms.Form):
    """The text of the file comes along, so that it can be read again with other columns."""

    text = forms.CharField(widget=forms.HiddenInput, strip=False)
    name = forms.CharField(widget=forms.HiddenInput, max_length=120)
    month_first = forms.TypedChoiceField(
        label="A day like 3/4/2026 is",
        choices=[("", "the 3rd of April"), ("1", "March the 4th")],
        coerce=bool,
        required=False,
    )

    def __init__(self, *args: Any, heads: Heads, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.heads = heads
        for column, label in NAMES.items():
            options = [(str(n), words) for n, words in enumerate(heads.words())]
            options = [("", "none" if column == "time" else "choose"), *options]
            self.fields[column] = forms.ChoiceField(
                label=label,
                choices=options,
                required=column != "time",
                error_messages={"required": "Say which column it is."},
            )


@athlete_only
def past_runs(request: AthleteRequest) -> HttpResponse:
    """GET: choose a file. POST a file: what was read. POST `text`: read it again, or keep it."""
    if request.method == "POST" and "text" in request.POST:
        return again(request)
    form = HistoryForm()
    if request.method == "POST":
        form = HistoryForm(request.POST, request.FILES)
        file = request.FILES.get("file")
        if too_big(request) or (file is not None and (file.size or 0) > MOST_BYTES):
            form.errors["file"] = form.error_class([TOO_BIG])
        elif form.is_valid():
            try:
                return shown(
                    request, decoded(form.cleaned_data["file"].read()), form.cleaned_data["file"].name
                )
            except HistoryError as error:
                form.add_error("file", f"{error} Nothing was kept.")
        elif "empty" in str(form.errors):
            form.errors["file"] = form.error_class(["This file is empty. Nothing was kept."])
    return render(request, "phone/past_runs.html", {"form": form}, status=422 if form.errors else 200)


def decoded(content: bytes) -> str:
    """Its letters: UTF-8, or what spreadsheets write on older machines. Line ends as a form would send them."""
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = content.decode("utf-16", errors="replace")
    else:
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = content.decode("cp1252", errors="replace")
    return "\n".join(text.splitlines())


def read(request: AthleteRequest, text: str, **chosen: Any) -> History:
    return read_history(text, units=units_of(request.athlete), today=request.athlete.today(), **chosen)


def shown(request: AthleteRequest, text: str, name: str) -> HttpResponse:
    if filing.known_file(request.athlete, filing.digest(text.encode())):
        raise HistoryError("You sent this very file before: its runs are here.")
    known = {"text": text, "name": name[:120]}
    try:
        history = read(request, text)
    except UnknownColumns as error:
        found = {column: str(at) for column, at in error.found.items()}
        return page(request, ColumnsForm(heads=error.heads, initial=known | found), None, 200)
    known["month_first"] = "1" if history.month_first else ""
    found = {column: str(at) for column, at in history.columns.items()}
    return page(request, ColumnsForm(heads=history.heads, initial=known | found), history, 200)


def page(request: AthleteRequest, form: ColumnsForm, history: History | None, status: int) -> HttpResponse:
    """What was read; without it, which column is which is asked."""
    if history is None:
        return render(request, "phone/past_runs_columns.html", {"form": form}, status=status)
    sifted = filing.sift(request.athlete, history.runs)
    words = history.heads.words()
    context = {
        "form": form,
        "understood": [(NAMES[column], words[at]) for column, at in history.columns.items()],
        "history": history,
        "sifted": sifted,
        "units": sifted.units,
        "total_mm": sum(run.distance.mm for run in sifted.new),
    }
    return render(request, "phone/past_runs_read.html", context, status=status)


def again(request: AthleteRequest) -> HttpResponse:
    text = "\n".join(request.POST["text"].splitlines())
    try:
        form = ColumnsForm(request.POST, heads=heads_of(text))
        if not form.is_valid():
            return page(request, form, None, 422)
        data = form.cleaned_data
        columns = {name: int(data[name]) for name in NAMES if data[name]}
        history = read(request, text, columns=columns, month_first=bool(data["month_first"]))
    except HistoryError as error:
        start = HistoryForm()
        start.errors["file"] = start.error_class([f"{error} Nothing was kept."])
        return render(request, "phone/past_runs.html", {"form": start}, status=422)
    if "keep" not in request.POST:
        return page(request, form, history, 200)
    return kept(request, history, text, data["name"])


def kept(request: AthleteRequest, history: History, text: str, name: str) -> HttpResponse:
    new = filing.sift(request.athlete, history.runs).new
    sha256 = filing.digest(text.encode())
    try:
        count = filing.record_history(request.athlete, new, sha256=sha256, name=name, by=request.user)
    except filing.SameFile:
        messages.info(request, "This very file is here already: its runs count once.")
        return redirect("today")
    messages.success(request, f"{count} past run{'s' * (count != 1)} kept.")
    return redirect("today")
