"""The least valid objects. A test states only what matters to it."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import factory
from django.utils import timezone
from factory.django import DjangoModelFactory

from athletes.carding import compute_card, store_card
from athletes.models import Athlete, Availability, Coach, CoachAthlete, Result, User
from plans.assigning import Aim, issue_first, preview
from plans.models import Schedule, TemplateVersion
from plans.models.template import store
from plans.training.template import Template, TemplateSession, TemplateWeek

PASSWORD = "a password for tests"
KM = 1_000_000
MARATHON_MM = 42_195_000


class UserFactory(DjangoModelFactory[User]):
    class Meta:
        model = User
        skip_postgeneration_save = True

    name = factory.Sequence(lambda n: f"Person {n}")
    email = factory.Sequence(lambda n: f"person{n}@example.org")
    confirmed_at = datetime(2020, 1, 1, tzinfo=UTC)

    @factory.post_generation
    def password(self, create: bool, extracted: str | None, **kwargs: object) -> None:
        self.set_password(extracted or PASSWORD)  # type: ignore[attr-defined]
        self.save()  # type: ignore[attr-defined]


class CoachFactory(DjangoModelFactory[Coach]):
    class Meta:
        model = Coach

    user = factory.SubFactory(UserFactory)


class AthleteFactory(DjangoModelFactory[Athlete]):
    """Someone who signs in, runs 40 km a week, and is 35."""

    class Meta:
        model = Athlete

    user = factory.SubFactory(UserFactory)
    name = factory.Sequence(lambda n: f"Athlete {n}")
    born = date(1991, 5, 4)
    declared_weekly_mm = 40 * KM
    declared_longest_mm = 14 * KM


class AvailabilityFactory(DjangoModelFactory[Availability]):
    class Meta:
        model = Availability

    athlete = factory.SubFactory(AthleteFactory)
    valid_from = date(2020, 1, 1)
    mon, tue, wed, thu, fri, sat, sun = 90, 90, 90, 90, 90, 120, 240


class ResultFactory(DjangoModelFactory[Result]):
    """10 km in 48:00, three weeks ago."""

    class Meta:
        model = Result

    athlete = factory.SubFactory(AthleteFactory)
    day = factory.LazyFunction(lambda: timezone.localdate() - timedelta(21))
    distance_mm = 10 * KM
    time_ms = 48 * 60_000


def coaches(coach: Coach, athlete: Athlete) -> CoachAthlete:
    """A dated row: this coach has this athlete from long ago on."""
    return CoachAthlete.objects.create(coach=coach, athlete=athlete, since=date(2020, 1, 1))


WEEK = (
    (0, "rest", "rest", "supporting"),
    (1, "quality", "2 km easy; 5 x 3 min @ 10K, 2 min jog; 2 km easy", "key"),
    (3, "easy", "8 km easy", "supporting"),
    (5, "easy", "6 km easy", "supporting"),
    (6, "long", "long run 14 km", "key"),
)


def small_plan(weeks: int = 4, race_mm: int | None = MARATHON_MM) -> Template:
    """A flat plan: the same week again and again, and a race week at the end. Keys are the same every time."""
    made = []
    for number in range(weeks):
        last = race_mm is not None and number == weeks - 1
        days = WEEK[:3] if last else WEEK
        sessions = [
            TemplateSession(
                key=f"00000000-0000-4000-8000-{number:06}{day:06}",
                day=day,
                role=role,
                text=text,
                priority=priority,
            )
            for day, role, text, priority in days
            if role != "rest"
        ]
        if last:
            sessions.append(
                TemplateSession(
                    key=f"00000000-0000-4000-8000-{number:06}000006",
                    day=6,
                    role="race",
                    text="race 42.195 km",
                    priority="key",
                )
            )
        made.append(TemplateWeek("race" if last else "base", "Keep it even.", tuple(sessions)))
    return Template("A small plan", tuple(made), race_mm=race_mm)


def template_version(weeks: int = 4, race_mm: int | None = MARATHON_MM) -> TemplateVersion:
    return store(small_plan(weeks, race_mm))


def next_sunday(weeks_ahead: int) -> date:
    today = timezone.localdate()
    return today + timedelta(6 - today.weekday()) + timedelta(weeks=weeks_ahead)


def scheduled(athlete: Athlete | None = None, *, weeks: int = 4, began_weeks_ago: int = 1) -> Schedule:
    """An athlete's running schedule that began some Mondays ago and ends with a race on a Sunday.

    Issued the day before it began, by nobody in particular.
    """
    athlete = athlete or AthleteFactory()
    if not athlete.availabilities.exists():
        AvailabilityFactory(athlete=athlete)
    result = athlete.results.first() or ResultFactory(
        athlete=athlete, day=timezone.localdate() - timedelta(90)
    )
    monday = (
        timezone.localdate() - timedelta(timezone.localdate().weekday()) - timedelta(weeks=began_weeks_ago)
    )
    version = template_version(weeks)
    aim = Aim("Saltmarsh Marathon", monday + timedelta(weeks=weeks, days=-1), MARATHON_MM)
    card = compute_card(athlete, [result])
    fitted = preview(athlete, version, aim, card, athlete.availabilities.get().minutes(), monday)
    by = UserFactory(name="Coach Nobody")
    schedule = issue_first(athlete, version, aim, fitted, store_card(athlete, card, result, monday), by=by)
    then = datetime.combine(schedule.first_day - timedelta(1), datetime.min.time(), UTC) + timedelta(hours=18)
    schedule.versions.update(issued_at=then)
    return schedule
