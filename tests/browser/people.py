"""One coach and one athlete for a walk, with sessions laid around today whatever weekday it is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from django.utils import timezone

from athletes.carding import compute_card, store_card
from athletes.models import DAY_FIELDS, Athlete, Coach
from plans.assigning import Aim, issue_first, preview
from plans.models import Log, Schedule, SessionIssue
from plans.models.template import store
from plans.training.template import Template, TemplateSession, TemplateWeek
from tests.factories import (
    KM,
    MARATHON_MM,
    AthleteFactory,
    AvailabilityFactory,
    CoachFactory,
    ResultFactory,
    UserFactory,
    coaches,
)

LONGS = (14, 15, 16, 14, 17, 18, 20, 16, 22, 24, 26, 18, 12)
EASY = (6, 7, 7, 6, 8, 8, 9, 7, 9, 10, 10, 8, 5)
KINDS = ("base", "base", "build", "recovery") * 3 + ("taper",)


@dataclass
class Cast:
    coach: Coach
    athlete: Athlete
    schedule: Schedule
    today: date

    def session_on(self, day: date) -> UUID:
        return SessionIssue.objects.get(
            schedule=self.schedule, day=day, to_version=None, removed=False
        ).session_id


def around(weekday: int) -> list[tuple[int, str, str]]:
    """Quality today, an easy run yesterday, the long run two days ago, and an easy run in two days."""
    return [
        (weekday, "quality", "2 km easy; 5 x 3 min @ 10K, 2 min jog; 2 km easy"),
        ((weekday - 1) % 7, "easy", "{easy} km easy"),
        ((weekday - 2) % 7, "long", "long run {long} km"),
        ((weekday + 2) % 7, "easy", "{easy} km easy"),
    ]


def plan_around(weekday: int) -> Template:
    weeks = []
    for number, (long, easy, kind) in enumerate(zip(LONGS, EASY, KINDS, strict=True)):
        sessions = [
            TemplateSession(
                key=f"00000000-0000-4000-8000-{number:06}{day:06}",
                day=day,
                role=role,  # type: ignore[arg-type]
                text=text.format(long=long, easy=easy),
                priority="supporting" if role == "easy" else "key",
                purpose="Hold speed when it starts to bite." if role == "quality" else "",
            )
            for day, role, text in around(weekday)
        ]
        weeks.append(TemplateWeek(kind, "Longer, and no faster.", tuple(sessions)))  # type: ignore[arg-type]
    race = TemplateSession(
        key="00000000-0000-4000-8000-000099000006", day=6, role="race", text="race 42.195 km", priority="key"
    )
    weeks.append(TemplateWeek("race", "The race.", (race,)))
    return Template("A walk to the marathon", tuple(weeks), race_mm=MARATHON_MM)


def cast(began_weeks_ago: int = 5) -> Cast:
    """Everything before yesterday was run as planned; yesterday and the long run of two days ago say nothing yet."""
    today = timezone.localdate()
    coach = CoachFactory(user=UserFactory(name="Marta Quill", email="marta@example.org"), is_head=True)
    athlete = AthleteFactory(
        user=UserFactory(name="Bea Lindqvist", email="bea@example.org"), name="Bea Lindqvist"
    )
    coaches(coach, athlete)
    AvailabilityFactory(athlete=athlete, **dict.fromkeys(DAY_FIELDS, 240))  # the long run may fall on any day
    result = ResultFactory(athlete=athlete, day=today - timedelta(80))
    monday = today - timedelta(today.weekday()) - timedelta(weeks=began_weeks_ago)
    version = store(plan_around(today.weekday()), coach)
    aim = Aim("Saltmarsh Marathon", monday + timedelta(weeks=len(LONGS) + 1, days=-1), MARATHON_MM)
    card = compute_card(athlete, [result])
    fitted = preview(athlete, version, aim, card, athlete.availabilities.get().minutes(), monday)
    schedule = issue_first(
        athlete, version, aim, fitted, store_card(athlete, card, result, monday), by=coach.user
    )
    schedule.versions.update(issued_at=datetime.combine(monday - timedelta(1), datetime.min.time(), UTC))
    for issue in SessionIssue.objects.filter(schedule=schedule, day__lt=today - timedelta(2)):
        Log.objects.create(
            athlete=athlete,
            session_id=issue.session_id,
            day=issue.day,
            time_zone="UTC",
            received_at=timezone.now(),
            outcome="done",
            distance_mm=issue.planned_mm,
        )
    return Cast(coach, athlete, schedule, today)


__all__ = ["KM", "Cast", "cast"]
