"""What the athlete's pages read: the running schedule, its weeks, the words that go with them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from athletes.models import Athlete
from athletes.running.paces import PaceCard
from athletes.running.units import Units
from coaching.templatetags.plain import short_day
from plans.gathering import meetings_of, with_places
from plans.models import RaceEntry, Schedule
from plans.race_targets import with_target
from plans.reading import Item, Week, understood, weeks_of
from plans.told import Told, told_to
from plans.training.describing import StepLine, lines

LOOK_BACK = timedelta(7)


@dataclass(frozen=True)
class Season:
    """An athlete's schedule as of a day. Without one, `schedule` is None and there are no weeks."""

    athlete: Athlete
    today: date
    schedule: Schedule | None
    weeks: list[Week]
    before: Schedule | None = None  # without a running one: the last that was paused or has ended

    @property
    def units(self) -> Units:
        return units_of(self.athlete)

    @property
    def week(self) -> Week | None:
        return next((w for w in self.weeks if 0 <= (self.today - w.first_day).days < 7), None)

    @property
    def days_to_race(self) -> int | None:
        entry = self.schedule.race_entry if self.schedule else None
        return (entry.race.day - self.today).days if entry else None

    def on(self, day: date) -> list[Item]:
        return [item for week in self.weeks for item in week.items if item.day == day and item.role != "rest"]

    @property
    def idle(self) -> tuple[str, str]:
        """What a day without a session is: a head and a sentence."""
        if self.schedule is None:
            return _without(self.before)
        if self.weeks and self.today < self.weeks[0].first_day:
            return "Not begun yet", f"Your plan begins on {short_day(self.weeks[0].first_day)}."
        if self.weeks and self.week is None:
            return "Your plan is done", "It has come to its end. The next one is your coach’s to make."
        return "Rest", "Rest is part of the plan: it is when the training takes."

    @property
    def unlogged(self) -> list[Item]:
        """Runs of the past seven days that nobody has said anything about, the oldest first."""
        since = self.today - LOOK_BACK
        items = (item for week in self.weeks for item in week.items)
        return [item for item in items if item.is_run and not item.log and since <= item.day < self.today]

    @property
    def told(self) -> Told | None:
        """What changed with the newest version, as long as something of it lies ahead."""
        return told_to(self.schedule, self.today) if self.schedule else None


def _without(before: Schedule | None) -> tuple[str, str]:
    if before is None:
        return "No plan yet", "Your coach has not issued a schedule yet."
    if before.state == "paused":
        since = f"Since {short_day(before.paused_on)}. " if before.paused_on else ""
        return "Your plan is paused", f"{since}Your coach takes it up again with you."
    return "Your plan has ended", "What you ran is kept. The next one is your coach’s to make."


def with_meetings(season: Season, first: date, last: date) -> Season:
    """With time and place of the group sessions between two days."""
    meetings = meetings_of([season.athlete], first, last)
    return replace(season, weeks=with_places(season.weeks, meetings, season.athlete.pk, season.units))


def units_of(athlete: Athlete) -> Units:
    return "mi" if athlete.units == "mi" else "km"


def season_of(athlete: Athlete, day: date | None = None) -> Season:
    """As of today where the athlete is, or of another day."""
    schedules = Schedule.objects.filter(athlete=athlete).select_related("athlete", "race_entry__race")
    schedule = schedules.filter(state="running").first()
    before = None if schedule else schedules.order_by("pk").last()
    return Season(athlete, day or athlete.today(), schedule, weeks_of(schedule) if schedule else [], before)


def steps_of(
    item: Item, card: PaceCard | None, units: Units, entry: RaceEntry | None
) -> tuple[StepLine, ...]:
    """A session's lines with own paces; a race (`entry`) has the pace of its own plan."""
    steps = understood(item.steps)
    found = tuple(lines(steps, card, units)) if steps and card else ()
    return with_target(found, entry, units) if entry and item.role == "race" else found
