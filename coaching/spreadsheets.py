"""CSV files to and from a spreadsheet program."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from django.http import HttpResponse

# A spreadsheet runs what begins like this as a formula (OWASP, CSV injection).
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


class SheetError(ValueError):
    """Why a file can't be read; the message is for whoever gave it."""


def cell(value: object) -> str:
    """A cell that stays text: what a program would run as a formula gets an apostrophe before it."""
    text = "" if value is None else str(value)
    return f"'{text}" if text.lstrip(" \u00a0").startswith(FORMULA) or text.startswith(FORMULA) else text


def as_csv(rows: Iterable[Sequence[object]], name: str) -> HttpResponse:
    """A download; with a mark at its beginning by which spreadsheet programs know UTF-8."""
    file = io.StringIO()
    csv.writer(file).writerows([cell(value) for value in row] for row in rows)
    response = HttpResponse("\ufeff" + file.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    response["Cache-Control"] = "no-store"
    return response


def text_of(data: bytes) -> str:
    """The text of an uploaded file: UTF-8, else the encoding of older spreadsheet programs."""
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise SheetError("This is not a text file. Save the sheet as CSV and give that.")


def rows_of(text: str) -> list[list[str]]:
    """The rows that say something, cells trimmed; the separator is found by itself (comma, semicolon or tab).

    An apostrophe that `cell` put before a formula's first character is taken off again.
    """
    first = text.lstrip("\ufeff\r\n").partition("\n")[0]
    separator = max(",;\t", key=first.count)
    try:
        read = list(csv.reader(io.StringIO(text.lstrip("\ufeff")), delimiter=separator, strict=True))
    except csv.Error as error:
        raise SheetError(f"The file can't be read as CSV ({error}). Save the sheet as CSV again.") from error
    rows = [[plain(one) for one in row] for row in read]
    return [row for row in rows if any(row)]


def plain(value: str) -> str:
    value = value.strip()
    return value[1:] if value.startswith("'") and value[1:].lstrip(" ").startswith(FORMULA) else value
