"""Two at once: coaches, a log and a coach, a job and an edit. Real threads on a real database."""

import threading
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection

from plans import deciding, issuing, rebalancing, recording
from plans.issuing import Content, Stale
from plans.models import Job, Proposal, Schedule, ScheduleVersion, SessionIssue
from plans.recording import Entry
from tests.factories import CoachFactory, UserFactory
from tests.plans.weeks import ahead, lived

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*works):
    """Run them in threads that start together; their results or exceptions, in their order."""
    gate, found = threading.Barrier(len(works)), [None] * len(works)

    def run(n, work):
        try:
            gate.wait(10)
            found[n] = work()
        except Exception as error:
            found[n] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(n, work)) for n, work in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return found


def test_two_coaches_accept_at_once_one_wins_the_other_is_told():
    schedule = lived()
    proposal = rebalancing.propose(schedule)
    one, other = UserFactory(name="Marta"), UserFactory(name="Jonah")
    found = at_once(
        lambda: deciding.accept(Proposal.objects.get(pk=proposal.pk), by=one),
        lambda: deciding.accept(Proposal.objects.get(pk=proposal.pk), by=other),
    )
    assert sorted(type(f).__name__ for f in found) == ["Stale", "int"]
    winner = (one, other)[[isinstance(f, int) for f in found].index(True)]
    told = next(f for f in found if isinstance(f, Stale))
    assert str(told) == f"It was accepted already by {winner.name}."
    assert Schedule.objects.get(pk=schedule.pk).current_version == 2
    assert Proposal.objects.get(pk=proposal.pk).decided_by == winner
    assert Proposal.objects.filter(state="open").count() == 0


def test_one_accepts_while_another_refuses():
    schedule = lived()
    proposal = rebalancing.propose(schedule)
    coach = UserFactory()
    found = at_once(
        lambda: deciding.accept(Proposal.objects.get(pk=proposal.pk), by=coach),
        lambda: deciding.refuse(Proposal.objects.get(pk=proposal.pk), by=coach),
    )
    proposal.refresh_from_db()
    version = Schedule.objects.get(pk=schedule.pk).current_version
    assert (proposal.state, version, found[1]) in (("accepted", 2, False), ("refused", 1, True))


def test_a_log_between_proposal_and_acceptance_is_noticed_and_computed_again():
    schedule = lived()
    proposal = rebalancing.propose(schedule)
    # All that was missed was run after all: the entries replace those that stood.
    for standing in schedule.athlete.logs.filter(outcome="missed"):
        entry = Entry(uuid4(), standing.day, "done", seen=standing.pk)
        recording.record(schedule.athlete, standing.session, entry, by=UserFactory())
    before = list(SessionIssue.objects.values_list("pk", "to_version").order_by("pk"))
    with pytest.raises(Stale, match="Something was logged or noted since"):
        deciding.accept(proposal, by=UserFactory())
    assert list(SessionIssue.objects.values_list("pk", "to_version").order_by("pk")) == before
    proposal.refresh_from_db()
    assert proposal.state == "superseded"
    assert not Proposal.objects.filter(state="open").exists()


def test_what_is_computed_again_says_so():
    schedule = lived(missed_days=6)
    proposal = rebalancing.propose(schedule)
    today = schedule.athlete.today()
    recording.take_time_off(schedule.athlete, today + timedelta(2), today + timedelta(9), 0, "travel")
    with pytest.raises(Stale):
        deciding.accept(proposal, by=UserFactory())
    newest = Proposal.objects.get(state="open")
    assert newest.recomputed
    assert newest.pk != proposal.pk
    assert deciding.accept(newest, by=UserFactory()) == 2


def test_news_that_changes_nothing_does_not_stand_in_the_way():
    schedule = lived()
    proposal = rebalancing.propose(schedule)
    far = schedule.athlete.today() + timedelta(400)
    recording.take_time_off(schedule.athlete, far, far, 0, "travel")
    assert deciding.accept(proposal, by=UserFactory()) == 2


def test_a_coach_edits_while_the_job_runs():
    schedule = lived()
    drafts = rebalancing.drafts_of([rebalancing.running().get(pk=schedule.pk)])
    long = ahead(schedule, "long")
    pinned = replace(Content.of(long), purpose="As I say.", pinned_by_id=CoachFactory().pk)
    issuing.issue(schedule, 1, {long.session_id: pinned}, by=None, cause="By hand")
    assert rebalancing.store(drafts) == {}
    assert Proposal.objects.count() == 0
    job = Job.objects.get(kind="rebalance", state="waiting")
    rebalancing.rebalance_athlete(job)
    fresh = Proposal.objects.get(state="open")
    assert fresh.base_version == 2
    assert long.session_id not in {c.session_id for c in fresh.changes.all()}


def test_an_edit_after_the_proposal_was_made_makes_it_stale():
    schedule = lived()
    proposal = rebalancing.propose(schedule)
    easy = ahead(schedule, "easy", weeks=3)
    issuing.issue(
        schedule, 1, {easy.session_id: replace(Content.of(easy), purpose="Mine")}, by=None, cause="By hand"
    )
    with pytest.raises(Stale, match="The schedule was changed meanwhile"):
        deciding.accept(proposal, by=UserFactory())
    live = SessionIssue.objects.get(session=easy.session_id, to_version=None)
    assert live.purpose == "Mine"
    assert Proposal.objects.get(state="open").base_version == 2


def test_two_workers_compute_the_same_athlete_at_once():
    schedule = lived()

    def work():
        return rebalancing.propose(rebalancing.running().get(pk=schedule.pk))

    found = at_once(work, work, work)
    assert len({f.pk for f in found}) == 1
    assert Proposal.objects.count() == 1


def test_acceptance_against_a_steady_rain_of_entries():
    """However it falls out: one version at most for each acceptance, one open proposal at most, no entry lost."""
    schedule = lived()
    proposal = rebalancing.propose(schedule)
    by = UserFactory()
    missed = list(schedule.athlete.logs.filter(outcome="missed"))

    def rain():
        for standing in missed:
            entry = Entry(uuid4(), standing.day, "done", seen=standing.pk)
            recording.record(standing.athlete, standing.session, entry, by=by)
            rebalancing.propose(rebalancing.running().get(pk=schedule.pk))

    def decide():
        with suppress(Stale):
            deciding.accept(Proposal.objects.get(pk=proposal.pk), by=by)

    found = at_once(rain, decide)
    assert [f for f in found if isinstance(f, Exception)] == []
    accepted = Proposal.objects.filter(state="accepted").count()
    assert Schedule.objects.get(pk=schedule.pk).current_version == 1 + accepted
    assert ScheduleVersion.objects.filter(schedule=schedule).count() == 1 + accepted
    assert Proposal.objects.filter(state="open").count() <= 1
    assert schedule.athlete.logs.filter(replaced_by=None, outcome="missed").count() == 0
