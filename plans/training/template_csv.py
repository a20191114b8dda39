"""A season plan as a spreadsheet: a row a session, the week's kind and purpose on its first row.

The plan's own facts stand in the last columns of the first row. Texts that a spreadsheet would take for a
formula get an apostrophe in front when written, and lose it when read.
"""

from __future__ import annotations

import csv
import io
from itertools import zip_longest
from typing import Any

from plans.training.template import Problem, Template, TemplateError
from plans.training.template_file import (
    LARGEST_FILE,
    PLAN_FIELDS,
    SESSION_FIELDS,
    template_from_values,
    template_to_values,
)

WEEK_COLUMNS = ("week", "kind", "week_purpose")
PLAN_COLUMNS = tuple(name for name in PLAN_FIELDS if name != "weeks")
COLUMNS = (*WEEK_COLUMNS, *SESSION_FIELDS, *PLAN_COLUMNS)


def write_csv(template: Template) -> str:
    """The template as CSV text with a head row; `read_csv` gives the same template back."""
    values = template_to_values(template)
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    for number, week in enumerate(values.pop("weeks"), 1):
        first: dict[str, Any] = {"week": number, "kind": week["kind"], "week_purpose": week["purpose"]}
        for session in week["sessions"] or [{}]:
            writer.writerow({name: _guarded(value) for name, value in {**first, **session, **values}.items()})
            first, values = {"week": number}, {}
    return out.getvalue()


def read_csv(text: str) -> Template:
    """A template from CSV with commas, semicolons or tabs. Raises TemplateError with every problem found."""
    if len(text) > LARGEST_FILE:
        raise TemplateError(
            (Problem("", f"The file has {len(text)} characters; {LARGEST_FILE} can be read."),)
        )
    text = text.removeprefix("\ufeff")
    head = text.partition("\n")[0]
    delimiter = max(",;\t", key=head.count)
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise TemplateError((Problem("", f"This isn't a CSV file: {error}."),)) from None
    columns = [name.strip().lower().replace(" ", "_") for name in rows[0]] if rows else []
    _check_columns(columns)
    table = [dict(zip_longest(columns, row, fillvalue="")) for row in rows[1:] if any(map(str.strip, row))]
    return template_from_values(_values(table))


def _check_columns(columns: list[str]) -> None:
    unknown = [name for name in columns if name and name not in COLUMNS]
    missing = [name for name in ("week", "session", "role", "name") if name not in columns]
    found = [Problem("", f"There is no column “{name}”; known are {', '.join(COLUMNS)}.") for name in unknown]
    found += [Problem("", f"The column “{name}” is missing.") for name in missing]
    if found:
        raise TemplateError(tuple(found))


def _values(table: list[dict[str, str]]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    weeks: dict[int, dict[str, Any]] = {}
    found: list[Problem] = []
    for line, row in enumerate(table, 2):
        cells = {name: value.strip() for name, value in row.items() if name and value.strip()}
        for name in PLAN_COLUMNS:
            if name in cells:
                values.setdefault(name, _bare(cells[name]))
        number = cells.get("week", "")
        if not number.isdecimal() or not 1 <= int(number) <= 500:
            found.append(Problem(f"Line {line}", f"The week “{number}” isn't a number from 1."))
            continue
        week = weeks.setdefault(int(number), {"kind": "", "purpose": "", "sessions": []})
        week["kind"] = week["kind"] or cells.get("kind", "")
        week["purpose"] = week["purpose"] or _bare(cells.get("week_purpose", ""))
        session = {name: _bare(cells[name]) for name in SESSION_FIELDS if name in cells}
        if session:
            week["sessions"].append(session)
    expected = range(1, len(weeks) + 1)
    found += [Problem("", f"Week {n} has no row.") for n in expected if n not in weeks]
    if found:
        raise TemplateError(tuple(found))
    return {**values, "weeks": [weeks[n] for n in sorted(weeks)]}


def _guarded(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "'") else value


def _bare(text: str) -> str:
    return text[1:] if text[:1] == "'" and text[1:2] in ("=", "+", "-", "@", "'") else text
