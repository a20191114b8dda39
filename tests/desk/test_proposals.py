"""Reading and deciding proposals."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from athletes.models import Practice
from plans import deciding, rebalancing
from plans.jobs import run
from plans.models import Job, Proposal, Schedule, SessionIssue
from tests.factories import AthleteFactory, CoachFactory, UserFactory, coaches, scheduled
from tests.plans.weeks import lived

pytestmark = pytest.mark.django_db


@pytest.fixture
def coach():
    return CoachFactory(user__name="Marta Quill")


@pytest.fixture
def proposal(coach):
    schedule = lived(AthleteFactory(name="Bea Lindqvist"))
    coaches(coach, schedule.athlete)
    return rebalancing.propose(schedule)


@pytest.fixture
def desk(client, coach):
    client.force_login(coach.user)
    return client


def text(response):
    return re.sub(r"\s+", " ", response.content.decode())


class TestList:
    def test_it_works(self, desk, proposal):
        page = desk.get(reverse("proposals"))
        assert page.status_code == 200
        said = text(page)
        assert "Bea Lindqvist" in said
        assert proposal.summary in said
        assert "days off travelling" in said
        for change in proposal.changes.all():
            assert change.sentence.split(":")[0] in said

    def test_each_touched_week_stands_before_and_after(self, desk, proposal):
        page = text(desk.get(reverse("proposals")))
        pairs = page.count('aria-label="becomes"')
        assert 1 <= pairs <= 3
        assert page.count('<svg class="strip"') == 2 * pairs

    def test_most_urgent_first_then_the_nearest_race(self, desk, coach):
        names = {}
        for name, urgency, small in (
            ("Small", 5, True),
            ("Plain", 5, False),
            ("Grave", 0, False),
            ("Risk", 2, False),
        ):
            schedule = lived(AthleteFactory(name=name))
            coaches(coach, schedule.athlete)
            made = rebalancing.propose(schedule)
            Proposal.objects.filter(pk=made.pk).update(urgency=urgency, small=small)
            names[name] = made
        page = text(desk.get(reverse("proposals")))
        places = [page.index(f">{name}</a></h3>") for name in ("Grave", "Risk", "Plain", "Small")]
        assert places == sorted(places)
        assert "4 wait, 2 to read first, 1 small." in page

    def test_twenty_take_as_many_queries_as_three(self, desk, coach, django_assert_max_num_queries):
        def more(n):
            for _ in range(n):
                schedule = lived()
                coaches(coach, schedule.athlete)
                rebalancing.propose(schedule)

        more(3)
        with django_assert_max_num_queries(40) as few:
            desk.get(reverse("proposals"))
        more(7)
        with django_assert_max_num_queries(len(few)):
            desk.get(reverse("proposals"))

    def test_the_silent_are_named(self, desk, coach):
        schedule = scheduled(AthleteFactory(name="Tobias Ekwall"), weeks=6, began_weeks_ago=3)
        coaches(coach, schedule.athlete)
        assert "Tobias Ekwall" in text(desk.get(reverse("proposals")))

    def test_another_coachs_proposals_are_not_here(self, client, proposal):
        client.force_login(CoachFactory().user)
        page = text(client.get(reverse("proposals")))
        assert "Bea Lindqvist" not in page
        assert "Nothing waits" in page


class TestAccess:
    @pytest.mark.parametrize("name", ["proposal", "proposal-accept", "proposal-refuse", "proposal-undo"])
    def test_another_coach_and_the_athlete_get_404_a_stranger_signs_in(self, client, proposal, name):
        address = reverse(name, args=[proposal.pk])
        ask = client.get if name == "proposal" else client.post
        assert ask(address).status_code == 302
        for user in (CoachFactory().user, proposal.schedule.athlete.user):
            client.force_login(user)
            assert ask(address).status_code == 404
        assert Schedule.objects.get().current_version == 1

    @pytest.mark.parametrize("name", ["proposal-accept", "proposal-refuse", "proposal-undo"])
    def test_reading_changes_nothing(self, desk, proposal, name):
        assert desk.get(reverse(name, args=[proposal.pk])).status_code == 405
        proposal.refresh_from_db()
        assert proposal.state == "open"

    def test_a_number_that_is_none(self, desk):
        assert desk.get(reverse("proposal", args=[99999])).status_code == 404


class TestAccept:
    def test_it_works(self, desk, proposal):
        page = desk.post(reverse("proposal-accept", args=[proposal.pk]), follow=True)
        proposal.refresh_from_db()
        assert proposal.state == "accepted"
        assert proposal.decided_by.name == "Marta Quill"
        assert "Issued as version 2. Bea Lindqvist sees it on the phone now." in text(page)
        version = proposal.schedule.versions.get(number=2)
        assert version.by_name == "Marta Quill"
        assert version.cause == f"Re-balanced: {proposal.why}"

    def test_with_htmx_the_row_says_what_became_of_it(self, desk, proposal):
        page = desk.post(reverse("proposal-accept", args=[proposal.pk]), headers={"HX-Request": "true"})
        assert page.status_code == 200
        assert "accepted by Marta Quill, version 2" in text(page)
        assert "<html" not in text(page)

    def test_twice_is_told(self, desk, proposal):
        deciding.accept(proposal, by=UserFactory(name="Jonah Tarn"))
        page = desk.post(reverse("proposal-accept", args=[proposal.pk]), follow=True)
        assert "It was accepted already by Jonah Tarn." in text(page)
        assert Schedule.objects.get().current_version == 2

    def test_with_htmx_what_was_computed_again_takes_its_place(self, desk, proposal):
        athlete = proposal.schedule.athlete
        athlete.time_off.create(first_day=athlete.today(), last_day=athlete.today() + timedelta(9))
        page = desk.post(reverse("proposal-accept", args=[proposal.pk]), headers={"HX-Request": "true"})
        said = text(page)
        newest = Proposal.objects.get(state="open")
        assert "Something was logged or noted since this was computed." in said
        assert f'id="prop-{newest.pk}"' in said
        assert "computed again" in said


class TestByHand:
    def fields(self, proposal, **edits):
        sent = {"by_hand": "1"}
        for change in proposal.changes.all():
            sent[f"take-{change.pk}"] = "1"
            sent[f"text-{change.pk}"] = "" if change.after["removed"] else change.after["steps"]
            sent[f"day-{change.pk}"] = change.after["day"]
        return {key: value for key, value in (sent | edits).items() if value is not None}

    def ahead(self, proposal):
        """A change of a session after tomorrow, on a day of its own."""
        tomorrow = proposal.schedule.athlete.today() + timedelta(1)
        return [c for c in proposal.changes.all() if c.before["day"] > tomorrow.isoformat()][-1]

    def accept(self, desk, proposal, **edits):
        return desk.post(reverse("proposal-accept", args=[proposal.pk]), self.fields(proposal, **edits))

    def test_untouched_it_is_the_plain_acceptance(self, desk, proposal):
        assert self.accept(desk, proposal).status_code == 302
        assert not SessionIssue.objects.filter(pinned_by__isnull=False).exists()
        assert proposal.schedule.versions.get(number=2).cause.startswith("Re-balanced: ")

    def test_what_is_left_out_stays_and_is_fixed(self, desk, coach, proposal):
        change = self.ahead(proposal)
        self.accept(desk, proposal, **{f"take-{change.pk}": None})
        live = SessionIssue.objects.get(session=change.session_id, to_version=None)
        assert (live.steps, live.planned_mm) == (change.before["steps"], change.before["planned_mm"])
        assert live.pinned_by == coach
        assert proposal.schedule.versions.get(number=2).cause.startswith("Re-balanced, changed by hand: ")

    def test_what_is_written_is_issued_as_written_and_fixed(self, desk, coach, proposal):
        change = self.ahead(proposal)
        self.accept(desk, proposal, **{f"text-{change.pk}": "2 km easy; 3 km @ MP; 1 km easy"})
        live = SessionIssue.objects.get(session=change.session_id, to_version=None)
        assert live.steps == "2 km easy; 3 km @ MP; 1 km easy"
        assert (live.planned_mm, live.role, live.pinned_by) == (6_000_000, "quality", coach)
        assert rebalancing.propose(rebalancing.running().get()) is None or (
            change.session_id not in {c.session_id for c in Proposal.objects.get(state="open").changes.all()}
        )

    def test_another_day_beside_what_stands_there(self, desk, proposal):
        change = self.ahead(proposal)
        day = proposal.schedule.athlete.today() + timedelta(1)
        self.accept(desk, proposal, **{f"day-{change.pk}": day.isoformat()})
        live = SessionIssue.objects.get(session=change.session_id, to_version=None)
        assert live.day == day

    def test_an_empty_line_takes_the_session_out(self, desk, proposal):
        change = self.ahead(proposal)
        self.accept(desk, proposal, **{f"text-{change.pk}": ""})
        assert SessionIssue.objects.get(session=change.session_id, to_version=None).removed

    @pytest.mark.parametrize(
        ("field", "typed", "told"),
        [
            ("text", "six kilometres nicely", "aria-invalid"),
            ("day", "tomorrow", "This is not a day."),
            ("day", "2020-01-01", "Choose a day from "),
            ("day", "2099-01-01", "Choose a day from "),
        ],
    )
    def test_what_cant_be_issued_keeps_what_was_typed(self, desk, proposal, field, typed, told):
        change = self.ahead(proposal)
        page = self.accept(desk, proposal, **{f"{field}-{change.pk}": typed})
        assert page.status_code == 422
        assert told in text(page)
        assert f'value="{typed}"' in text(page)
        assert "1 of the sessions can’t be issued as typed. Nothing was issued." in text(page)
        proposal.refresh_from_db()
        assert proposal.state == "open"

    def test_the_phone_sentence_says_what_was_issued_not_what_was_proposed(self, desk, proposal):
        change = self.ahead(proposal)
        everything = {f"take-{c.pk}": None for c in proposal.changes.all()}
        del everything[f"take-{change.pk}"]
        self.accept(desk, proposal, **everything, **{f"text-{change.pk}": "5 km easy"})
        proposal.refresh_from_db()
        assert "5 km" in proposal.told
        assert proposal.told.count(";") < proposal.summary.count(";")


class TestSmall:
    def small(self, coach, n):
        made = []
        for _ in range(n):
            schedule = lived()
            coaches(coach, schedule.athlete)
            made.append(rebalancing.propose(schedule))
        Proposal.objects.update(small=True)
        return made

    def test_all_small_ones_that_were_shown_are_issued(self, desk, coach):
        made = self.small(coach, 3)
        unseen = made.pop()
        page = desk.post(reverse("proposals-small"), {"pk": [p.pk for p in made]}, follow=True)
        assert "2 small proposals issued." in text(page)
        assert [Proposal.objects.get(pk=p.pk).state for p in (*made, unseen)] == [
            "accepted",
            "accepted",
            "open",
        ]

    def test_many_are_issued_in_the_background_each_for_itself(self, desk, coach):
        made = self.small(coach, 8)
        late, taken = made[0], made[1]
        page = text(desk.post(reverse("proposals-small"), {"pk": [p.pk for p in made]}, follow=True))
        assert "Accepting the small ones: 0 of 8" in page
        assert "Accept all" not in page
        assert not Proposal.objects.filter(state="accepted").exists()
        day = late.schedule.athlete.today()
        late.schedule.athlete.time_off.create(first_day=day, last_day=day + timedelta(9))
        deciding.refuse(taken, by=UserFactory())
        rows = list(Job.objects.filter(kind="accept").values_list("pk", flat=True))
        for pk in [*rows, *rows]:  # a second carrier does no harm
            run(pk)
        assert Proposal.objects.filter(state="accepted", decided_by=coach.user).count() == 6
        assert set(Schedule.objects.values_list("current_version", flat=True)) == {1, 2}
        fresh = Proposal.objects.get(schedule=late.schedule, state="open")
        assert fresh.recomputed
        names = ", ".join(str(p.schedule.athlete) for p in (late, taken))
        part = text(desk.get(reverse("proposals-small-progress"), headers={"HX-Request": "true"}))
        assert (
            f"6 of 8 small proposals issued. Not issued, because something changed meanwhile: {names}."
            in part
        )
        assert "hx-trigger" not in part

    def test_one_that_is_not_small_any_more_is_left(self, desk, coach):
        made = self.small(coach, 6)
        desk.post(reverse("proposals-small"), {"pk": [p.pk for p in made]})
        Proposal.objects.filter(pk=made[0].pk, state="open").update(small=False)
        for pk in Job.objects.filter(kind="accept", state="waiting").values_list("pk", flat=True):
            run(pk)
        states = Proposal.objects.filter(pk__in=[p.pk for p in made]).values_list("state", flat=True)
        assert sorted(states) == ["accepted"] * 5 + ["open"]

    def test_the_progress_of_another_coach_is_not_shown(self, desk, coach, client):
        made = self.small(coach, 6)
        desk.post(reverse("proposals-small"), {"pk": [p.pk for p in made]})
        client.force_login(CoachFactory().user)
        assert "accepting" not in text(
            client.get(reverse("proposals-small-progress"), headers={"HX-Request": "true"})
        )
        assert client.get(reverse("proposals-small-progress")).status_code == 302

    def test_what_is_not_small_is_not_taken_along(self, desk, coach, proposal):
        page = desk.post(reverse("proposals-small"), {"pk": [proposal.pk, "x"]}, follow=True)
        assert "Nothing small waits any more." in text(page)
        proposal.refresh_from_db()
        assert proposal.state == "open"

    def test_another_coachs_are_not_taken_along(self, client, coach):
        made = self.small(coach, 1)
        client.force_login(CoachFactory().user)
        client.post(reverse("proposals-small"), {"pk": [made[0].pk]})
        assert Proposal.objects.get().state == "open"

    def test_the_head_coach_says_what_small_is(self, client):
        head = CoachFactory(is_head=True)
        client.force_login(head.user)
        client.post(reverse("proposals-what-is-small"), {"percent": "20", "spares_key": ""})
        practice = Practice.get()
        assert (practice.small_cut_percent, practice.small_spares_key) == (20, False)

    @pytest.mark.parametrize("percent", ["", "51", "-1", "much"])
    def test_a_limit_that_is_none(self, client, percent):
        client.force_login(CoachFactory(is_head=True).user)
        page = client.post(reverse("proposals-what-is-small"), {"percent": percent, "spares_key": "on"})
        assert page.status_code == 422
        assert Practice.get().small_cut_percent == 15

    def test_another_coach_does_not(self, desk):
        assert desk.post(reverse("proposals-what-is-small"), {"percent": "20"}).status_code == 404


class TestRefuse:
    def test_it_works_with_a_word(self, desk, proposal):
        desk.post(reverse("proposal-refuse", args=[proposal.pk]), {"words": "He is fine."})
        proposal.refresh_from_db()
        assert (proposal.state, proposal.words, proposal.decided_by.name) == (
            "refused",
            "He is fine.",
            "Marta Quill",
        )
        assert rebalancing.propose(rebalancing.running().get()) is None

    def test_decided_already(self, desk, proposal):
        deciding.refuse(proposal, by=UserFactory())
        page = desk.post(reverse("proposal-refuse", args=[proposal.pk]), follow=True)
        assert "It was decided already." in text(page)


class TestUndo:
    def test_it_works(self, desk, proposal):
        deciding.accept(proposal, by=UserFactory())
        page = desk.post(reverse("proposal-undo", args=[proposal.pk]), follow=True)
        assert "issued again as version 3" in text(page)
        proposal.refresh_from_db()
        assert proposal.state == "undone"

    def test_one_that_was_not_accepted(self, desk, proposal):
        page = desk.post(reverse("proposal-undo", args=[proposal.pk]), follow=True)
        assert "not one that was accepted" in text(page)
