"""What the demo club does together: group sessions with place and time, a race gone by, courses and plans for those ahead."""

from __future__ import annotations

import math
import random
from datetime import time, timedelta

from django.utils import timezone

from athletes.models import Athlete, Coach, Group
from plans import racing
from plans.gathering import meetings_at, session_with_the_group
from plans.handout_contents import running
from plans.meeting import make
from plans.models import Attendance, GroupSession, Race, RaceEntry, RaceReport
from plans.reading import week_of, weeks_of_many

# Group, weekday, hour, place, a word.
MEETINGS = (
    ("Marathon A", 1, time(18, 30), "The track behind the boathouse", "Warm up on the grass from 18:15."),
    ("Marathon B", 1, time(19, 0), "North steps of the sea wall", ""),
    ("Half", 3, time(18, 30), "The track behind the boathouse", ""),
    ("Marathon A", 6, time(9, 0), "Harbour Lane, by the slipway", "Two loops, water at the slipway."),
)
DEGREE_M = 111_319.5  # of latitude
BEFORE, AHEAD = 3, 8  # weeks
PAST_RACE, PAST_KM, PAST_WEEKS = "Sea Wall 10K", 10, 3


def together(coaches: list[Coach]) -> None:
    """After the athletes are there."""
    meet()
    race_gone_by(random.Random(PAST_KM))
    for race in Race.objects.filter(name__in=("Saltmarsh Marathon", "Two Piers Half")):
        racing.keep_course(
            race,
            course_file(race.distance_mm),
            f"{race.name.lower().replace(' ', '-')}.gpx",
            by=coaches[0].user,
        )
    entry = RaceEntry.objects.filter(athlete__user__email="athlete@example.org", purpose="goal").first()
    if entry is not None:
        words = "Hold back over the headland, it comes back to you on the sea wall."
        racing.choose(
            entry, by=coaches[0].user, target_ms=3 * 3_600_000 + 55 * 60_000, shape="patient", words=words
        )


def meet() -> None:
    this = week_of(timezone.localdate(), 0)
    for name, weekday, at, place, note in MEETINGS:
        group = Group.objects.get(name=name)
        first = this + timedelta(weekday - 7 * BEFORE)
        make(group, first, at=at, place=place, note=note, weeks=BEFORE + AHEAD)
        for one in GroupSession.objects.filter(group=group, place=place, day__lt=timezone.localdate()):
            came(one)


def came(one: GroupSession) -> None:
    """Those came who were expected and logged a run that day."""
    athletes = list(Athlete.objects.filter(groups=one.group))
    schedules = running(athletes)
    weeks, meetings = weeks_of_many(schedules, one.day, one.day), meetings_at([one], athletes)
    rows = []
    for schedule in schedules:
        items = [item for week in weeks[schedule.pk] for item in week.items if item.day == one.day]
        met = meetings.meeting(one, schedule.athlete_id, session_with_the_group(items))
        if met.expected and met.item:
            rows.append(
                Attendance(group_session=one, athlete_id=schedule.athlete_id, came=met.item.state == "done")
            )
    Attendance.objects.bulk_create(rows)


def race_gone_by(dice: random.Random) -> None:
    """A tune-up race some Sundays ago, with splits: so that looking back has something to look at."""
    this = week_of(timezone.localdate(), 0)
    race = Race.objects.create(
        name=PAST_RACE, day=this + timedelta(6 - 7 * PAST_WEEKS), distance_mm=PAST_KM * 1_000_000
    )
    runners = Athlete.objects.filter(groups__name__in=("Marathon A", "Half"), results__isnull=False)
    for athlete in runners.distinct().order_by("name"):
        result = athlete.results.earliest("day")
        # From 5 km to 10 km by Riegel's exponent, and a day of one's own.
        finish = round(result.time_ms * 2**1.06 * dice.gauss(1.005, 0.015) / 1000) * 1000
        half = round(finish * (0.5 - abs(dice.gauss(0.006, 0.006))) / 1000) * 1000
        entry = RaceEntry.objects.create(athlete=athlete, race=race, purpose="tune-up")
        marks = [[race.distance_mm // 2, half], [race.distance_mm, finish]]
        RaceReport.objects.create(entry=entry, marks=marks, source="typed", at=timezone.now())


def course_file(distance_mm: int) -> bytes:
    """An invented course as GPX: a loop on the open sea (0 N, 0 E) over one headland, a point each 50 m."""
    metres = distance_mm / 1000
    count = math.ceil(metres / 50)
    radius = metres / math.tau / DEGREE_M
    rows = []
    for n in range(count + 1):
        angle, way = math.tau * n / count, n / count
        height = 4 + 46 * math.exp(-(((way - 0.35) / 0.06) ** 2)) + 3 * math.sin(9 * angle)
        rows.append(
            f'<trkpt lat="{radius * math.sin(angle):.6f}" lon="{radius * (math.cos(angle) - 1):.6f}"><ele>{height:.1f}</ele></trkpt>'
        )
    head = '<?xml version="1.0"?><gpx version="1.1" creator="demo" xmlns="http://www.topografix.com/GPX/1/1">'
    return f"{head}<trk><trkseg>{''.join(rows)}</trkseg></trk></gpx>".encode()
