"""One athlete's answer as a proposal: made once, superseded by a newer, not raised again when refused."""

from datetime import UTC, datetime, time, timedelta

import pytest
from django.utils import timezone

from athletes.models import Practice
from plans import deciding, issuing, jobs, rebalancing
from plans.issuing import Content
from plans.models import Job, Proposal, Schedule, SessionIssue
from plans.reading import RUNS
from plans.recording import queue_rebalance
from plans.rewriting import easy_run
from plans.silence import silent_among
from tests.factories import AthleteFactory, UserFactory, scheduled
from tests.plans.weeks import KM, ahead, lived, log, standing

pytestmark = pytest.mark.django_db


def fresh(schedule):
    return rebalancing.running().get(pk=schedule.pk)


def test_days_off_give_a_proposal_with_a_reason_for_each_change():
    schedule = lived()
    proposal = rebalancing.propose(schedule)
    changes = list(proposal.changes.all())
    assert proposal.state == "open"
    assert changes
    assert all(change.sentence.endswith(".") and change.rule for change in changes)
    # Wherever in the week today is, the break is at least seven days long and the long run is cut.
    assert "days off travelling" in proposal.why
    assert "ong run" in proposal.summary
    assert "instead of 14 km" in proposal.summary


def test_nothing_missed_nothing_proposed():
    schedule = lived(missed_days=0)
    assert rebalancing.propose(schedule) is None
    assert not Proposal.objects.exists()


def test_the_same_inputs_leave_the_proposal_that_stands():
    schedule = lived()
    first = rebalancing.propose(schedule)
    assert rebalancing.propose(fresh(schedule)).pk == first.pk
    assert Proposal.objects.count() == 1


def test_a_newer_one_supersedes_what_still_waits():
    schedule = lived(missed_days=5)
    first = rebalancing.propose(schedule)
    assert first is not None
    schedule.athlete.time_off.create(
        first_day=schedule.athlete.today(), last_day=schedule.athlete.today() + timedelta(6), kind="travel"
    )
    second = rebalancing.propose(fresh(schedule))
    first.refresh_from_db()
    assert first.state == "superseded"
    assert second.state == "open"
    assert Proposal.objects.filter(state="open").count() == 1


def test_a_burst_of_five_entries_gives_one_job_and_one_proposal():
    schedule = lived(missed_days=0)
    today = schedule.athlete.today()
    past = SessionIssue.objects.filter(schedule=schedule, day__lt=today).order_by("-day")[:5]
    for issue in past:
        issue.session.logs.all().delete()
        log(issue, "missed", "travel")
        queue_rebalance(schedule.athlete)
    waiting = Job.objects.filter(kind="rebalance", state="waiting")
    assert waiting.count() == 1
    jobs.run(waiting.get().pk)
    assert Proposal.objects.count() == 1
    assert Proposal.objects.get().state == "open"


def test_accepting_issues_what_was_proposed_and_a_second_look_finds_nothing():
    schedule = lived()
    proposal = rebalancing.propose(schedule)
    number = deciding.accept(proposal, by=UserFactory(name="Marta"))
    assert number == 2
    for change in proposal.changes.all():
        live = SessionIssue.objects.get(session=change.session_id, to_version=None)
        assert Content.of(live) == Content.from_json(change.after)
    assert rebalancing.propose(fresh(schedule)) is None


def test_a_refused_proposal_is_not_raised_again_until_its_inputs_change():
    schedule = lived(missed_days=8)
    proposal = rebalancing.propose(schedule)
    assert deciding.refuse(proposal, by=UserFactory(), words="She knows what she does.")
    assert rebalancing.propose(fresh(schedule)) is None
    schedule.athlete.time_off.create(
        first_day=schedule.athlete.today() + timedelta(1),
        last_day=schedule.athlete.today() + timedelta(4),
        kind="travel",
    )
    assert rebalancing.propose(fresh(schedule)) is not None


