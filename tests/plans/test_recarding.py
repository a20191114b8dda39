"""Compute cards anew: proposed with the old one beside it, issued when accepted, in a constant number of queries."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from athletes.carding import compute_card, store_card
from athletes.models import Athlete, PaceCard, User
from athletes.running.units import FIVE_K, MARATHON, Distance, Duration
from plans import issuing, jobs, recarding
from plans.evidence import evidence_of
from plans.issuing import Stale
from plans.models import CardProposal, Job, Proposal, Schedule, ScheduleVersion, SessionIssue
from plans.reading import card_of, cards_of
from tests.factories import AthleteFactory, CoachFactory, ResultFactory, UserFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


def today() -> date:
    return timezone.localdate()


def carded(**values: Any) -> Athlete:
    """An athlete without a schedule: 10 km in 48:00 three weeks ago, and the card it gives."""
    athlete = AthleteFactory(**values)
    result = ResultFactory(athlete=athlete)
    store_card(athlete, compute_card(athlete, [result]), result, today())
    return athlete


def faster(athlete: Athlete, **values: Any) -> Any:
    """10 km in 44:00, yesterday."""
    what = {"time_ms": 44 * 60_000, "day": today() - timedelta(1), **values}
    return ResultFactory(athlete=athlete, **what)


@pytest.fixture
def coach() -> User:
    return UserFactory(name="Marta Quill")


class TestProposing:
    def test_a_faster_result_is_proposed_beside_the_old_card(self) -> None:
        athlete = carded()
        old, result = athlete.pace_cards.get(), faster(athlete)
        outcome = recarding.propose(athlete, "New result")
        row = CardProposal.objects.get()
        assert outcome.proposal == row
        assert (row.state, row.why, row.replaces, row.result, row.days_off) == (
            "open",
            "New result",
            old,
            result,
            None,
        )
        # 10 km in 44:00 is 4:24/km, give or take 1 %: 43:33.6 to 44:26.4.
        ends = row.paces.ranges["10K"]
        assert (ends.fast.duration, ends.slow.duration) == (Duration(2_613_600), Duration(2_666_400))
        assert athlete.pace_cards.count() == 1

    def test_nothing_is_proposed_when_nothing_changes(self) -> None:
        athlete = carded()
        outcome = recarding.propose(athlete, "New result")
        assert outcome.proposal is None
        assert outcome.words.startswith("The paces stay as they are: they stand on 10K in 48:00 on ")
        assert not CardProposal.objects.exists()

    def test_a_newer_one_supersedes_and_one_is_open_at_most(self) -> None:
        athlete = carded()
        faster(athlete)
        first = recarding.propose(athlete, "one").proposal
        faster(athlete, time_ms=43 * 60_000, day=today())
        second = recarding.propose(athlete, "two").proposal
        assert first
        assert second
        first.refresh_from_db()
        assert (first.state, second.state) == ("superseded", "open")

    def test_the_same_again_is_left_waiting(self) -> None:
        athlete = carded()
        faster(athlete)
        first = recarding.propose(athlete, "one").proposal
        again = recarding.propose(athlete, "two")
        assert (again.proposal, CardProposal.objects.get().why) == (first, "one")

    def test_what_no_longer_differs_no_longer_waits(self) -> None:
        athlete = carded()
        result = faster(athlete)
        recarding.propose(athlete, "one")
        result.delete()
        assert recarding.propose(athlete, "two").proposal is None
        assert CardProposal.objects.get().state == "superseded"

    def test_without_a_result_the_card_stays_and_says_why(self) -> None:
        athlete = carded()
        athlete.results.update(day=today() - timedelta(366))
        outcome = recarding.propose(athlete, "Grown old")
        assert outcome.words == (
            "No result of the past year counts, so the paces stay as they are until there is one."
        )

    def test_a_first_card_is_proposed_with_none_beside_it(self) -> None:
        athlete = AthleteFactory()
        ResultFactory(athlete=athlete)
        outcome = recarding.propose(athlete, "New result")
        assert outcome.proposal
        assert outcome.proposal.replaces is None

    def test_results_nobody_could_have_run_are_passed_over(self) -> None:
        athlete = carded()
        ResultFactory(athlete=athlete, distance_mm=100 * 1_000_000, time_ms=9 * 3_600_000, day=today())
        assert recarding.propose(athlete, "An ultra came in").proposal is None


class TestAccepting:
    def test_the_next_version_has_the_card_and_the_same_sessions(self, coach: User) -> None:
        schedule = scheduled()
        before = list(SessionIssue.objects.order_by("pk").values())
        faster(schedule.athlete)
        proposal = recarding.propose(schedule.athlete, "New result").proposal
        assert proposal
        card = recarding.accept(proposal, by=coach)
        schedule.refresh_from_db()
        version = ScheduleVersion.objects.get(schedule=schedule, number=2)
        assert (card.number, schedule.current_version, version.pace_card) == (2, 2, card)
        assert version.by_name == "Marta Quill"
        assert version.cause.startswith("New paces, from 10K in 44:00 on ")
        assert list(SessionIssue.objects.order_by("pk").values()) == before
        proposal.refresh_from_db()
        assert (proposal.state, proposal.decided_by, proposal.card) == ("accepted", coach, card)
        # Planning goes on from the new version as from any other.
        assert issuing.issue(schedule, 2, {}, by=coach, cause="Something else") == 3
        assert card_of(schedule) == card

    def test_without_a_schedule_the_card_is_kept(self, coach: User) -> None:
        athlete = carded()
        faster(athlete)
        proposal = recarding.propose(athlete, "New result").proposal
        assert proposal
        assert recarding.accept(proposal, by=coach).number == 2
        assert athlete.pace_cards.first().values == proposal.values  # type: ignore[union-attr]

    def test_twice_is_stale(self, coach: User) -> None:
        athlete = carded()
        faster(athlete)
        proposal = recarding.propose(athlete, "New result").proposal
        assert proposal
        recarding.accept(proposal, by=coach)
        with pytest.raises(Stale, match="These paces were decided already"):
            recarding.accept(proposal, by=coach)
        assert athlete.pace_cards.count() == 2

    def test_other_paces_since_are_never_overwritten(self, coach: User) -> None:
        athlete = carded()
        faster(athlete)
        proposal = recarding.propose(athlete, "New result").proposal
        assert proposal
        other = compute_card(athlete, [ResultFactory.build(athlete=athlete, time_ms=46 * 60_000)])
        standing = store_card(athlete, other, None, today())
        with pytest.raises(Stale, match="Other paces came into force since"):
            recarding.accept(proposal, by=coach)
        fresh = CardProposal.objects.get(state="open")
        assert (fresh.replaces, athlete.pace_cards.count()) == (standing, 2)
        proposal.refresh_from_db()
        assert proposal.state == "superseded"

    def test_a_schedule_that_moved_on_takes_the_card_on_its_newest_version(self, coach: User) -> None:
        schedule = scheduled()
        faster(schedule.athlete)
        proposal = recarding.propose(schedule.athlete, "New result").proposal
        issuing.issue(schedule, 1, {}, by=coach, cause="A session was moved")
        assert proposal
        recarding.accept(proposal, by=coach)
        schedule.refresh_from_db()
        assert schedule.current_version == 3

    def test_an_open_proposal_for_the_weeks_ahead_is_computed_again(self, coach: User) -> None:
        schedule = scheduled()
        Proposal.objects.create(
            schedule=schedule, base_version=1, made_at=timezone.now(), why="A run was missed"
        )
        faster(schedule.athlete)
        proposal = recarding.propose(schedule.athlete, "New result").proposal
        assert proposal
        recarding.accept(proposal, by=coach)
        recarding.accept_all([proposal], by=coach)
        assert list(Job.objects.filter(kind="rebalance").values_list("key", flat=True)) == [
            str(schedule.athlete_id)
        ]

    def test_refused_keeps_the_word_and_the_card(self, coach: User) -> None:
        athlete = carded()
        faster(athlete)
        proposal = recarding.propose(athlete, "New result").proposal
        assert proposal
        assert recarding.refuse(proposal, by=coach, words="Downhill course.")
        assert not recarding.refuse(proposal, by=coach)
        proposal.refresh_from_db()
        assert (proposal.state, proposal.words) == ("refused", "Downhill course.")
        assert athlete.pace_cards.count() == 1


class TestPastSessions:
    def test_they_keep_the_card_of_the_version_that_stood(self, coach: User) -> None:
        schedule = scheduled(weeks=4, began_weeks_ago=2)
        old = card_of(schedule)
        faster(schedule.athlete)
        proposal = recarding.propose(schedule.athlete, "New result").proposal
        assert proposal
        new = recarding.accept(proposal, by=coach)
        cards = cards_of(schedule)
        assert cards.on(today() - timedelta(1)) == old
        assert cards.on(today()) == new
        assert cards.on(today() + timedelta(7)) == new
        assert cards.on(schedule.first_day - timedelta(30)) == old

    def test_a_day_begins_where_the_athlete_is(self, coach: User) -> None:
        """Issued on 1 June 02:00 UTC: in Halifax it is still 31 May, so 1 June has the new card at its dawn."""
        schedule = scheduled(AthleteFactory(time_zone="America/Halifax"))
        old = card_of(schedule)
        new = PaceCard.objects.create(
            athlete=schedule.athlete,
            number=9,
            made_on=today(),
            formula="",
            origin="",
            values=old.values,  # type: ignore[union-attr]
        )
        issuing.issue_cards({schedule.pk: new}, by=coach)
        utc = ZoneInfo("UTC")
        schedule.versions.filter(number=1).update(issued_at=datetime(2026, 5, 1, tzinfo=utc))
        schedule.versions.filter(number=2).update(issued_at=datetime(2026, 6, 1, 2, tzinfo=utc))
        schedule = Schedule.objects.get(pk=schedule.pk)
        cards = cards_of(schedule)
        assert (cards.on(date(2026, 5, 31)), cards.on(date(2026, 6, 1))) == (old, new)


class TestBreaks:
    def accepted_break(self, coach: User) -> Athlete:
        athlete = carded()
        proposal = recarding.propose(athlete, "Two weeks off", days_off=14).proposal
        assert proposal
        recarding.accept(proposal, by=coach)
        return athlete

    def test_the_card_is_a_range_from_the_least_to_the_greatest_loss(self) -> None:
        athlete = carded()
        old = athlete.pace_cards.get().card
        proposal = recarding.propose(athlete, "Two weeks off", days_off=14).proposal
        assert proposal
        assert proposal.days_off == 14
        new = proposal.paces
        assert new.ranges["10K"].fast.s_per_km > old.ranges["10K"].fast.s_per_km
        assert new.ranges["10K"].width_percent > old.ranges["10K"].width_percent
        assert "14 days off usually cost 2 to 7 %" in new.origin

    def test_computing_again_keeps_allowing_for_it(self, coach: User) -> None:
        athlete = self.accepted_break(coach)
        assert recarding.propose(athlete, "Everyone").proposal is None

    def test_a_result_since_then_makes_the_older_ones_history(self, coach: User) -> None:
        athlete = self.accepted_break(coach)
        slower = ResultFactory(athlete=athlete, time_ms=51 * 60_000, day=today())
        found = evidence_of([athlete])[athlete.pk]
        assert (found.results, found.days_off) == ((slower,), None)
        proposal = recarding.propose(athlete, "New result").proposal
        assert proposal
        assert proposal.origin.startswith("10K in 51:00")

    def test_no_days_off_ends_it(self, coach: User) -> None:
        athlete = self.accepted_break(coach)
        proposal = recarding.propose(athlete, "It was no break", days_off=0).proposal
        assert proposal
        recarding.accept(proposal, by=coach)
        assert evidence_of([athlete])[athlete.pk].days_off is None
        assert athlete.pace_cards.first().card.origin.startswith("10K in 48:00")  # type: ignore[union-attr]


class TestManyAtOnce:
    def queries(self, work: Any) -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            work()
        return len(seen)

    def roster(self, count: int) -> list[Athlete]:
        athletes = [scheduled().athlete for _ in range(count)]
        for athlete in athletes:
            faster(athlete)
        return athletes

    def test_twenty_cost_the_queries_of_ten(self, coach: User) -> None:
        counts = []
        for count in (10, 20):
            athletes = self.roster(count)
            proposing = self.queries(lambda rows=athletes: recarding.propose_all(rows, "Everyone"))
            rows = list(CardProposal.objects.filter(state="open"))
            assert len(rows) == count
            accepting = self.queries(lambda rows=rows: recarding.accept_all(rows, by=coach))
            counts.append((proposing, accepting))
            assert PaceCard.objects.filter(athlete__in=athletes, number=2).count() == count
        assert counts[0] == counts[1]

    def test_the_job_computes_the_roster_of_the_coach_who_asked(self) -> None:
        mine, others = carded(), carded()
        coach = CoachFactory()
        coaches(coach, mine)
        faster(mine)
        faster(others)
        job = recarding.ask_for_everyone(coach)
        assert recarding.ask_for_everyone(coach) == job
        jobs.run(job.pk)
        job.refresh_from_db()
        assert (job.state, job.done_count, job.total) == ("done", 1, 1)
        assert CardProposal.objects.get().athlete == mine

    def test_the_job_twice_changes_nothing(self) -> None:
        athlete = carded()
        coach = CoachFactory(is_head=True)
        faster(athlete)
        job = recarding.ask_for_everyone(coach)
        recarding.recard(job)
        recarding.recard(job)
        assert CardProposal.objects.count() == 1

    def test_at_night_a_result_older_than_a_year_no_longer_counts(self, coach: User) -> None:
        """Two results; the faster one was run 366 days ago."""
        athlete = carded()
        faster(athlete, day=today() - timedelta(364))
        proposal = recarding.propose(athlete, "New result").proposal
        assert proposal
        recarding.accept(proposal, by=coach)
        recarding.write_nightly_look()
        recarding.write_nightly_look()
        job = Job.objects.get(kind="recard")
        jobs.run(job.pk)
        assert not CardProposal.objects.filter(state="open").exists()
        athlete.results.filter(time_ms=44 * 60_000).update(day=today() - timedelta(366))
        recarding.recard(job)
        fresh = CardProposal.objects.get(state="open")
        assert (fresh.why, fresh.origin[:12]) == ("A result is now older than a year", "10K in 48:00")

    def test_at_night_a_refusal_is_remembered(self, coach: User) -> None:
        athlete = carded()
        faster(athlete, day=today() - timedelta(364))
        proposal = recarding.propose(athlete, "New result").proposal
        assert proposal
        recarding.accept(proposal, by=coach)
        athlete.results.filter(time_ms=44 * 60_000).update(day=today() - timedelta(366))
        recarding.write_nightly_look()
        job = Job.objects.get(kind="recard")
        recarding.recard(job)
        recarding.refuse(CardProposal.objects.get(state="open"), by=coach)
        recarding.recard(job)
        assert not CardProposal.objects.filter(state="open").exists()

    def test_one_thousand_and_one_are_two_batches(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(recarding, "BATCH", 2)
        athletes = [carded() for _ in range(3)]
        for athlete in athletes:
            faster(athlete)
        recarding.recard(recarding.ask_for_everyone(CoachFactory(is_head=True)))
        assert CardProposal.objects.filter(state="open").count() == 3


def test_a_goal_nobody_runs_leaves_the_other_paces(coach: User) -> None:
    """1:50 for a marathon, typed somewhere else: no goal pace, and no error."""
    schedule = scheduled()
    schedule.race_entry.goal_ms = 110 * 60_000
    schedule.race_entry.save()
    found = evidence_of([schedule.athlete])[schedule.athlete_id]
    assert found.goal is None
    assert "goal" not in found.compute().ranges


def test_the_goal_is_on_the_card() -> None:
    schedule = scheduled()
    schedule.race_entry.goal_ms = 225 * 60_000
    schedule.race_entry.save()
    found = evidence_of([schedule.athlete])[schedule.athlete_id]
    assert found.goal == (MARATHON, Duration(225 * 60_000))
    assert found.compute().ranges["goal"].mid.time_for(FIVE_K) == Duration(1_599_716)
    assert found.weekly == Distance.from_km(40)
