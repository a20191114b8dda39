"""Fitting what lies ahead anew: a changed template, a moved race, a pause; and putting it back."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.utils import timezone

from athletes.models import Coach, TimeOff
from plans import deciding, drafting, issuing, jobs, offering, pausing, rebalancing, refitting
from plans.issuing import Content, Stale
from plans.models import Job, Log, Proposal, Schedule, ScheduleWeek, SessionIssue, TemplateVersion
from plans.situation import situation_of
from plans.training import template as core
from plans.training import template_editing as editing
from plans.training.fitting_types import CannotFit
from tests.factories import CoachFactory, scheduled

pytestmark = pytest.mark.django_db


def key(week: int, day: int) -> str:
    return f"00000000-0000-4000-8000-{week:06}{day:06}"


@pytest.fixture
def coach() -> Coach:
    return CoachFactory(is_head=True)


@pytest.fixture
def schedule() -> Schedule:
    """Eight weeks of which the first is over; the race is on the last Sunday."""
    made = scheduled(weeks=8, began_weeks_ago=1)
    return Schedule.objects.select_related("athlete", "race_entry__race", "template_version__template").get(
        pk=made.pk
    )


def changed(schedule: Schedule, coach: Coach, week: int, day: int, text: str) -> TemplateVersion:
    """The template with another text for one session, as its next version."""
    assert schedule.template_version is not None
    template = schedule.template_version.template
    _, session = editing.find(template.latest.plan, key(week, day))

    def edit(plan: core.Template) -> core.Template:
        return editing.put(plan, week, replace(session, text=text))

    return drafting.change(template, template.latest.number, edit, by=coach, what="a longer easy run")


def again(schedule: Schedule) -> Schedule:
    return Schedule.objects.select_related("athlete", "race_entry__race", "template_version__template").get(
        pk=schedule.pk
    )


def live(schedule: Schedule) -> dict[tuple[str, int], SessionIssue]:
    rows = SessionIssue.objects.filter(schedule=schedule, to_version=None, removed=False)
    return {(str(r.session.template_key), r.session.repeat): r for r in rows.select_related("session")}


def offered(schedule: Schedule, version: TemplateVersion) -> Proposal:
    offering.offer([schedule], version)
    job = Job.objects.get(kind="refit", state="waiting")
    assert jobs.run(job.pk)
    return Proposal.objects.get(schedule=schedule, state="open")


def test_a_changed_template_becomes_a_proposal_and_then_the_plan(schedule: Schedule, coach: Coach) -> None:
    version = changed(schedule, coach, 5, 3, "9 km easy")
    before = live(schedule)
    proposal = offered(schedule, version)
    assert proposal.kind == "refit"
    assert "version 2, a longer easy run" in proposal.why
    assert live(schedule).keys() == before.keys()
    assert again(schedule).template_version.number == 1
    number = deciding.accept(proposal, by=coach.user)
    now = again(schedule)
    assert (now.current_version, now.plan_version, now.template_version.number) == (number, number, 2)
    after = live(schedule)
    assert after[key(5, 3), 0].steps == "9 km easy"
    assert after[key(5, 3), 0].session_id == before[key(5, 3), 0].session_id
    # Re-balancing measures against the new plan: it sees 9 km as what the coach wrote.
    found = situation_of(now, timezone.now())
    written = {s.key: s.mm for s in found.inputs.plan}
    assert written[str(after[key(5, 3), 0].session_id)] == 9_000_000


def test_one_change_of_the_template_is_one_change(schedule: Schedule, coach: Coach) -> None:
    """Whatever else fitting would say today stays out of it."""
    schedule.athlete.declared_weekly_mm, schedule.athlete.declared_longest_mm = 20_000_000, 9_000_000
    schedule.athlete.save()
    proposal = offered(again(schedule), changed(schedule, coach, 5, 3, "4 km easy"))
    assert [str(c.session.template_key) for c in proposal.changes.all()] == [key(5, 3)]


def test_what_was_run_and_today_stay(schedule: Schedule, coach: Coach) -> None:
    today = schedule.athlete.today()
    before = {k: r for k, r in live(schedule).items() if r.day <= today}
    version = changed(schedule, coach, 0, 3, "9 km easy")
    offering.offer([schedule], version)
    jobs.run(Job.objects.get(kind="refit").pk)
    proposal = Proposal.objects.filter(schedule=schedule, state="open").first()
    if proposal:
        deciding.accept(proposal, by=coach.user)
    after = live(schedule)
    assert {k: (after[k].day, after[k].steps) for k in before} == {
        k: (r.day, r.steps) for k, r in before.items()
    }


def test_a_session_more_and_a_session_less(schedule: Schedule, coach: Coach) -> None:
    template = schedule.template_version.template
    extra = core.TemplateSession(key(99, 1), 0, "easy", "5 km easy")

    def edit(plan: core.Template) -> core.Template:
        return editing.without(editing.put(plan, 5, extra), key(4, 5))

    version = drafting.change(template, 1, edit, by=coach, what="one in, one out")
    proposal = offered(schedule, version)
    how = {
        str(c.session.template_key): (c.before["removed"], c.after["removed"]) for c in proposal.changes.all()
    }
    assert how[key(99, 1)] == (True, False)
    assert how[key(4, 5)] == (False, True)
    # Until it is accepted the new one stands nowhere.
    assert (key(99, 1), 0) not in live(schedule)
    deciding.accept(proposal, by=coach.user)
    after = live(schedule)
    assert after[key(99, 1), 0].steps == "5 km easy"
    assert (key(4, 5), 0) not in after
    plan = {s.key for s in situation_of(again(schedule), timezone.now()).inputs.plan}
    gone = SessionIssue.objects.get(session__template_key=key(4, 5), schedule=schedule, to_version=None)
    assert str(gone.session_id) not in plan


def test_pins_and_logged_sessions_stay(schedule: Schedule, coach: Coach) -> None:
    ahead = live(schedule)
    pinned, logged = ahead[key(5, 3), 0], ahead[key(5, 5), 0]
    content = replace(Content.of(pinned), steps="7 km easy", planned_mm=7_000_000, pinned_by_id=coach.pk)
    issuing.issue(schedule, 1, {pinned.session_id: content}, by=coach.user, cause="by hand")
    Log.objects.create(
        athlete=schedule.athlete, session_id=logged.session_id, day=schedule.athlete.today(), time_zone="UTC",
        received_at=timezone.now(), outcome="done", distance_mm=6_000_000,
    )  # fmt: skip
    version = changed(schedule, coach, 5, 3, "9 km easy")
    template = schedule.template_version.template
    _, session = editing.find(template.latest.plan, key(5, 5))
    version = drafting.change(
        template, 2, lambda plan: editing.put(plan, 5, replace(session, text="4 km easy")), by=coach, what="x"
    )
    found = refitting.refit(
        again(schedule), version, refitting.aim_of(again(schedule)), schedule.athlete.today(), "x"
    )
    touched = {slot.session for slot in found.slots}
    assert pinned.session_id not in touched
    assert logged.session_id not in touched


def test_the_same_template_changes_nothing(schedule: Schedule) -> None:
    """Nothing is raised where the plan as it stands is the plan as issued."""
    today = schedule.athlete.today()
    found = refitting.refit(schedule, schedule.template_version, refitting.aim_of(schedule), today, "same")
    moved = [slot for slot in found.slots if slot.before and not slot.before.removed and slot.after.removed]
    assert moved == []


@pytest.mark.parametrize("weeks", [-2, 3])
def test_moving_the_race(schedule: Schedule, coach: Coach, weeks: int) -> None:
    aim = refitting.aim_of(schedule)
    day = aim.race_day + timedelta(weeks=weeks)
    found = refitting.refit(
        schedule,
        schedule.template_version,
        replace(aim, race_day=day),
        schedule.athlete.today(),
        "The race moved",
    )
    proposal = offering.propose(found)
    deciding.accept(proposal, by=coach.user)
    now = again(schedule)
    assert now.race_entry.race.day == day
    assert now.race_entry.race.name == "Saltmarsh Marathon"
    races = [r for r in live(schedule).values() if r.role == "race"]
    assert [r.day for r in races] == [day]
    live_weeks = list(ScheduleWeek.objects.filter(schedule=schedule, to_version=None))
    assert live_weeks[-1].first_day == day - timedelta(6)
    assert live_weeks[-1].kind == "race"
    assert [w.kind for w in live_weeks].count("race") == 1
    firsts = [w.first_day for w in live_weeks]
    assert firsts == [firsts[0] + timedelta(weeks=n) for n in range(len(firsts))]
    assert max(r.day for r in live(schedule).values()) == day
    # Sessions that were run keep their identity: no past row was written anew.
    assert not SessionIssue.objects.filter(
        schedule=schedule, from_version=2, day__lte=schedule.athlete.today()
    ).exists()


def test_undo_puts_sessions_weeks_race_and_plan_back(schedule: Schedule, coach: Coach) -> None:
    before = {k: (r.day, r.steps) for k, r in live(schedule).items()}
    weeks = list(
        ScheduleWeek.objects.filter(schedule=schedule, to_version=None).values_list("first_day", "kind")
    )
    aim = refitting.aim_of(schedule)
    later = replace(aim, race_day=aim.race_day + timedelta(weeks=3))
    proposal = offering.propose(
        refitting.refit(
            schedule, schedule.template_version, later, schedule.athlete.today(), "The race moved"
        )
    )
    deciding.accept(proposal, by=coach.user)
    proposal.refresh_from_db()
    deciding.undo(proposal, by=coach.user)
    assert {k: (r.day, r.steps) for k, r in live(schedule).items()} == before
    assert (
        list(ScheduleWeek.objects.filter(schedule=schedule, to_version=None).values_list("first_day", "kind"))
        == weeks
    )
    now = again(schedule)
    assert (now.plan_version, now.race_entry.race.day) == (1, aim.race_day)
    plan = situation_of(now, timezone.now()).inputs.plan
    assert len(plan) == len(before)


def test_rebalancing_leaves_a_waiting_refit_alone(schedule: Schedule, coach: Coach) -> None:
    proposal = offered(schedule, changed(schedule, coach, 5, 3, "9 km easy"))
    rebalancing.propose(again(schedule))
    proposal.refresh_from_db()
    assert proposal.state == "open"


def test_the_job_twice_makes_one_proposal(schedule: Schedule, coach: Coach) -> None:
    version = changed(schedule, coach, 5, 3, "9 km easy")
    first = offered(schedule, version)
    assert offered(schedule, version) == first
    assert Proposal.objects.filter(schedule=schedule).count() == 1


def test_a_schedule_that_moved_on_is_not_overwritten(schedule: Schedule, coach: Coach) -> None:
    found = refitting.refit(
        schedule,
        changed(schedule, coach, 5, 3, "9 km easy"),
        refitting.aim_of(schedule),
        schedule.athlete.today(),
        "x",
    )
    issuing.issue(again(schedule), 1, {}, by=coach.user, cause="meanwhile")
    with pytest.raises(Stale):
        offering.propose(found)


@pytest.mark.parametrize("days", [-400, 0])
def test_a_race_day_that_can_not_be(schedule: Schedule, days: int) -> None:
    aim = replace(refitting.aim_of(schedule), race_day=schedule.athlete.today() + timedelta(days))
    with pytest.raises(CannotFit):
        refitting.refit(schedule, schedule.template_version, aim, schedule.athlete.today(), "x")


def test_pause_and_go_on(schedule: Schedule, coach: Coach) -> None:
    today = schedule.athlete.today()
    pausing.pause(schedule, today - timedelta(10))
    assert again(schedule).state == "paused"
    with pytest.raises(Stale):
        pausing.pause(again(schedule), today)
    pausing.resume(again(schedule), today)
    assert again(schedule).state == "running"
    off = TimeOff.objects.get(athlete=schedule.athlete)
    assert (off.first_day, off.last_day, off.minutes) == (today - timedelta(10), today - timedelta(1), 0)
    assert Job.objects.filter(kind="refit", state="waiting").count() == 1
    with pytest.raises(Stale):
        pausing.resume(again(schedule), today)


def test_end_and_leave(schedule: Schedule) -> None:
    pausing.end(schedule)
    assert again(schedule).state == "ended"
    pausing.leave(schedule.athlete, date(2026, 11, 25))
    schedule.athlete.refresh_from_db()
    assert schedule.athlete.left_on == date(2026, 11, 25)
