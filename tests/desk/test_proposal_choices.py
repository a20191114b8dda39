"""Alternatives and what-ifs side by side; versions compared and undone."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from athletes.models import TimeOff
from plans import choosing, deciding, rebalancing
from plans.models import Job, Proposal, Schedule, SessionIssue
from plans.told import told_to
from tests.factories import AthleteFactory, CoachFactory, UserFactory, coaches
from tests.plans.weeks import lived

pytestmark = pytest.mark.django_db


@pytest.fixture
def coach():
    return CoachFactory(user__name="Marta Quill")


@pytest.fixture
def schedule(coach):
    made = lived(AthleteFactory(name="Bea Lindqvist"))
    coaches(coach, made.athlete)
    return made


@pytest.fixture
def desk(client, coach):
    client.force_login(coach.user)
    return client


def text(response):
    return re.sub(r"\s+", " ", response.content.decode())


def test_it_works(desk, schedule):
    page = text(desk.get(reverse("choices", args=[schedule.pk])))
    assert "What re-balancing proposes" in page
    assert "Longest run to come" in page


def test_a_lost_week_is_shown_and_nothing_is_stored(desk, schedule):
    week = choosing.weeks_ahead(schedule)[2]
    page = text(desk.get(reverse("choices", args=[schedule.pk]), {"lost": week.isoformat()}))
    assert f"If the week of Mon {week.day} {week:%b} is lost" in page
    assert not TimeOff.objects.exists()
    assert not Proposal.objects.exists()


def test_kept_it_is_time_off_and_a_proposal(desk, schedule):
    week = choosing.weeks_ahead(schedule)[2]
    desk.post(
        reverse("choices-choose", args=[schedule.pk]), {"choice": "lost_week", "lost": week.isoformat()}
    )
    off = TimeOff.objects.get()
    assert (off.first_day, off.last_day, off.minutes) == (week, week + timedelta(6), 0)
    gone = Proposal.objects.get(state="open").changes.filter(before__day__gte=week.isoformat())
    gone = [c for c in gone if c.before["day"] <= (week + timedelta(6)).isoformat()]
    assert gone
    assert all(c.after["removed"] for c in gone)
    assert Job.objects.filter(kind="rebalance", state="waiting").count() == 1


@pytest.mark.parametrize("lost", ["", "2020-01-06", "next week"])
def test_a_week_that_is_none(desk, schedule, lost):
    page = desk.post(reverse("choices-choose", args=[schedule.pk]), {"choice": "lost_week", "lost": lost})
    assert page.status_code == 422
    assert "Choose a week of this schedule that is still to come." in text(page)
    assert not TimeOff.objects.exists()


def test_a_choice_that_does_not_apply(desk, schedule):
    page = desk.post(reverse("choices-choose", args=[schedule.pk]), {"choice": "peak_long"})
    assert page.status_code == 422
    assert "This choice does not apply any more." in text(page)


def recovery_next_week(schedule):
    """The week after this one becomes a recovery week of half its amounts."""
    first = choosing.weeks_ahead(schedule)[1]
    schedule.weeks.filter(first_day=first).update(kind="recovery")
    for issue in SessionIssue.objects.filter(
        schedule=schedule, day__range=(first, first + timedelta(6)), role__in=["easy", "long"]
    ):
        half = issue.planned_mm // 2
        SessionIssue.objects.filter(pk=issue.pk).update(
            planned_mm=half, planned_s=issue.planned_s // 2, steps=f"{half // 1_000_000} km easy"
        )
    return first


def test_a_waived_recovery_week_is_a_proposal_whose_larger_sessions_are_fixed_by_the_coach(desk, coach):
    schedule = lived(missed_days=0)
    coaches(coach, schedule.athlete)
    first = recovery_next_week(schedule)
    page = text(desk.get(reverse("choices", args=[schedule.pk])))
    assert "The next recovery week is run like the week before it." in page
    desk.post(reverse("choices-choose", args=[schedule.pk]), {"choice": "waive_recovery"})
    made = Proposal.objects.get(state="open")
    assert made.choice == "waive_recovery"
    long = next(c for c in made.changes.all() if c.before["role"] == "long")
    assert (long.before["planned_mm"], long.after["planned_mm"]) == (7_000_000, 14_000_000)
    assert long.after["steps"] == "long run 14 km"
    assert long.after["pinned_by_id"] == coach.pk
    # The plain job leaves a coach's choice alone as long as nothing new is known.
    assert rebalancing.propose(rebalancing.running().get(pk=schedule.pk)).pk == made.pk
    deciding.accept(made, by=coach.user, coach=coach)
    assert schedule.weeks.get(first_day=first, to_version=None).kind == "build"
    assert rebalancing.propose(rebalancing.running().get(pk=schedule.pk)) is None
    deciding.undo_version(Schedule.objects.get(pk=schedule.pk), 2, by=coach.user)
    assert schedule.weeks.get(first_day=first, to_version=None).kind == "recovery"


@pytest.mark.parametrize("name", ["choices", "choices-choose", "versions", "version-undo"])
def test_another_coach_and_the_athlete_get_404_a_stranger_signs_in(client, schedule, name):
    args = [schedule.pk, 2] if name == "version-undo" else [schedule.pk]
    address = reverse(name, args=args)
    ask = client.get if name in ("choices", "versions") else client.post
    assert ask(address).status_code == 302
    for user in (CoachFactory().user, schedule.athlete.user):
        client.force_login(user)
        assert ask(address).status_code == 404


class TestVersions:
    @pytest.fixture
    def accepted(self, schedule):
        proposal = rebalancing.propose(schedule)
        deciding.accept(proposal, by=UserFactory(name="Jonah Tarn"))
        proposal.refresh_from_db()
        return proposal

    def test_who_when_and_why(self, desk, schedule, accepted):
        page = text(desk.get(reverse("versions", args=[schedule.pk])))
        assert "Jonah Tarn" in page
        assert f"Re-balanced: {accepted.why}" in page
        assert accepted.summary in page

    def test_any_two_are_compared_whatever_their_order(self, desk, schedule, accepted):
        one = text(desk.get(reverse("versions", args=[schedule.pk]), {"a": 1, "b": 2}))
        other = text(desk.get(reverse("versions", args=[schedule.pk]), {"a": 2, "b": 1}))
        same = text(desk.get(reverse("versions", args=[schedule.pk]), {"a": 2, "b": 2}))
        assert accepted.summary in one
        assert accepted.summary in other
        assert "No session differs." in same

    @pytest.mark.parametrize("query", [{"a": "0"}, {"b": "3"}, {"a": "one"}])
    def test_a_version_that_is_none(self, desk, schedule, accepted, query):
        assert desk.get(reverse("versions", args=[schedule.pk]), query).status_code == 404

    def test_undone_the_proposal_is_not_raised_again(self, desk, schedule, accepted):
        desk.post(reverse("version-undo", args=[schedule.pk, 2]))
        accepted.refresh_from_db()
        assert accepted.state == "undone"
        assert Schedule.objects.get(pk=schedule.pk).current_version == 3
        page = text(desk.get(reverse("versions", args=[schedule.pk])))
        assert "Undone: version 2" in page

    @pytest.mark.parametrize("number", [1, 3])
    def test_the_first_and_a_number_that_is_none_cant_be_undone(self, desk, schedule, accepted, number):
        assert desk.post(reverse("version-undo", args=[schedule.pk, number])).status_code == 404

    def test_reading_changes_nothing(self, desk, schedule, accepted):
        assert desk.get(reverse("version-undo", args=[schedule.pk, 2])).status_code == 405


class TestTold:
    def fresh(self, schedule):
        return Schedule.objects.select_related("athlete").get(pk=schedule.pk)

    def test_nothing_before_anything_was_changed(self, schedule):
        assert told_to(schedule, schedule.athlete.today()) is None

    def test_one_sentence_and_a_line_for_each_session_ahead(self, schedule):
        proposal = rebalancing.propose(schedule)
        deciding.accept(proposal, by=UserFactory())
        told = told_to(self.fresh(schedule), schedule.athlete.today())
        assert told.sentence.startswith(proposal.summary[:40])
        assert ". Why: " in told.sentence
        assert "days off travelling" in told.sentence
        assert len(told.details) == proposal.changes.count()

    def test_when_it_lies_behind_nothing_is_said(self, schedule):
        deciding.accept(rebalancing.propose(schedule), by=UserFactory())
        assert told_to(self.fresh(schedule), schedule.athlete.today() + timedelta(200)) is None

    def test_an_undo_says_so(self, schedule):
        proposal = rebalancing.propose(schedule)
        deciding.accept(proposal, by=UserFactory())
        deciding.undo_version(self.fresh(schedule), 2, by=UserFactory(name="Marta Quill"))
        told = told_to(self.fresh(schedule), schedule.athlete.today())
        assert told.sentence.endswith("Marta Quill put back what stood before.")
