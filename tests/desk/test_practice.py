"""The practice: its facts, who needs a word, guard rails by layer, coaches and groups."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from athletes.models import Athlete, Coach, CoachAthlete, Group, Membership, Practice
from coaching.models import BackupRun, RosterLine
from plans import jobs
from plans.models import GuardRails, Job, ScheduleVersion
from plans.situation import situation_of
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


@pytest.fixture
def head():
    return CoachFactory(is_head=True)


@pytest.fixture
def coach():
    return CoachFactory()


def at(coach) -> Client:
    client = Client()
    client.force_login(coach.user)
    return client


def text(answer) -> str:
    return " ".join(answer.content.decode().split())


FACTS = {
    "name": "Harbour Lane Runners",
    "mark": "HL",
    "address_lines": "The boathouse\nQuay Street 4",
    "paper": "Letter",
    "units": "mi",
    "week_starts": "6",
    "time_zone": "Europe/Lisbon",
    "handout_hour": "",
}


class TestFacts:
    def test_the_head_coach_changes_them(self, head):
        assert at(head).post("/desk/practice/change/", FACTS)["Location"] == "/desk/practice/"
        one = Practice.get()
        assert (one.name, one.paper, one.units, one.week_starts) == (
            "Harbour Lane Runners",
            "Letter",
            "mi",
            6,
        )
        assert one.handout_hour is None
        assert (one.mark, one.address_lines.splitlines()) == ("HL", ["The boathouse", "Quay Street 4"])

    @pytest.mark.parametrize(
        ("wrong", "said"),
        [
            ({"time_zone": "Atlantis/Deep"}, "is not a time zone this machine knows"),
            ({"mark": "HLRC"}, "at most 3 characters"),
            ({"name": ""}, "This field is required."),
            ({"handout_hour": "24"}, "An hour of the day, from 0 to 23."),
        ],
    )
    def test_what_is_wrong_is_said_and_what_was_typed_stays(self, head, wrong, said):
        answer = at(head).post("/desk/practice/change/", FACTS | wrong)
        assert answer.status_code == 422
        assert said in text(answer)
        assert "The boathouse" in text(answer)
        assert Practice.get().name == "Our practice"

    def test_another_coach_reads_and_does_not_change(self, coach):
        page = text(at(coach).get("/desk/practice/"))
        assert "The head coach changes these." in page
        assert at(coach).post("/desk/practice/change/", FACTS).status_code == 404

    def test_an_athlete_finds_nothing(self):
        client = Client()
        client.force_login(AthleteFactory().user)
        assert client.get("/desk/practice/").status_code == 404

    def test_a_late_backup_is_said(self, head):
        assert "There is no backup yet." in text(at(head).get("/desk/practice/"))
        BackupRun.objects.create(at=timezone.now() - timedelta(days=9), file="a")
        assert "more than eight days ago" in text(at(head).get("/desk/practice/"))
        BackupRun.objects.create(at=timezone.now(), file="b")
        assert "The last good backup is from" in text(at(head).get("/desk/practice/"))


class TestAttention:
    ON = {f"on-{name}": "on" for name in ("unwell", "spike", "long-missed", "hard-easy", "above-plan", "goal")} | {
        "on-race-soon": "on", "on-running-out": "on", "unwell": 7, "spike": 40, "long-missed": 2,
        "hard-easy": 3, "above-plan": 20, "race-soon": 14, "running-out": 14, "silent": 4,
    }  # fmt: skip

    def test_only_what_differs_is_stored_and_the_roster_forgets_its_lines(self, head):
        client = at(head)
        coaches(head, AthleteFactory())
        client.get("/desk/")
        assert RosterLine.objects.count() == 1
        assert client.post("/desk/practice/attention/", self.ON).status_code == 302
        assert Practice.get().attention == {"silent": None, "spike": 40}
        assert not RosterLine.objects.exists()

    def test_a_number_out_of_range_is_refused(self, head):
        for spike in ("5", "101", "", "a"):
            assert at(head).post("/desk/practice/attention/", self.ON | {"spike": spike}).status_code == 422
        assert Practice.get().attention == {}

    def test_another_coach_changes_nothing(self, coach):
        at(coach).post("/desk/practice/attention/", self.ON)
        assert Practice.get().attention == {}


class TestRails:
    def test_an_athletes_rails_reach_the_running_schedule_as_a_version(self, coach):
        schedule = scheduled()
        coaches(coach, schedule.athlete)
        Job.objects.all().delete()
        path = f"/desk/athletes/{schedule.athlete_id}/rails/"
        assert at(coach).post(path, {"weekly_rise": "8", "longest_s": "2:30:00"}).status_code == 302
        assert GuardRails.objects.get().limits == {"weekly_rise": 8, "longest_s": 9000}
        schedule.refresh_from_db()
        version = ScheduleVersion.objects.get(schedule=schedule, number=schedule.current_version)
        assert version.number == 2
        assert version.cause == (
            "Guard rails changed: weekly volume may rise by 10 % to 8 %; longest run 3:00:00 to 2:30:00"
        )
        assert (version.rails["weekly_rise"], version.rails["longest_s"]) == (8, 9000)
        assert situation_of(schedule, timezone.now()).inputs.rails.longest_s == 9000
        assert Job.objects.filter(kind="rebalance", athlete=schedule.athlete, state="waiting").count() == 1

    def test_the_same_again_issues_nothing(self, coach):
        schedule = scheduled()
        coaches(coach, schedule.athlete)
        for _ in range(2):
            at(coach).post(f"/desk/athletes/{schedule.athlete_id}/rails/", {"weekly_rise": "8"})
        assert schedule.versions.count() == 2

    def test_the_nearest_wins_and_the_page_says_which(self, head):
        schedule = scheduled()
        template = schedule.template_version.template
        client = at(head)
        client.post("/desk/practice/rails/", {"weekly_rise": "12", "gap_days": "3"})
        client.post(f"/desk/templates/{template.pk}/rails/", {"weekly_rise": "9"})
        for job in Job.objects.filter(kind="rails"):
            jobs.run(job.pk)
        page = text(client.get(f"/desk/athletes/{schedule.athlete_id}/rails/"))
        assert "<td>9 %</td><td>from “A small plan”</td>" in page
        assert "<td>3 days</td><td>from the practice</td>" in page
        assert "<td>1 day</td><td>as usual</td>" in page
        schedule.refresh_from_db()
        rails = schedule.versions.get(number=schedule.current_version).rails
        assert (rails["weekly_rise"], rails["gap_days"]) == (9, 3)

    def test_nonsense_is_refused_with_what_was_typed(self, head):
        wrong = {"weekly_rise": "-1", "quality_share": "101", "shortest_mm": "far", "longest_s": "99:00:00"}
        for name, value in wrong.items():
            answer = at(head).post("/desk/practice/rails/", {name: value})
            assert answer.status_code == 422, name
            assert f'value="{value}"' in text(answer)
        assert not GuardRails.objects.exists()

    def test_who_may(self, coach):
        athlete = AthleteFactory()
        assert at(coach).get(f"/desk/athletes/{athlete.pk}/rails/").status_code == 404
        assert at(coach).post("/desk/practice/rails/", {"weekly_rise": "9"}).status_code == 404
        assert at(coach).get("/desk/practice/rails/").status_code == 200


class TestCoaches:
    def test_a_colleague_covers_a_holiday(self, head, coach):
        marta = CoachFactory()
        one, other = AthleteFactory(), AthleteFactory()
        coaches(marta, one)
        coaches(marta, other)
        today = timezone.now().date()
        data = {"coach": coach.pk, "whose": marta.pk, "since": today, "until": today + timedelta(14)}
        assert at(head).post("/desk/practice/coaches/cover/", data).status_code == 302
        assert set(Athlete.objects.for_user(coach.user)) == {one, other}
        CoachAthlete.objects.filter(coach=coach).update(
            since=today - timedelta(9), until=today - timedelta(1)
        )
        assert not Athlete.objects.for_user(coach.user).exists()

    def test_covering_without_an_end_twice_is_one_row(self, head, coach):
        athlete = AthleteFactory()
        today = timezone.now().date()
        for _ in range(2):
            at(head).post(
                "/desk/practice/coaches/cover/", {"coach": coach.pk, "athlete": athlete.pk, "since": today}
            )
        assert CoachAthlete.objects.filter(coach=coach).count() == 1

    def test_it_must_end_after_it_begins_and_be_about_somebody(self, head, coach):
        today = timezone.now().date()
        for wrong in (
            {"until": today - timedelta(1), "athlete": AthleteFactory().pk},
            {},
            {"whose": coach.pk},
        ):
            data = {"coach": coach.pk, "since": today} | wrong
            assert at(head).post("/desk/practice/coaches/cover/", data).status_code == 422
        assert not CoachAthlete.objects.exists()

    def test_ending_leaves_nobody_without_a_coach(self, head, coach):
        athlete = AthleteFactory()
        row = coaches(coach, athlete)
        path = f"/desk/practice/coaches/{row.pk}/end/"
        answer = at(head).post(path, follow=True)
        assert "would have no coach then" in text(answer)
        coaches(CoachFactory(), athlete)
        at(head).post(path)
        assert not Athlete.objects.for_user(coach.user).exists()

    def test_a_new_coach(self, head):
        at(head).post("/desk/practice/coaches/add/", {"name": "Jonah Tarn", "email": "Jonah@Example.org"})
        made = Coach.objects.get(user__email="jonah@example.org")
        assert not made.is_head
        assert not made.user.has_usable_password()
        answer = at(head).post("/desk/practice/coaches/add/", {"name": "J", "email": "jonah@example.org"})
        assert answer.status_code == 422

    def test_another_coach_reads_only_their_own(self, coach):
        row = coaches(CoachFactory(), AthleteFactory(name="Bea Lindqvist"))
        assert "Bea Lindqvist" not in text(at(coach).get("/desk/practice/coaches/"))
        for path in ("cover/", "add/", f"{row.pk}/end/"):
            assert at(coach).post(f"/desk/practice/coaches/{path}").status_code == 404


class TestGroups:
    def test_make_rename_and_fill(self, coach):
        athlete, stranger = AthleteFactory(), AthleteFactory()
        coaches(coach, athlete)
        client = at(coach)
        client.post("/desk/practice/groups/", {"name": "Track"})
        one = Group.objects.get()
        Membership.objects.create(group=one, athlete=stranger)
        client.post(f"/desk/practice/groups/{one.pk}/", {"name": "Hills", "athletes": [athlete.pk]})
        one.refresh_from_db()
        assert one.name == "Hills"
        assert set(one.athletes.all()) == {athlete, stranger}
        client.post(f"/desk/practice/groups/{one.pk}/", {"name": "Hills"})
        assert set(one.athletes.all()) == {stranger}
        assert client.post(f"/desk/practice/groups/{one.pk}/remove/").status_code == 302
        assert Group.objects.exists()  # somebody else's athlete trains in it

    def test_a_name_twice_and_a_strangers_athlete_are_refused(self, coach):
        one = Group.objects.create(name="Track")
        assert at(coach).post("/desk/practice/groups/", {"name": "Track"}).status_code == 422
        data = {"name": "Track", "athletes": [AthleteFactory().pk]}
        assert at(coach).post(f"/desk/practice/groups/{one.pk}/", data).status_code == 422
        assert at(coach).get("/desk/practice/groups/999/").status_code == 404
