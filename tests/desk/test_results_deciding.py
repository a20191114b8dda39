"""New paces that wait: accepted, refused with a word, all at once, and everyone's computed again."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from athletes.models import Athlete, PaceCard
from plans import jobs, recarding
from plans.models import CardProposal, Job
from tests.factories import AthleteFactory, CoachFactory, ResultFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


def waiting(athlete: Athlete) -> CardProposal:
    """A faster result came in."""
    ResultFactory(athlete=athlete, time_ms=44 * 60_000, day=timezone.localdate() - timedelta(1))
    made = recarding.propose(athlete, "New result: 10K in 44:00").proposal
    assert made is not None
    return made


@pytest.fixture
def athlete() -> Athlete:
    return scheduled(AthleteFactory(name="Bea Lindqvist")).athlete


@pytest.fixture
def desk(athlete: Athlete) -> Client:
    coach = CoachFactory(user__name="Marta Quill")
    coaches(coach, athlete)
    client = Client()
    client.force_login(coach.user)
    return client


def test_accepting_works(desk: Client, athlete: Athlete) -> None:
    proposal = waiting(athlete)
    answer = desk.post(f"/desk/card-proposals/{proposal.pk}/accept/")
    assert answer["Location"] == f"/desk/athletes/{athlete.pk}/paces/"
    page = desk.get(answer["Location"]).content.decode()
    assert "Card 2 is Bea Lindqvist&#x27;s from now on. Sessions behind keep their paces." in page
    assert "New paces are proposed" not in page
    assert "Pace card 2" in page
    assert athlete.schedules.get().current_version == 2


def test_accepting_twice_says_so_and_changes_nothing(desk: Client, athlete: Athlete) -> None:
    proposal = waiting(athlete)
    desk.post(f"/desk/card-proposals/{proposal.pk}/accept/")
    answer = desk.post(f"/desk/card-proposals/{proposal.pk}/accept/", {"back": "proposals"})
    assert answer["Location"] == "/desk/proposals/"
    assert "These paces were decided already." in desk.get(answer["Location"]).content.decode()
    assert athlete.pace_cards.count() == 2


def test_a_refusal_keeps_the_word(desk: Client, athlete: Athlete) -> None:
    proposal = waiting(athlete)
    desk.post(f"/desk/card-proposals/{proposal.pk}/refuse/", {"words": "Downhill all the way."})
    page = desk.get(f"/desk/athletes/{athlete.pk}/paces/").content.decode()
    assert "“Downhill all the way.”" in page
    assert "Pace card 1" in page
    again = desk.post(f"/desk/card-proposals/{proposal.pk}/refuse/")
    assert "It was decided already." in desk.get(again["Location"]).content.decode()


def test_they_stand_on_the_proposals_page_and_are_counted(desk: Client, athlete: Athlete) -> None:
    waiting(athlete)
    page = desk.get("/desk/proposals/").content.decode()
    assert "New result: 10K in 44:00." in page
    assert "4:21–4:27/km" in page
    assert '<span class="count">1</span>' in page
    assert "New paces wait for you" in desk.get(f"/desk/athletes/{athlete.pk}/").content.decode()


def test_a_coach_sees_only_their_own(desk: Client, athlete: Athlete) -> None:
    waiting(scheduled(AthleteFactory(name="Somebody Else")).athlete)
    page = desk.get("/desk/proposals/").content.decode()
    assert "Somebody Else" not in page
    assert "No new paces wait." in page


def test_all_that_were_seen_and_no_others(desk: Client, athlete: Athlete) -> None:
    coach = athlete.coaches.get()
    second, unseen = (scheduled().athlete for _ in range(2))
    stranger = scheduled().athlete
    coaches(coach, second)
    coaches(coach, unseen)
    seen = [waiting(one).pk for one in (athlete, second, stranger)]
    waiting(unseen)
    answer = desk.post("/desk/card-proposals/accept/", {"seen": [*seen, "x", "9" * 30]})
    assert answer["Location"] == "/desk/proposals/"
    page = desk.get(answer["Location"]).content.decode()
    assert "2 new pace cards issued." in page
    assert "1 had changed or been decided meanwhile and was left." in page
    open_ones = set(CardProposal.objects.filter(state="open").values_list("athlete", flat=True))
    assert open_ones == {unseen.pk, stranger.pk}
    assert PaceCard.objects.filter(number=2).count() == 2


def test_everyone_is_computed_by_a_job_and_the_page_shows_it(desk: Client, athlete: Athlete) -> None:
    ResultFactory(athlete=athlete, time_ms=44 * 60_000, day=timezone.localdate())
    assert desk.post("/desk/card-proposals/everyone/")["Location"] == "/desk/proposals/"
    page = desk.get("/desk/proposals/").content.decode()
    assert "Computing everyone's paces" in page
    assert 'hx-trigger="every 2s"' in page
    jobs.run(Job.objects.get(kind="recard").pk)
    part = desk.get("/desk/card-proposals/", headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in part
    assert "Everyone&#x27;s paces were computed again." in part
    assert "every 2s" not in part
    assert ", 1 athlete" in part
    assert desk.get("/desk/card-proposals/")["Location"] == "/desk/proposals/"


def test_reading_changes_nothing(desk: Client, athlete: Athlete) -> None:
    proposal = waiting(athlete)
    for path in (f"{proposal.pk}/accept/", f"{proposal.pk}/refuse/", "accept/", "everyone/"):
        assert desk.get(f"/desk/card-proposals/{path}").status_code == 405
    assert not Job.objects.filter(kind="recard").exists()
