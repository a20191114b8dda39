"""Read the roster from a spreadsheet: give a file, see what each row would be, then add them. Nothing before that."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from coaching import importing
from coaching.access import CoachRequest, coach_only
from coaching.desk.invitations import invite
from coaching.spreadsheets import SheetError, rows_of, text_of

MOST_BYTES = 1_000_000
MANY = 200


class FileForm(forms.Form):
    file = forms.FileField(
        label="The sheet, saved as CSV",
        help_text="Its first row names the columns: name, mail address, group, born, runs a week, longest run.",
        error_messages={"required": "Choose a file.", "empty": "The file is empty."},
        widget=forms.FileInput(attrs={"accept": ".csv,text/csv,text/plain"}),
    )

    def clean_file(self) -> str:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError(
                f"The file is {file.size // 1000} KB; at most {MOST_BYTES // 1000} KB."
            )
        try:
            text = text_of(file.read())
            checked(text)
        except SheetError as error:
            raise forms.ValidationError(str(error)) from error
        return text


def checked(text: str) -> list[list[str]]:
    rows = rows_of(text)
    if len(rows) < 2:
        raise SheetError("There is no row below the one that names the columns.")
    if len(rows) - 1 > importing.MOST_ROWS:
        raise SheetError(f"The file has {len(rows) - 1} rows; at most {importing.MOST_ROWS} at once.")
    if max(map(len, rows)) > 60:
        raise SheetError("A row has more than 60 columns. Is this the right file?")
    return rows


@coach_only
def read(request: CoachRequest) -> HttpResponse:
    """GET the form; POST a file shows the preview; POST the preview looks again, or adds what is good."""
    if request.method != "POST":
        return render(request, "desk/roster_import.html", {"form": FileForm()})
    if "text" not in request.POST:
        form = FileForm(request.POST, request.FILES)
        if not form.is_valid():
            return render(request, "desk/roster_import.html", {"form": form}, status=422)
        text = form.cleaned_data["file"]
        return preview(request, text, importing.guessed(rows_of(text)[0]))
    text = request.POST["text"]
    try:
        rows = checked(text)
    except SheetError as error:
        messages.error(request, str(error))
        return redirect("roster-import")
    columns = columns_of(request, len(rows[0]))
    if "confirm" not in request.POST:
        return preview(request, text, columns)
    lines = importing.read(rows, columns, request.coach)
    if not any(line.good for line in lines):
        return preview(request, text, columns, "No row can be added as it stands.", 422)
    made = importing.add_all(request.coach, lines)
    invited = [
        invite(request.coach, athlete, mail) for athlete, mail in made if mail and "invite" in request.POST
    ]
    left = sum(1 for line in lines if line.errors)
    known = sum(1 for line in lines if line.known and not line.errors)
    said = [f"{len(made)} athlete{'s are' if len(made) != 1 else ' is'} on your roster now"]
    said += [f"{len(invited)} invited by mail"] if invited else []
    said += [f"{known} were on it already"] if known else []
    said += [f"{left} with errors left out"] if left else []
    messages.success(request, ", ".join(said) + ".")
    return redirect("roster")


def columns_of(request: CoachRequest, width: int) -> dict[str, int]:
    found = {}
    for key in importing.COLUMNS:
        at = request.POST.get(f"column-{key}", "")
        if at.isascii() and at.isdecimal() and len(at) < 4 and int(at) < width:
            found[key] = int(at)
    return found


def preview(
    request: CoachRequest, text: str, columns: dict[str, int], problem: str = "", status: int = 200
) -> HttpResponse:
    rows = rows_of(text)
    lines = importing.read(rows, columns, request.coach) if "name" in columns else []
    context: dict[str, Any] = {
        "text": text,
        "head": list(enumerate(rows[0])),
        "columns": [(key, words, columns.get(key)) for key, (words, _) in importing.COLUMNS.items()],
        "lines": sorted(lines, key=lambda line: (not line.errors, line.number))[:MANY],
        "more": max(0, len(lines) - MANY),
        "good": sum(line.good for line in lines),
        "wrong": sum(bool(line.errors) for line in lines),
        "known": sum(line.known and not line.errors for line in lines),
        "mails": sum(bool(line.email) and line.good for line in lines),
        "problem": problem or ("" if "name" in columns else "Say which column has the name."),
    }
    return render(request, "desk/roster_preview.html", context, status=status)
