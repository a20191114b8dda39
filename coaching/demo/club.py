"""Fill an empty database with the demo club: schedules that began weeks ago, and what became of them since.

Same day, same club: one seed. Nothing here is anybody's data.
"""

from __future__ import annotations

import random
import uuid
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from athletes.carding import compute_card, store_card
from athletes.models import (
    DAY_FIELDS,
    Athlete,
    Availability,
    Coach,
    CoachAthlete,
    DeskNote,
    Group,
    HealthNote,
    Membership,
    Practice,
    Result,
    Screening,
    User,
)
from athletes.running.units import Distance, parse_duration
from coaching.demo.people import CLUB, COACHES, PASSWORD, PEOPLE, RACES, TEMPLATES, Person
from coaching.demo.talking import talk
from coaching.demo.together import together
from plans import naming
from plans.assigning import Aim, issue_first, preview
from plans.models import Log, Message, Schedule, ScheduleVersion, SessionIssue, TemplateVersion
from plans.models.template import store
from plans.reading import RUNS
from plans.recording import queue_rebalance
from plans.training.template_file import read_template

SEED = 20
HISTORY = timedelta(weeks=8)
LIBRARY = Path(settings.BASE_DIR) / "plans" / "library"


@transaction.atomic
def load(say: Callable[[str], None]) -> None:
    """Make the whole club around today."""
    dice = random.Random(SEED)
    practice = Practice.get()
    practice.name, practice.time_zone = CLUB, "Europe/Lisbon"
    practice.mark = "HL"
    practice.address_lines = "The boathouse, Harbour Lane, Saltmarsh"
    practice.save()
    coaches = []
    for name, email, head in COACHES:
        user = User.objects.create_user(email, PASSWORD, name)
        coaches.append(Coach.objects.create(user=user, is_head=head))
    versions = {
        path.stem: store(read_template(path.read_text()), coaches[0])
        for path in sorted(LIBRARY.glob("*.yaml"))
    }
    naming.fill(coaches[0])
    for number, person in enumerate(PEOPLE):
        say(f"  {person.name}")
        # The second coach has every third athlete; the head coach sees all.
        add(person, coaches[1] if number % 3 == 2 else coaches[0], versions, dice)
    together(coaches)
    talk(coaches)
    confirm_addresses()


def confirm_addresses() -> None:
    User.objects.update(confirmed_at=timezone.now())


def race_day(name: str, today: date) -> date:
    near = today + timedelta(RACES[name][2])
    return near + timedelta(6 - near.weekday())


def add(person: Person, coach: Coach, versions: dict[str, TemplateVersion], dice: random.Random) -> Athlete:
    now = timezone.now()
    athlete = Athlete.objects.create(
        name=person.name,
        units=person.units,
        time_zone=person.zone,
        born=date(person.born, dice.randint(1, 12), dice.randint(1, 28)),
        declared_weekly_mm=person.week_km * 1_000_000,
        declared_longest_mm=person.long_km * 1_000_000,
    )
    if person.story == "athlete":
        athlete.user = User.objects.create_user("athlete@example.org", PASSWORD, person.name)
        athlete.save()
    today = athlete.today(now)
    began = today - HISTORY
    CoachAthlete.objects.create(coach=coach, athlete=athlete, since=began - timedelta(30))
    group, _ = Group.objects.get_or_create(name=person.group)
    Membership.objects.create(group=group, athlete=athlete)
    Availability.objects.create(
        athlete=athlete,
        valid_from=began - timedelta(30),
        **dict(zip(DAY_FIELDS, free_days(person, today), strict=True)),
    )
    Screening.objects.create(athlete=athlete, at=now - HISTORY - timedelta(20), answers={"any_yes": False})
    schedule = begin(person, athlete, coach, versions[TEMPLATES[person.template]], began)
    live(person, athlete, schedule, today, dice)
    return athlete


def free_days(person: Person, today: date) -> tuple[int, ...]:
    """The demo's own athlete is free today, whatever day the demo is opened on."""
    free = list(person.free)
    if person.story == "athlete" and not free[today.weekday()]:
        free[today.weekday()], free[(today.weekday() - 1) % 7] = free[(today.weekday() - 1) % 7] or 75, 0
    return tuple(free)