def test_what_was_refused_on_one_day_is_not_back_the_next_day(time_machine):
    schedule = lived(missed_days=8)
    deciding.refuse(rebalancing.propose(schedule), by=UserFactory())
    due = SessionIssue.objects.filter(schedule=schedule, day=schedule.athlete.today(), to_version=None)
    for issue in due:
        log(issue)
    time_machine.move_to(timezone.now() + timedelta(days=1))
    assert rebalancing.propose(fresh(schedule)) is None


def test_an_undone_proposal_is_not_raised_again():
    schedule = lived()
    before = standing(schedule)
    proposal = rebalancing.propose(schedule)
    deciding.accept(proposal, by=UserFactory())
    assert standing(schedule) != before
    proposal.refresh_from_db()
    deciding.undo(proposal, by=UserFactory())
    proposal.refresh_from_db()
    assert proposal.state == "undone"
    today = schedule.athlete.today()
    # A session that moved from a day gone by to one ahead stays where it was put.
    moved = {c.after["day"] for c in proposal.changes.all() if c.before["day"] < today.isoformat()}
    assert [s for s in standing(schedule) if s[0].isoformat() not in moved] == [
        s for s in before if s[0].isoformat() not in moved
    ]
    assert rebalancing.propose(fresh(schedule)) is None or moved


class TestSmall:
    def test_a_small_cut_of_easy_running_is_small(self):
        proposal = Proposal(urgency=5, cut_percent=15, touches_key=False)
        assert rebalancing.is_small(proposal, Practice())

    @pytest.mark.parametrize(
        "values",
        [
            {"cut_percent": 16},
            {"touches_key": True},
            {"urgency": 2},
            {"choice": "lost-week"},
            {"kind": "refit"},
        ],
    )
    def test_what_is_not_small(self, values):
        proposal = Proposal(**{"urgency": 5, "cut_percent": 5, "touches_key": False} | values)
        assert not rebalancing.is_small(proposal, Practice())

    def test_the_practice_may_let_key_sessions_count(self):
        proposal = Proposal(urgency=5, cut_percent=5, touches_key=True)
        assert rebalancing.is_small(proposal, Practice(small_spares_key=False))

    def test_what_waits_is_judged_again_when_the_practice_changes_its_mind(self):
        proposal = rebalancing.propose(lived())
        assert not proposal.small
        practice = Practice.get()
        practice.small_cut_percent, practice.small_spares_key = 100, False
        rebalancing.judge_small(practice)
        proposal.refresh_from_db()
        assert proposal.small == (proposal.urgency >= 5)


class TestByItself:
    def small_for(self, **values):
        practice = Practice.get()
        practice.small_cut_percent, practice.small_spares_key = 100, False
        practice.save()
        return rebalancing.propose(lived(AthleteFactory(**values)))

    def test_a_small_change_is_issued_for_an_athlete_who_asked_for_it(self):
        proposal = self.small_for(auto_small=True)
        assert proposal.state == "accepted"
        assert proposal.decided_by is None
        assert proposal.words == "by itself, as set for this athlete"
        assert proposal.told.startswith(proposal.summary[:40])
        version = proposal.schedule.versions.get(number=2)
        assert (version.by, version.cause[:12]) == (None, "Re-balanced:")

    def test_for_others_it_waits(self):
        assert self.small_for(auto_small=False).state == "open"

    def test_what_is_not_small_waits_all_the_same(self):
        proposal = rebalancing.propose(lived(AthleteFactory(auto_small=True)))
        assert proposal.state == "open"


def test_a_schedule_that_moved_on_meanwhile_gets_a_new_job_instead():
    schedule = lived()
    drafts = rebalancing.drafts_of([schedule])
    easy = ahead(schedule, "easy")
    issuing.issue(schedule, 1, {easy.session_id: Content.of(easy)}, by=None, cause="By hand")
    assert rebalancing.store(drafts) == {}
    assert not Proposal.objects.exists()
    assert Job.objects.filter(kind="rebalance", key=str(schedule.athlete_id), state="waiting").count() == 1


def test_a_batch_takes_the_same_queries_for_two_as_for_six(django_assert_num_queries):
    Practice.get()
    for _ in range(8):
        lived()
    schedules = list(rebalancing.running().order_by("pk"))
    for some in (schedules[:2], schedules[2:]):
        with django_assert_num_queries(16):
            made = rebalancing.propose_many(some)
        assert len(made) == len(some)


