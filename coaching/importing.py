"""The roster out of a spreadsheet: which column is what, what each row says, and what is wrong with it.

Law: reading stores nothing; `add_all` stores every good row or none. Somebody who is on the roster already, by name
(and by birthday where both are known), is not added again, so the same file twice makes no doubles.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone

from athletes.models import Athlete, Coach, CoachAthlete, Group, Membership, Practice
from athletes.running.units import UnitError, Units, parse_distance

COLUMNS = {
    "name": ("Name", ("name", "athlete", "runner", "full name")),
    "first": ("First name", ("first name", "first", "given name")),
    "email": ("Mail address", ("mail", "email", "e-mail", "mail address", "email address")),
    "group": ("Group", ("group", "groups", "training group", "team")),
    "units": ("km or miles", ("units", "unit")),
    "born": ("Born", ("born", "birthday", "date of birth", "birth date", "dob")),
    "weekly": ("Runs a week", ("weekly", "week", "weekly distance", "km a week", "miles a week", "volume")),
    "longest": ("Longest run", ("longest", "longest run", "long run")),
}
MOST_ROWS = 1000
MILES = ("mi", "mile", "miles")


@dataclass
class Line:
    """One row as it would be stored. `number` is the row in the file; `known` is on the roster already."""

    number: int
    name: str = ""
    email: str = ""
    groups: tuple[str, ...] = ()
    units: Units = "km"
    born: date | None = None
    weekly_mm: int = 0
    longest_mm: int = 0
    known: bool = False
    errors: list[str] = field(default_factory=list)

    @property
    def good(self) -> bool:
        return not self.errors and not self.known


def guessed(head: Sequence[str]) -> dict[str, int]:
    """The columns by their heads: field to column number, each column once."""
    heads = [one.casefold().strip(" :*") for one in head]
    found: dict[str, int] = {}
    for name, (_, known_as) in COLUMNS.items():
        at = next((i for i, one in enumerate(heads) if one in known_as and i not in found.values()), None)
        if at is not None:
            found[name] = at
    if "name" not in found:
        last = next(
            (i for i, one in enumerate(heads) if one in ("last name", "surname", "family name")), None
        )
        if last is not None:
            found["name"] = last
    return found


def read(rows: Sequence[Sequence[str]], columns: dict[str, int], coach: Coach) -> list[Line]:
    """Each row below the head with what is wrong with it; twice the same person in the file is an error."""
    practice = Practice.get()
    born_of: dict[str, list[date | None]] = {}
    for name, born in Athlete.objects.for_user(coach.user).values_list("name", "born"):
        born_of.setdefault(name.casefold(), []).append(born)
    lines: list[Line] = []
    seen: dict[tuple[str, date | None], int] = {}
    for number, row in enumerate(rows[1:], start=2):
        line = one_line(number, row, columns, "mi" if practice.units == "mi" else "km")
        same = born_of.get(line.name.casefold(), [])
        line.known = any(not born or not line.born or born == line.born for born in same)
        key = (line.name.casefold(), line.born)
        if line.name and key in seen:
            line.errors.append(f"The same person as row {seen[key]}.")
        seen.setdefault(key, number)
        lines.append(line)
    return lines


def one_line(number: int, row: Sequence[str], columns: dict[str, int], units: Units) -> Line:
    said = {key: row[at] if at < len(row) else "" for key, at in columns.items()}
    line = Line(number, " ".join(f"{said.get('first', '')} {said.get('name', '')}".split()))
    if not line.name:
        line.errors.append("There is no name.")
    elif len(line.name) > 80:
        line.errors.append(f"The name has {len(line.name)} letters; at most 80 fit.")
    if line.email == "" and (mail := said.get("email", "").lower()):
        try:
            validate_email(mail)
            line.email = mail
        except ValidationError:
            line.errors.append(f"“{mail[:60]}” is not a whole mail address.")
    groups = [one.strip() for one in said.get("group", "").replace(";", ",").split(",")]
    line.groups = tuple(one for one in groups if one)
    if any(len(one) > 60 for one in line.groups):
        line.errors.append("A group's name has at most 60 letters.")
    wanted = said.get("units", "").casefold()
    line.units = "mi" if wanted in MILES else "km" if wanted else units
    if wanted and wanted not in (*MILES, "km", "kilometres", "kilometers"):
        line.errors.append(f"Units are km or miles, not “{wanted[:20]}”.")
    if text := said.get("born", ""):
        line.born = day_of(text)
        if line.born is None or not date(1900, 1, 1) <= line.born <= timezone.localdate():
            line.errors.append(f"“{text[:20]}” is no birthday; write it like 1988-05-04.")
            line.born = None
    line.weekly_mm = far(said.get("weekly", ""), "a week", line)
    line.longest_mm = far(said.get("longest", ""), "longest run", line)
    return line


def day_of(text: str) -> date | None:
    """A day written without doubt: year first, or with dots, or its month in letters. 4/5/1988 could be two days."""
    for shape in ("%Y-%m-%d", "%Y/%m/%d", "%d.%m.%Y", "%d %B %Y", "%d %b %Y"):
        try:
            return datetime.strptime(text, shape).date()  # noqa: DTZ007 - a day has no zone
        except ValueError:
            continue
    return None


def far(text: str, what: str, line: Line) -> int:
    if not text:
        return 0
    try:
        mm = parse_distance(text.replace(",", ".") if text.count(",") == 1 else text, line.units).mm
    except UnitError:
        line.errors.append(f"“{text[:20]}” is no distance ({what}); write a number or 40 km.")
        return 0
    if mm > 400_000_000:
        line.errors.append(f"“{text[:20]}” is further than anybody runs ({what}).")
    return mm


@transaction.atomic
def add_all(coach: Coach, lines: Sequence[Line]) -> list[tuple[Athlete, str]]:
    """Every good line as an athlete of this coach, with the mail address for an invitation."""
    practice, today = Practice.get(), timezone.now().date()
    made = []
    for line in lines:
        if not line.good:
            continue
        values: dict[str, Any] = {
            "declared_weekly_mm": line.weekly_mm,
            "declared_longest_mm": line.longest_mm,
            "born": line.born,
        }
        athlete = Athlete.objects.create(
            name=line.name, units=line.units, time_zone=practice.time_zone, **values
        )
        CoachAthlete.objects.create(coach=coach, athlete=athlete, since=today)
        for name in line.groups:
            group, _ = Group.objects.get_or_create(name=name)
            Membership.objects.get_or_create(group=group, athlete=athlete)
        made.append((athlete, line.email))
    return made