def begin(person: Person, athlete: Athlete, coach: Coach, version: TemplateVersion, began: date) -> Schedule:
    """Fit and issue as it was done weeks ago."""
    result = Result.objects.create(
        athlete=athlete,
        day=began - timedelta(10),
        distance_mm=5_000_000,
        time_ms=parse_duration(person.five_k).ms,
        name="Club time trial on the sea wall",
    )
    name, metres, _ = RACES[person.race]
    mm = round(metres * 1000)
    goal = (Distance(mm), parse_duration(person.goal)) if person.goal else None
    card = compute_card(athlete, [result], goal)
    aim = Aim(name, race_day(person.race, athlete.today()), mm, goal[1].ms if goal else None)
    free = athlete.availabilities.get().minutes()
    fitted = preview(athlete, version, aim, card, free, began)
    stored = store_card(athlete, card, result, began)
    schedule = issue_first(athlete, version, aim, fitted, stored, by=coach.user)
    then = datetime.combine(
        min(began, schedule.first_day) - timedelta(1), time(19), timezone.get_current_timezone()
    )
    ScheduleVersion.objects.filter(schedule=schedule).update(issued_at=then)
    return schedule


def live(person: Person, athlete: Athlete, schedule: Schedule, today: date, dice: random.Random) -> None:
    """What the athlete made of it so far."""
    issues = SessionIssue.objects.filter(schedule=schedule, day__lt=today).order_by("day", "slot")
    logs = [log for issue in issues if (log := what_became(person, issue, today, dice))]
    for log in logs:
        log.athlete, log.time_zone = athlete, athlete.time_zone
    Log.objects.bulk_create(logs)
    if person.story == "shin":
        HealthNote.objects.create(
            athlete=athlete, kind="easy", cause="pain", words="sore shin", opened=today - timedelta(3)
        )
    if person.story == "cold":
        opened = today - timedelta(24)
        HealthNote.objects.create(
            athlete=athlete,
            kind="rest",
            cause="ill",
            words="a cold with a temperature",
            opened=opened,
            closed=opened + timedelta(6),
            closed_by_name=COACHES[0][0],
        )
    if person.story == "athlete":
        Message.objects.create(
            athlete=athlete,
            author_name=COACHES[0][0],
            by_coach=True,
            on_paper=True,
            words="Good to see you settled on the Thursdays. Keep the easy days easy.",
            at=timezone.now() - timedelta(days=2),
        )
        DeskNote.objects.create(
            athlete=athlete,
            coach_name=COACHES[0][0],
            day=today - timedelta(9),
            words="Rang: night shifts from the new year. Ask in January whether Thursdays still work.",
            at=timezone.now() - timedelta(days=9),
        )
    queue_rebalance(athlete)


def what_became(person: Person, issue: SessionIssue, today: date, dice: random.Random) -> Log | None:
    """One session's log by the athlete's story; None for silence."""
    ago = (today - issue.day).days
    roll, stretch = dice.random(), dice.gauss(1.0, 0.03)
    log = Log(
        entry_id=uuid.UUID(int=dice.getrandbits(128), version=4),
        session=issue.session,
        day=issue.day,
        outcome="done",
        received_at=datetime.combine(issue.day, time(20), timezone.get_current_timezone()),
    )
    if person.story == "silent" and ago < 12:
        return None
    if person.story == "shin" and ago <= 3:
        log.outcome, log.reason, log.note = "missed", "pain", "Shin, left, after ten minutes."
        return log
    if person.story == "cold" and 18 < ago <= 24:
        log.outcome, log.reason = "missed", "ill"
        return log
    if issue.role not in RUNS:
        return log
    misses = {"perfect": 0.0, "too much": 0.0, "athlete": 0.03, "busy": 0.22}.get(person.story, 0.07)
    if roll < misses:
        log.outcome, log.reason = "missed", dice.choice(["time", "time", "travel", "tired"])
        return log
    if person.story == "too much":
        stretch += 0.32 if ago < 8 else 0.16
    elif person.story != "perfect" and roll > 0.95:
        log.outcome, stretch, log.note = "cut", 0.62, "Legs said no."
    log.distance_mm = max(round(issue.planned_mm * stretch / 100_000), 10) * 100_000
    log.moving_s = round(issue.planned_s * stretch * dice.gauss(1.0, 0.02))
    log.effort = {"easy": 3, "long": 4, "quality": 7, "race": 9}[issue.role] + dice.choice([-1, 0, 0, 0, 1])
    return log