def test_a_miles_athlete_reads_miles():
    schedule = lived(AthleteFactory(units="mi"))
    proposal = rebalancing.propose(schedule)
    texts = [
        c.after["steps"]
        for c in proposal.changes.all()
        if c.after["role"] == "long" and c.after["steps"] != c.before["steps"]
    ]
    assert texts
    for text in texts:
        assert text.endswith(" mi")
        assert len(text) <= len("long run 12.5 mi")


@pytest.mark.parametrize(
    ("mm", "units", "text"),
    [
        (8 * KM, "km", "8 km easy"),
        (8_500_000, "km", "8.5 km easy"),
        (8_046_720, "mi", "5 mi easy"),
        (1, "km", "0.5 km easy"),
    ],
)
def test_an_easy_run_is_written_to_the_half_unit(mm, units, text):
    assert easy_run(mm, units) == text


class TestLook:
    def silent(self, hours_after_noon, time_machine):
        schedule = lived(missed_days=0, ago=2)
        due = SessionIssue.objects.filter(
            schedule=schedule, role="quality", day__gt=schedule.athlete.today()
        ).order_by("day")[0]
        noon = timezone.datetime.combine(due.day + timedelta(1), timezone.datetime.min.time()).replace(
            hour=12, tzinfo=timezone.get_default_timezone()
        )
        for issue in SessionIssue.objects.filter(schedule=schedule, day__lt=due.day, session__logs=None):
            log(issue)
        time_machine.move_to(noon + timedelta(hours=hours_after_noon), tick=False)
        return schedule

    def test_a_run_not_logged_by_noon_of_the_next_day_is_taken_as_missed(self, time_machine):
        schedule = self.silent(1, time_machine)
        assert rebalancing.silent_past_noon() == [schedule.athlete_id]
        job = jobs.enqueue("look", "now")
        jobs.run(job.pk)
        job.refresh_from_db()
        assert (job.state, job.done_count, job.total) == ("done", 1, 1)

    def test_at_dawn_nothing_is_cut(self, time_machine):
        self.silent(-5, time_machine)
        assert rebalancing.silent_past_noon() == []

    def test_one_failing_athlete_does_not_keep_the_others_from_theirs(self):
        good = lived()
        bad = scheduled(weeks=4)
        bad.weeks.all().delete()  # the core refuses a schedule without weeks
        rebalancing.rebalance_batch([good.athlete_id, bad.athlete_id])
        keys = set(Job.objects.filter(kind="rebalance", state="waiting").values_list("key", flat=True))
        assert keys == {str(good.athlete_id), str(bad.athlete_id)}


def test_three_silent_run_days_and_nothing_is_proposed(time_machine):
    schedule = lived(missed_days=0)
    time_machine.move_to(timezone.now() + timedelta(days=8))
    assert rebalancing.propose(fresh(schedule)) is None
    found = silent_among([schedule.athlete])
    assert [s.athlete for s in found] == [schedule.athlete]
    assert found[0].run_days in (4, 5)  # four runs a week; eight days
    assert found[0].since >= schedule.athlete.today() - timedelta(8)


def test_the_third_silent_day_counts_from_noon_of_the_next(time_machine):
    schedule = lived(missed_days=0)
    due = sorted(
        SessionIssue.objects.filter(schedule=schedule, day__gte=schedule.athlete.today(), role__in=RUNS)
        .values_list("day", flat=True)
        .distinct()
    )
    next_day = datetime.combine(due[2] + timedelta(1), time(8), UTC)
    time_machine.move_to(next_day)
    assert silent_among([schedule.athlete]) == []
    time_machine.move_to(next_day + timedelta(hours=5))
    assert [s.run_days for s in silent_among([schedule.athlete])] == [3]


def test_no_running_schedule_no_proposal():
    schedule = lived()
    Schedule.objects.filter(pk=schedule.pk).update(state="ended")
    queue_rebalance(schedule.athlete)
    jobs.run(Job.objects.get(state="waiting").pk)
    assert not Proposal.objects.exists()
