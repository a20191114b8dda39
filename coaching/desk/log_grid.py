"""Ticked handouts typed in: a row an athlete, a column a day, a cell a session. Nothing that stands is overwritten."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID, uuid4, uuid5

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.db import transaction
from django.db.models import Min
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from athletes.models import Athlete, Group
from coaching.access import CoachRequest, coach_only, groups_to_meet
from coaching.desk.week import asked_group, asked_week
from coaching.phone.logging import told
from coaching.typed_runs import LONGEST, CellError, read_cell
from coaching.week_rows import days_of, items_by_day
from plans.models import Schedule, Session, SessionIssue
from plans.reading import RUNS, Item
from plans.recording import Clash, Entry, record

A_PAGE = 30


@dataclass
class GridCell:
    """One session. `typed` is what the coach wrote, kept until it is stored; `error` is what is wrong with it."""

    item: Item
    open: bool  # its day has come and nothing stands
    typed: str = ""
    error: str = ""
    entry: Entry | None = None

    @property
    def name(self) -> str:
        return f"c-{self.item.session_id}"


@dataclass
class GridRow:
    athlete: Athlete
    days: list[tuple[date, list[GridCell]]]

    @property
    def cells(self) -> Iterable[GridCell]:
        return (cell for _, cells in self.days for cell in cells)


def rows_of(athletes: Sequence[Athlete], first: date) -> list[GridRow]:
    """A row for each athlete whose plan has runs in these seven days, in a constant number of queries."""
    running = Schedule.objects.filter(athlete__in=athletes, state="running").select_related("athlete")
    weeks = items_by_day(list(running), first)
    found = []
    for athlete in athletes:
        today = athlete.today()
        items = [item for week in weeks.get(athlete.pk, ()) for item in week.items if item.is_run]
        days = [
            (day, [GridCell(i, open=day <= today and i.log is None) for i in items if i.day == day])
            for day in days_of(first)
        ]
        if any(cells for _, cells in days):
            found.append(GridRow(athlete, days))
    return found


@coach_only
def log_grid(request: CoachRequest) -> HttpResponse:
    """GET the grid in the order of the printed pile; POST stores all cells, or none while one of them is wrong."""
    today = timezone.localdate()
    first = asked_week(request, today)
    groups = list(groups_to_meet(request.user))
    group = asked_group(request, groups)
    page = Paginator(with_plan(request, group, first), A_PAGE).get_page(request.GET.get("page"))
    rows = rows_of(list(page.object_list), first)
    token = form_token(request)
    status = 200
    if request.method == "POST":
        status = 422
        if read(request, rows, first, token):
            if store(request, rows):
                return redirect(request.get_full_path())
            rows, token = again(rows, first), uuid4()
    return show(request, rows, page, first, groups, group, token, status)


def with_plan(request: CoachRequest, group: Group | None, first: date) -> list[Athlete]:
    """By group, then name, as the handouts are printed."""
    runs = SessionIssue.objects.filter(
        schedule__state="running",
        to_version=None,
        removed=False,
        role__in=RUNS,
        day__range=(first, first + timedelta(6)),
    )
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    mine = mine.filter(pk__in=runs.values("schedule__athlete"))
    if group:
        mine = mine.filter(groups=group)
    return list(mine.annotate(first_group=Min("groups__name")).order_by("first_group", "name", "pk"))


def form_token(request: CoachRequest) -> UUID:
    """Of the page as it was opened: sent twice, its entries count once."""
    try:
        return UUID(request.POST.get("form", ""))
    except ValueError:
        return uuid4()


def read(request: CoachRequest, rows: Sequence[GridRow], first: date, token: UUID) -> bool:
    """Read every cell; False where one of them is wrong."""
    good = True
    for row in rows:
        for cell in row.cells:
            cell.typed = request.POST.get(cell.name, "").strip()[: LONGEST * 2]
            if not cell.typed:
                continue
            number = uuid5(token, str(cell.item.session_id))
            if cell.item.log is not None and cell.item.log.pk == number:
                cell.typed = ""  # this very page was sent before
                continue
            try:
                cell.entry = read_cell(cell.typed, row.athlete, cell.item, first, number)
            except CellError as error:
                cell.error, good = str(error), False
    return good


def store(request: CoachRequest, rows: Sequence[GridRow]) -> bool:
    """Record what was read, one job an athlete; False where an athlete was quicker: theirs stands, the rest is kept."""
    kept, holds, people = 0, set(), set()
    sessions = Session.objects.in_bulk([c.item.session_id for row in rows for c in row.cells if c.entry])
    with transaction.atomic():
        for row in rows:
            for cell in row.cells:
                if cell.entry is None:
                    continue
                try:
                    record(row.athlete, sessions[cell.item.session_id], cell.entry, by=request.user)
                except Clash as clash:
                    standing = told(clash.standing, row.athlete.units)
                    cell.error = f"Not stored: logged meanwhile: {standing}."
                    continue
                kept, cell.typed = kept + 1, ""
                people.add(row.athlete.pk)
                if cell.entry.reason in ("ill", "pain"):
                    holds.add(row.athlete.name)
    said(request, kept, len(people), sorted(holds))
    return not any(cell.error for row in rows for cell in row.cells)


def again(rows: Sequence[GridRow], first: date) -> list[GridRow]:
    """The rows as they stand now, with what was not stored still in its cells."""
    kept = {cell.name: cell for row in rows for cell in row.cells if cell.error}
    fresh = rows_of([row.athlete for row in rows], first)
    for cell in (cell for row in fresh for cell in row.cells if cell.name in kept):
        cell.typed, cell.error = kept[cell.name].typed, kept[cell.name].error
    return fresh


def said(request: CoachRequest, kept: int, people: int, holds: Sequence[str]) -> None:
    if kept:
        entries = "1 entry" if kept == 1 else f"{kept} entries"
        whom = "1 athlete" if people == 1 else f"{people} athletes"
        messages.success(request, f"{entries} of {whom} stored, marked as typed by you.")
    else:
        messages.info(request, "Nothing new was typed.")
    if holds:
        messages.warning(
            request, f"On hold now, ill or in pain: {', '.join(holds)}. Nothing hard until cleared."
        )


def show(
    request: CoachRequest,
    rows: Sequence[GridRow],
    page: Page[Athlete],
    first: date,
    groups: Sequence[Group],
    group: Group | None,
    token: UUID,
    status: int,
) -> HttpResponse:
    context = {
        "rows": rows,
        "page": page,
        "first": first,
        "before": first - timedelta(7),
        "after": first + timedelta(7),
        "days": days_of(first),
        "groups": groups,
        "group": group,
        "form_token": token,
        "wrong": sum(bool(cell.error) for row in rows for cell in row.cells),
        "open": any(cell.open for row in rows for cell in row.cells),
    }
    return render(request, "desk/log_grid.html", context, status=status)
