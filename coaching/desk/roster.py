"""The roster: one line an athlete, those who need a word first."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Max
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import SafeString

from athletes.models import Athlete, HealthNote
from athletes.running.units import Units
from coaching import privacy
from coaching.access import CoachRequest, coach_only, groups_for
from coaching.strips import last_weeks, week_strip
from plans.attention import Word, words_for
from plans.models import Log, Proposal, Schedule
from plans.reading import Week, week_of, weeks_of_many


@dataclass(frozen=True)
class Row:
    """What one line says."""

    athlete: Athlete
    groups: str
    race: str
    days_to_race: int | None
    strip: SafeString
    run_mm: int
    planned_mm: int
    four: SafeString
    longest_mm: int
    longest_planned_mm: int
    words: list[Word]
    proposal: Proposal | None
    last_word: date | None
    today: date

    @property
    def last_said(self) -> str:
        if self.last_word is None:
            return "never"
        days = (self.today - self.last_word).days
        return "today" if days <= 0 else "yesterday" if days == 1 else f"{days} days ago"


@coach_only
def roster(request: CoachRequest) -> HttpResponse:
    athletes = Athlete.objects.for_user(request.user).filter(left_on__isnull=True).prefetch_related("groups")
    if search := request.GET.get("q", "").strip()[:80]:
        athletes = athletes.filter(name__icontains=search)
    group = request.GET.get("group", "")
    if group.isdecimal():
        athletes = athletes.filter(groups=int(group))
    rows = roster_rows(list(athletes))
    held = HealthNote.objects.filter(athlete__in=[row.athlete.pk for row in rows], closed__isnull=True)
    privacy.note_read(held, request.user)
    need = sorted(
        (row for row in rows if row.words), key=lambda row: (row.words[0].urgency, row.athlete.name)
    )
    context = {
        "parts": [("Needs a word", need), ("On track", [row for row in rows if not row.words])],
        "count": len(rows),
        "need": len(need),
        "search": search,
        "group": group,
        "groups": groups_for(request.user),
        "today": timezone.localdate(),
    }
    return render(request, "desk/roster.html#rows" if request.htmx else "desk/roster.html", context)


def roster_rows(athletes: list[Athlete]) -> list[Row]:
    """Rows for these athletes, in their order, in a constant number of queries."""
    now = timezone.now()
    today = {athlete.pk: athlete.today(now) for athlete in athletes}
    first, last = min(today.values(), default=now.date()), max(today.values(), default=now.date())
    schedules = list(
        Schedule.objects.filter(athlete__in=athletes, state="running").select_related(
            "athlete", "race_entry__race"
        )
    )
    weeks = weeks_of_many(schedules, first - timedelta(34), last)
    by_athlete = {schedule.athlete_id: schedule for schedule in schedules}
    logs: dict[int, list[Log]] = defaultdict(list)
    for log in Log.objects.standing().filter(athlete__in=athletes, day__gte=first - timedelta(60)):
        logs[log.athlete_id].append(log)
    holds: dict[int, list[HealthNote]] = defaultdict(list)
    for note in HealthNote.objects.filter(athlete__in=athletes, closed__isnull=True):
        holds[note.athlete_id].append(note)
    proposals = {
        proposal.schedule_id: proposal
        for proposal in Proposal.objects.filter(schedule__in=schedules, state="open")
    }
    said = dict(
        Log.objects.filter(athlete__in=athletes).values_list("athlete_id").annotate(Max("day")).order_by()
    )
    rows = []
    for athlete in athletes:
        schedule = by_athlete.get(athlete.pk)
        mine = weeks[schedule.pk] if schedule else []
        proposal = proposals.get(schedule.pk) if schedule else None
        rows.append(
            _row(
                athlete,
                schedule,
                mine,
                logs[athlete.pk],
                holds[athlete.pk],
                proposal,
                said.get(athlete.pk),
                today[athlete.pk],
            )
        )
    return rows


def _row(
    athlete: Athlete,
    schedule: Schedule | None,
    weeks: list[Week],
    logs: list[Log],
    holds: list[HealthNote],
    proposal: Proposal | None,
    last_word: date | None,
    today: date,
) -> Row:
    units: Units = "mi" if athlete.units == "mi" else "km"
    race = schedule.race_entry.race if schedule and schedule.race_entry else None
    begins = week_of(today, schedule.week_starts) if schedule else today
    this = next((week for week in weeks if week.first_day == begins), None)
    four = [week for week in weeks if week.first_day < begins][-4:]
    return Row(
        athlete=athlete,
        groups=", ".join(group.name for group in athlete.groups.all()),
        race=race.name if race else "",
        days_to_race=(race.day - today).days if race else None,
        strip=week_strip(this, today, units) if this else SafeString(""),
        run_mm=this.run_mm if this else 0,
        planned_mm=this.planned_mm if this else 0,
        four=last_weeks(four, units) if four else SafeString(""),
        longest_mm=max((week.longest_run_mm for week in [*four, *([this] if this else [])]), default=0),
        longest_planned_mm=max(
            (week.longest_planned_mm for week in [*four, *([this] if this else [])]), default=0
        ),
        words=words_for(weeks, logs, holds, today, race.day if race else None, units),
        proposal=proposal,
        last_word=last_word,
        today=today,
    )
