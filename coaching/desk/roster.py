"""The roster: one line an athlete, those who need a word first. What it says is kept (`coaching.roster_lines`)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.db.models import Count, Exists, F, Max, OuterRef, Q
from django.db.models.fields.json import KeyTextTransform
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import SafeString

from athletes.models import Athlete, Coach, HealthNote, NoteReading
from athletes.models.people import AthleteQuerySet
from coaching import roster_lines
from coaching.access import CoachRequest, coach_only, groups_for
from coaching.models import RosterLine
from plans import editing, unread
from plans.models import Message, Race

ON_A_PAGE = 100
SORTS = {
    "": "urgent first",
    "name": "by name",
    "race": "by race day",
    "last": "longest silent",
}
SHOWN = {
    "": "Everyone",
    "word": "Needs a word",
    "hold": "On hold",
    "proposal": "Open proposal",
    "none": "No schedule",
}


@dataclass(frozen=True)
class Row:
    """What one line says."""

    athlete: Athlete
    values: dict[str, Any]
    groups: str
    proposal_id: int | None
    unread: bool
    spoke: bool  # a word of theirs that this coach has not read
    heard: date | None
    today: date

    @property
    def strip(self) -> SafeString:
        return SafeString(self.values["strip"])

    @property
    def four(self) -> SafeString:
        return SafeString(self.values["four"])

    @property
    def words(self) -> list[dict[str, str]]:
        return self.values["words"]  # type: ignore[no-any-return]

    @property
    def last_said(self) -> str:
        if self.heard is None:
            return "never"
        days = (self.today - self.heard).days
        return "today" if days <= 0 else "yesterday" if days == 1 else f"{days} days ago"


@coach_only
def roster(request: CoachRequest) -> HttpResponse:
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    late = roster_lines.bring_up_to_date(mine)
    asked = {key: request.GET.get(key, "")[:80].strip() for key in ("q", "group", "race", "show", "sort")}
    chosen = ordered(filtered(mine, asked), asked["sort"])
    counts = chosen.order_by().aggregate(
        count=Count("pk"), need=Count("pk", filter=Q(roster_line__urgency__lt=roster_lines.NONE))
    )
    pages = Paginator(chosen, ON_A_PAGE)
    pages.count = counts["count"]
    page = pages.get_page(request.GET.get("page"))
    rows = rows_of(list(page.object_list), request.coach)
    if asked["sort"]:
        parts = [(SORTS[asked["sort"]].capitalize() if asked["sort"] in SORTS else "", rows, counts["count"])]
    else:
        need = [row for row in rows if row.words]
        fine = [row for row in rows if not row.words]
        parts = [
            ("Needs a word", need, counts["need"]),
            ("On track", fine, counts["count"] - counts["need"]),
        ]
    context = {
        "parts": parts,
        "page": page,
        "late": late,
        "asked": asked,
        "kept": urlencode({key: value for key, value in asked.items() if value}),
        "count": counts["count"],
        "need": counts["need"],
        "groups": groups_for(request.user),
        "races": races_for(mine),
        "sorts": SORTS.items(),
        "shown": SHOWN.items(),
        "today": timezone.localdate(),
        "unsent": [] if request.htmx else editing.unsent(request.coach, mine),
    }
    return render(request, "desk/roster.html#rows" if request.htmx else "desk/roster.html", context)


def filtered(athletes: AthleteQuerySet, asked: dict[str, str]) -> AthleteQuerySet:
    if asked["q"]:
        athletes = athletes.filter(name__icontains=asked["q"])
    if is_key(asked["group"]):
        athletes = athletes.filter(groups=int(asked["group"]))
    if is_key(asked["race"]):
        athletes = athletes.filter(
            roster_line__schedule__state="running",
            roster_line__schedule__race_entry__race=int(asked["race"]),
        )
    if asked["show"] == "word":
        athletes = athletes.filter(roster_line__urgency__lt=roster_lines.NONE)
    elif asked["show"] == "hold":
        athletes = athletes.filter(
            Exists(HealthNote.objects.filter(athlete=OuterRef("pk"), closed__isnull=True))
        )
    elif asked["show"] == "proposal":
        athletes = athletes.filter(roster_line__proposal__state="open")
    elif asked["show"] == "none":
        athletes = athletes.filter(roster_line__schedule__isnull=True)
    return athletes


def is_key(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) < 10


def ordered(athletes: AthleteQuerySet, sort: str) -> AthleteQuerySet:
    athletes = athletes.select_related("roster_line").prefetch_related("groups")
    if sort == "name":
        return athletes.order_by("name", "pk")
    if sort == "race":
        day = KeyTextTransform("race_day", "roster_line__values")
        return athletes.annotate(by=day).order_by(F("by").asc(nulls_last=True), "name", "pk")
    if sort == "last":
        day = KeyTextTransform("last_log", "roster_line__values")
        return athletes.annotate(by=day).order_by(F("by").asc(nulls_first=True), "name", "pk")
    return athletes.order_by("roster_line__urgency", "name", "pk")


def races_for(athletes: AthleteQuerySet) -> Iterable[Race]:
    lines = RosterLine.objects.filter(athlete__in=athletes, schedule__state="running")
    return Race.objects.filter(pk__in=lines.values("schedule__race_entry__race"))


def rows_of(athletes: list[Athlete], coach: Coach) -> list[Row]:
    """These lines with what can't be kept: who read what, and words said about sessions."""
    keys = [athlete.pk for athlete in athletes]
    read = NoteReading.objects.filter(note=OuterRef("pk"), reader=coach.user, at__gte=OuterRef("changed_at"))
    unread_notes = set(
        HealthNote.objects.filter(~Exists(read), athlete__in=keys, closed__isnull=True).values_list(
            "athlete_id", flat=True
        )
    )
    heard_of = dict(
        Message.objects.filter(athlete__in=keys, by_coach=False)
        .values_list("athlete_id")
        .annotate(Max("at"))
        .order_by()
    )
    spoke = set(unread.by_coach(coach).filter(athlete__in=keys).values_list("athlete_id", flat=True))
    now, rows = timezone.now(), []
    for athlete in athletes:
        line = getattr(athlete, "roster_line", None)
        values = line.values if line else EMPTY
        log = date.fromisoformat(values["last_log"]) if values.get("last_log") else None
        word = heard_of.get(athlete.pk)
        heard = max((day for day in (log, word.date() if word else None) if day), default=None)
        rows.append(
            Row(
                athlete=athlete,
                values=values,
                groups=", ".join(group.name for group in athlete.groups.all()),
                proposal_id=line.proposal_id if line else None,
                unread=athlete.pk in unread_notes,
                spoke=athlete.pk in spoke,
                heard=heard,
                today=athlete.today(now),
            )
        )
    return rows


EMPTY: dict[str, Any] = {
    "strip": "",
    "four": "",
    "race": "",
    "race_day": None,
    "days_to_race": None,
    "last_log": None,
    "run_mm": 0,
    "planned_mm": 0,
    "longest_mm": 0,
    "longest_planned_mm": 0,
    "small": False,
    "words": [],
    "quiet": [],
}
