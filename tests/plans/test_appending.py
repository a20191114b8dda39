"""A second goal race and a recovery block are appended to the running schedule, shown first, undone like any refit."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from athletes.models import Coach
from plans import appending, deciding, offering, pausing
from plans.assigning import Aim
from plans.models import Proposal, Schedule, ScheduleWeek, SessionIssue, TemplateVersion
from plans.models.template import store
from plans.rebalancing import propose
from plans.refitting import _ahead, _by_key, aim_of, refit
from plans.situation import situation_of
from plans.training.fitting_types import CannotFit
from plans.training.template import Template, TemplateSession, TemplateWeek
from tests.factories import (
    AthleteFactory,
    CoachFactory,
    UserFactory,
    coaches,
    scheduled,
    template_version,
)

pytestmark = pytest.mark.django_db
KM = 1_000_000


def week(number: int, *days: tuple[int, str, str]) -> TemplateWeek:
    return TemplateWeek("recovery", "Let the legs heal.", tuple(
        TemplateSession(f"22222222-0000-4000-8000-{number:06}{day:06}", day, role, text) for day, role, text in days
    ))  # fmt: skip


def recovery_block() -> TemplateVersion:
    return store(Template("Two quiet weeks", (
        week(0, (5, "easy", "20 min easy"), (6, "easy", "25 min easy")),
        week(1, (1, "easy", "25 min easy"), (5, "easy", "30 min easy")),
    )))  # fmt: skip


@pytest.fixture
def coach() -> Coach:
    return CoachFactory()


@pytest.fixture
def schedule(coach: Coach) -> Schedule:
    made = scheduled(weeks=6)
    coaches(coach, made.athlete)
    return made


def put_behind(schedule: Schedule, version: TemplateVersion, aim: Aim | None = None) -> Proposal:
    schedule.refresh_from_db()
    made = offering.propose(appending.append(schedule, version, aim or Aim(), schedule.athlete.today()))
    assert made
    deciding.accept(made, by=UserFactory())
    schedule.refresh_from_db()
    made.refresh_from_db()
    return made


def race_of(schedule: Schedule) -> date:
    assert schedule.race_entry
    return schedule.race_entry.race.day


def second_race(schedule: Schedule, weeks: int = 8) -> Aim:
    return Aim("Harbour Marathon", race_of(schedule) + timedelta(weeks=weeks), 42_195_000)


def test_a_recovery_block_comes_behind_and_nothing_before_changes(schedule: Schedule) -> None:
    before = list(SessionIssue.objects.filter(schedule=schedule).values())
    race = race_of(schedule)
    put_behind(schedule, recovery_block())
    assert list(SessionIssue.objects.filter(schedule=schedule, from_version=1).values()) == before
    added = SessionIssue.objects.filter(schedule=schedule, from_version=2).order_by("day")
    assert [(i.day - race, i.steps) for i in added] == [
        (timedelta(6), "20 min easy"), (timedelta(7), "25 min easy"),
        (timedelta(9), "25 min easy"), (timedelta(13), "30 min easy"),
    ]  # fmt: skip
    weeks = ScheduleWeek.objects.filter(schedule=schedule, from_version=2).order_by("first_day")
    assert [w.first_day - race for w in weeks] == [timedelta(1), timedelta(8)]
    assert race_of(schedule) == race
    assert (schedule.current_version, schedule.plan_version) == (2, 1)
    assert [part.race_entry is None for part in schedule.parts.all()] == [False, True]


def test_rebalancing_sees_both_and_the_next_goal(schedule: Schedule) -> None:
    first = race_of(schedule)
    before = situation_of(schedule, timezone.now()).inputs
    put_behind(schedule, recovery_block())
    aim = second_race(schedule)
    put_behind(schedule, template_version(5), aim)
    inputs = situation_of(schedule, timezone.now()).inputs
    assert inputs.race_day == first
    assert len(inputs.weeks) == len(before.weeks) + 8
    days = [week.first_day for week in inputs.weeks]
    assert days == [days[0] + timedelta(7 * n) for n in range(len(days))]
    assert not any(s.added for s in inputs.plan)
    assert [s.day for s in inputs.plan if s.role == "race"] == [first, aim.race_day]
    assert propose(schedule) is None or Proposal.objects.filter(state="open").exists()


def test_the_goal_goes_on_after_the_first_race(schedule: Schedule) -> None:
    first = race_of(schedule)
    own = schedule.template_version_id
    block = recovery_block()
    put_behind(schedule, block)
    aim = second_race(schedule)
    version = template_version(5)
    put_behind(schedule, version, aim)
    appending.advance(schedule, first)
    assert (race_of(schedule), schedule.template_version_id) == (first, own)
    appending.advance(schedule, first + timedelta(7))
    schedule.refresh_from_db()
    assert (race_of(schedule), schedule.template_version_id) == (aim.race_day, block.pk)
    appending.advance(schedule, first + timedelta(15))
    assert schedule.template_version_id == version.pk


def test_the_same_plan_twice(schedule: Schedule) -> None:
    block = recovery_block()
    put_behind(schedule, block)
    put_behind(schedule, block)
    sessions = schedule.sessions.filter(template_key="22222222-0000-4000-8000-000001000001").order_by(
        "repeat"
    )
    assert [s.repeat for s in sessions] == [0, 1]
    days = [s.issues.get().day for s in sessions]
    assert days[1] - days[0] == timedelta(14)


def test_the_same_race_plan_again(schedule: Schedule) -> None:
    """Its keys stand in the first part already."""
    version = schedule.template_version
    assert version
    put_behind(schedule, version, second_race(schedule, 6))
    races = SessionIssue.objects.filter(schedule=schedule, role="race").order_by("day")
    assert [i.session.repeat for i in races] == [0, 1]


def test_moving_the_race_leaves_what_is_appended_alone(schedule: Schedule) -> None:
    put_behind(schedule, recovery_block())
    aim, today = aim_of(schedule), schedule.athlete.today()
    assert schedule.template_version
    assert aim.race_day
    earlier = Aim(aim.race_name, aim.race_day - timedelta(7), aim.race_mm)
    found = refit(schedule, schedule.template_version, earlier, today, "Earlier")
    assert found.slots
    assert not any(str(slot.template_key).startswith("22222222") for slot in found.slots)
    later = Aim(aim.race_name, aim.race_day + timedelta(7), aim.race_mm)
    with pytest.raises(CannotFit, match="appended behind it begins on"):
        refit(schedule, schedule.template_version, later, today, "Later")


def test_it_can_be_undone(schedule: Schedule) -> None:
    proposal = put_behind(schedule, recovery_block())
    deciding.undo(proposal, by=UserFactory())
    schedule.refresh_from_db()
    assert not schedule.parts.exists()
    assert not SessionIssue.objects.filter(
        schedule=schedule, to_version=None, removed=False, from_version__gt=1
    )
    assert not ScheduleWeek.objects.filter(schedule=schedule, to_version=None, from_version__gt=1).exists()
    keys = {s.key for s in situation_of(schedule, timezone.now()).inputs.plan}
    assert keys == {str(s.pk) for s in schedule.sessions.filter(issues__from_version=1)}


def test_paused_and_going_on_keeps_it(schedule: Schedule) -> None:
    put_behind(schedule, recovery_block())
    pausing.pause(schedule, schedule.athlete.today())
    pausing.resume(schedule, schedule.athlete.today())
    schedule.refresh_from_db()
    assert schedule.template_version
    found = refit(schedule, schedule.template_version, aim_of(schedule), schedule.athlete.today(), "On")
    assert not any(str(slot.template_key).startswith("22222222") for slot in found.slots)


def test_it_starts_from_what_is_run_by_then(schedule: Schedule) -> None:
    """Three flat weeks, then race week: the mean of eight weeks is never more than what is planned in any."""
    issues = list(SessionIssue.objects.filter(schedule=schedule))
    start = race_of(schedule) + timedelta(1)
    week_mm, long_mm = appending.running_by_then(schedule, issues, start, schedule.athlete.today())
    runs = [i for i in issues if i.role != "race"]
    assert long_mm == max(i.planned_mm for i in runs if i.day >= start - timedelta(30))
    four = sum(i.planned_mm for i in runs if i.day >= start - timedelta(28)) // 4
    six = sum(i.planned_mm for i in runs) // 6
    assert week_mm == max(four, six)


# The page.


def post(coach: Coach, schedule: Schedule, **values: Any) -> Any:
    client = Client()
    client.force_login(coach.user)
    return client.post(reverse("course-append", args=[schedule.pk]), values)


def test_before_and_after_first_then_issue(coach: Coach, schedule: Schedule) -> None:
    template = recovery_block().template
    shown = post(coach, schedule, template=template.pk, do="show")
    assert shown.status_code == 200
    assert "Before and after" in shown.content.decode()
    assert not Proposal.objects.exists()
    assert post(coach, schedule, template=template.pk, do="issue").status_code == 302
    schedule.refresh_from_db()
    assert schedule.current_version == 2
    proposal = Proposal.objects.get()
    assert (proposal.state, proposal.kind) == ("accepted", "refit")
    assert schedule.versions.get(number=2).cause.startswith("Appended: Two quiet weeks from ")


def test_a_second_race_by_the_page(coach: Coach, schedule: Schedule) -> None:
    aim = second_race(schedule, 6)
    assert aim.race_day
    template = template_version(5).template
    answer = post(coach, schedule, template=template.pk, race_name="Harbour Marathon",
                  race_day=aim.race_day.isoformat(), goal_time="3:30:00", do="issue")  # fmt: skip
    assert answer.status_code == 302
    part = list(schedule.parts.all())[-1]
    assert part.race_entry
    assert part.race_entry.goal_ms == 12_600_000
    assert part.race_entry.race.day == aim.race_day


@pytest.mark.parametrize(
    ("values", "said"),
    [({}, "Name the race"), ({"race_name": "X", "race_day": "soon"}, "Enter a valid date"),
     ({"race_name": "X", "race_day": timezone.localdate().isoformat()}, "choose a later race"),
     ({"race_name": "X", "race_day": "2090-01-01"}, "a schedule holds"), ({"template": "99999"}, "Select a valid")],
)  # fmt: skip
def test_what_can_be_wrong(coach: Coach, schedule: Schedule, values: dict[str, str], said: str) -> None:
    answer = post(coach, schedule, **{"template": template_version(5).template.pk, "do": "issue", **values})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Proposal.objects.exists()


def test_who_may(coach: Coach, schedule: Schedule) -> None:
    address = reverse("course-append", args=[schedule.pk])
    assert post(CoachFactory(), schedule).status_code == 404
    client = Client()
    client.force_login(AthleteFactory().user)
    assert client.get(address).status_code == 404
    assert Client().get(address).status_code == 302
    client.force_login(coach.user)
    assert client.get(address).status_code == 200
    pausing.pause(schedule, schedule.athlete.today())
    assert client.get(address).status_code == 404


def test_a_pinned_session_settles_only_its_own_copy_of_a_week(schedule: Schedule) -> None:
    """The block stands twice behind the race; in the second, one copy is the coach's own and the other stays."""
    block = recovery_block()
    put_behind(schedule, block)
    put_behind(schedule, block)
    key = "22222222-0000-4000-8000-000001000001"
    mine = SessionIssue.objects.get(session__template_key=key, session__repeat=1)
    mine.pinned_by = CoachFactory()
    mine.save()
    ahead, taken, done = _ahead(schedule, schedule.athlete.today(), None)
    assert done == {mine.session.template_key: [1]}
    assert [s.repeat for s, _ in ahead[mine.session.template_key]] == [0]
    assert (mine.day, mine.slot) in taken
    fitted = appending.append(schedule, block, Aim(), schedule.athlete.today()).fitted
    twice = replace(fitted, sessions=(*fitted.sessions, *(replace(s, repeat=1) for s in fitted.sessions)))
    left = _by_key(twice, schedule.athlete.today(), done)
    assert [s.repeat for s in left[mine.session.template_key]] == [0]
