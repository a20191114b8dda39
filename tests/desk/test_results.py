"""An athlete's paces on the desk: the page, results added, set aside and taken back, what else the card stands on."""

from __future__ import annotations

import io
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from athletes.models import Athlete, Result
from plans.evidence import evidence_of
from plans.models import CardProposal, Log, Schedule
from tests.factories import AthleteFactory, CoachFactory, ResultFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


@pytest.fixture
def schedule() -> Schedule:
    """A marathon in 3:45:00, on a card from 10 km in 48:00 with that goal."""
    made = scheduled(AthleteFactory(name="Bea Lindqvist"))
    made.race_entry.goal_ms = 225 * 60_000
    made.race_entry.save()
    card = evidence_of([made.athlete])[made.athlete_id].compute()
    made.athlete.pace_cards.update(values=card.to_values())
    return made


@pytest.fixture
def athlete(schedule: Schedule) -> Athlete:
    return schedule.athlete


@pytest.fixture
def desk(athlete: Athlete) -> Client:
    """Signed in as the athlete's coach."""
    coach = CoachFactory(user__name="Marta Quill")
    coaches(coach, athlete)
    client = Client()
    client.force_login(coach.user)
    return client


def page_of(client: Client, athlete: Athlete, query: str = "") -> str:
    answer = client.get(f"/desk/athletes/{athlete.pk}/paces/{query}")
    assert answer.status_code == 200
    return answer.content.decode()


def add(client: Client, athlete: Athlete, **values: Any) -> Any:
    yesterday = (timezone.localdate() - timedelta(1)).isoformat()
    data = {"distance": "10 km", "time": "44:00", "day": yesterday, "name": "", **values}
    return client.post(f"/desk/athletes/{athlete.pk}/results/", data)


class TestThePage:
    def test_it_works(self, desk: Client, athlete: Athlete) -> None:
        page = page_of(desk, athlete)
        # 10 km in 48:00 is 4:48/km, give or take 1 %.
        assert "4:45–4:51/km" in page
        assert "± 1 %" in page
        assert "Daniels &amp; Gilbert 1979; marathon pace: Vickers &amp; Vertosick 2016, one race" in page
        assert "tough: one word at a time" in page
        assert "Pace card 1" in page

    def test_every_formula_says_how_wide_it_is_or_why_not(self, desk: Client, athlete: Athlete) -> None:
        page = page_of(desk, athlete)
        assert "Vickers &amp; Vertosick 2016, one race</b> is used. It was made from recreational" in page
        assert "Riegel 1981: about" in page
        assert "does not apply: It needs two results, the longer at least half as long again" in page
        assert '<figure class="chart">' in page
        assert "goal 3:45:00" in page

    def test_it_says_where_a_faster_short_race_makes_the_marathon_slower(
        self, desk: Client, athlete: Athlete
    ) -> None:
        words = "A faster shorter race alone makes this time slower"
        assert words not in page_of(desk, athlete)
        day = timezone.localdate() - timedelta(20)
        ResultFactory(athlete=athlete, distance_mm=21_097_500, time_ms=107 * 60_000, day=day)
        assert page_of(desk, athlete).count(words) == 1

    def test_the_goal_in_words(self, desk: Client, athlete: Athlete) -> None:
        page = page_of(desk, athlete)
        assert "The goal: marathon in 3:45:00." in page
        assert "You decide; nothing is blocked by this." in page

    def test_another_distance(self, desk: Client, athlete: Athlete) -> None:
        page = page_of(desk, athlete, "?over=half")
        assert "What the results say about a half-marathon" in page
        assert "It predicts the marathon only." in page
        assert "Is the goal sensible?" not in page
        assert "What the results say about a marathon" in page_of(desk, athlete, "?over=nonsense")

    def test_an_estimated_maximum_is_marked_as_such(self, desk: Client, athlete: Athlete) -> None:
        """At 35, Tanaka gives 208 - 24.5 = 183.5; easy is 60 % of the reserve of 174 to 74 % of that of 194."""
        athlete.resting_rate = 50
        athlete.born = timezone.localdate() - timedelta(365 * 35 + 30)
        athlete.save()
        page = page_of(desk, athlete)
        assert "an estimated maximum of 184, give or take 10 (Tanaka 2001" in page
        # 50 + 0.60 x (174 - 50) = 124.4 and 50 + 0.74 x (194 - 50) = 156.6
        assert "124–157" in page

    def test_a_measured_maximum_is_used_as_it_is(self, desk: Client, athlete: Athlete) -> None:
        Athlete.objects.filter(pk=athlete.pk).update(resting_rate=50, maximum_rate=190)
        page = page_of(desk, athlete)
        # 50 + 0.60 x 140 = 134 and 50 + 0.74 x 140 = 153.6
        assert "134–154" in page
        assert "a measured maximum of 190" in page

    def test_without_any_result(self, desk: Client) -> None:
        new = AthleteFactory()
        coaches(CoachFactory(), new)
        client = Client()
        client.force_login(new.coaches.get().user)
        page = page_of(client, new)
        assert "No pace card yet." in page
        assert "No result of the past year counts, so nothing can be predicted." in page

    def test_in_miles(self, desk: Client, athlete: Athlete) -> None:
        Athlete.objects.filter(pk=athlete.pk).update(units="mi")
        # 48:00 over 10 km is 7:43.5 a mile, give or take 1 %: 7:38.9 to 7:48.1.
        assert "7:39–7:48/mi" in page_of(desk, athlete)

    def test_what_was_typed_elsewhere_never_breaks_it(self, desk: Client, athlete: Athlete) -> None:
        ResultFactory(athlete=athlete, distance_mm=100_000_000, time_ms=40_000_000, day=timezone.localdate())
        assert "Doesn't count: outside 1 to 50 km" in page_of(desk, athlete)

    def test_others_get_nowhere(self, athlete: Athlete) -> None:
        result = athlete.results.get()
        proposal = CardProposal.objects.create(
            athlete=athlete, made_at=timezone.now(), values={}, why="", formula="", origin=""
        )
        read = [f"/desk/athletes/{athlete.pk}/paces/", f"/desk/athletes/{athlete.pk}/paces/card.pdf"]
        write = [
            f"/desk/athletes/{athlete.pk}/results/",
            f"/desk/athletes/{athlete.pk}/paces/basis/",
            f"/desk/athletes/{athlete.pk}/paces/break/",
            f"/desk/results/{result.pk}/set-aside/",
            f"/desk/results/{result.pk}/take-back/",
            f"/desk/card-proposals/{proposal.pk}/accept/",
            f"/desk/card-proposals/{proposal.pk}/refuse/",
        ]
        for user in (CoachFactory().user, athlete.user, AthleteFactory().user):
            client = Client()
            client.force_login(user)
            assert [client.get(path).status_code for path in read] == [404] * len(read)
            assert [client.post(path).status_code for path in write] == [404] * len(write)
        stranger = Client()
        for path in [*read, *write]:
            answer = stranger.get(path) if path in read else stranger.post(path)
            assert (answer.status_code, answer["Location"][:9]) == (302, "/sign-in/"), path
        proposal.refresh_from_db()
        assert proposal.state == "open"

    def test_ids_that_are_not_there(self, desk: Client) -> None:
        assert desk.get("/desk/athletes/999999/paces/").status_code == 404
        assert desk.get("/desk/results/999999/set-aside/").status_code == 404
        assert desk.post("/desk/card-proposals/999999/accept/").status_code == 404

    def test_reading_changes_nothing(self, desk: Client, athlete: Athlete) -> None:
        for path in ("paces/basis/", "paces/break/", "results/"):
            assert desk.get(f"/desk/athletes/{athlete.pk}/{path}").status_code == 405
        assert desk.get(f"/desk/results/{athlete.results.get().pk}/take-back/").status_code == 405


class TestAdding:
    def test_it_works(self, desk: Client, athlete: Athlete) -> None:
        answer = add(desk, athlete, name="Quay 10K")
        assert (answer.status_code, answer["Location"]) == (302, f"/desk/athletes/{athlete.pk}/paces/")
        made = Result.objects.get(name="Quay 10K")
        assert (made.distance_mm, made.time_ms) == (10_000_000, 44 * 60_000)
        page = page_of(desk, athlete)
        assert "New paces are proposed" in page
        assert "New result, added by Marta Quill: 10K in 44:00 on " in page
        # Old and new 10K pace side by side: 4:48/km and 4:24/km in the middle.
        assert "4:45–4:51/km" in page
        assert "4:21–4:27/km" in page
        assert "24 s faster" in page
        assert athlete.pace_cards.count() == 1

    def test_one_that_changes_nothing_says_so(self, desk: Client, athlete: Athlete) -> None:
        answer = add(desk, athlete, distance="1 mi", time="7:30")
        page = desk.get(answer["Location"]).content.decode()
        assert "Kept. The paces stay as they are: they stand on 10K in 48:00" in page
        assert not CardProposal.objects.exists()

    def test_outside_the_formulas_it_is_kept_and_said(self, desk: Client, athlete: Athlete) -> None:
        """1 km in 3:10 is possible, and under 3.5 minutes."""
        answer = add(desk, athlete, distance="1 km", time="3:10")
        page = desk.get(answer["Location"]).content.decode()
        assert "Kept, in the history only: paces come from 3.5 minutes to 7 hours." in page

    def test_one_older_than_a_year_is_history(self, desk: Client, athlete: Athlete) -> None:
        day = timezone.localdate() - timedelta(400)
        add(desk, athlete, day=day.isoformat())
        assert "Doesn't count: older than a year." in page_of(desk, athlete)
        assert not CardProposal.objects.exists()

    def test_the_same_twice_says_so(self, desk: Client, athlete: Athlete) -> None:
        add(desk, athlete)
        answer = add(desk, athlete)
        assert answer.status_code == 422
        assert "This result is here already: the same day, distance and time." in answer.content.decode()
        assert Result.objects.filter(time_ms=44 * 60_000).count() == 1

    @pytest.mark.parametrize(
        ("field", "value", "sentence"),
        [
            ("distance", "0 km", "0"),
            ("distance", "-5 km", "-5 km"),
            ("distance", "800 m", "Paces come from races of 1 to 50 km, and 800 m was given."),
            ("distance", "100 km", "Paces come from races of 1 to 50 km, and 100 km was given."),
            ("distance", "to the pub", "to the pub"),
            ("distance", "10 km mi", "10 km mi"),
            ("distance", "NaN", "NaN"),
            ("distance", "", "This field is required."),
            ("time", "0:00", "is no time at all. Give one above zero"),
            ("time", "-44:00", "-44:00"),
            ("time", "25:99", "25:99"),
            ("time", "nan", "nan"),
            ("time", "inf", "inf"),
            ("time", "1e400", "1e400"),
            ("time", "12:00", "10K in 12:00 is faster than anyone has run."),
            ("time", "9:00:00", "10K in 9:00:00 is slower than walking"),
            ("time", "", "This field is required."),
            ("day", "2099-01-01", "A result lies in the past; this day is still to come."),
            ("day", "1066-10-14", "come from 1066. Is the year right?"),
            ("day", "2026-02-30", "Enter a valid date."),
            ("day", "", "This field is required."),
            ("name", "x" * 81, "at most 80 characters"),
        ],
    )
    def test_what_nobody_ran(
        self, desk: Client, athlete: Athlete, field: str, value: str, sentence: str
    ) -> None:
        answer = add(desk, athlete, **{field: value})
        assert answer.status_code == 422
        form = answer.context["result_form"]
        assert list(form.errors) == [field]
        assert sentence in " ".join(form.errors[field])
        page = answer.content.decode()
        assert f'id="id_{field}_error"' in page
        # What was typed is still there, also in the fields that were right.
        typed = {"distance": "10 km", "time": "44:00", field: value}
        assert f'value="{typed["distance"]}"' in page or not typed["distance"]
        assert f'value="{typed["time"]}"' in page or not typed["time"]
        assert athlete.results.count() == 1

    @pytest.mark.parametrize(
        ("distance", "time", "sentence"),
        [
            ("marathon", "1:50:00", "marathon in 1:50:00 is faster than anyone has run."),
            ("marathon", "3:45", "For hours write 3:45:00."),
            (
                "5 km",
                "9:00:00",
                "5K in 9:00:00 is slower than walking (15:00 per km). Is it the right distance?",
            ),
        ],
    )
    def test_absurd_times_are_told_at_the_time(
        self, desk: Client, athlete: Athlete, distance: str, time: str, sentence: str
    ) -> None:
        answer = add(desk, athlete, distance=distance, time=time)
        assert answer.status_code == 422
        assert sentence in " ".join(answer.context["result_form"].errors["time"])


class TestSettingAside:
    def test_it_works_and_can_be_taken_back(self, desk: Client, athlete: Athlete) -> None:
        add(desk, athlete)
        fast = Result.objects.get(time_ms=44 * 60_000)
        asked = desk.get(f"/desk/results/{fast.pk}/set-aside/").content.decode()
        assert "It stays in the history and no longer sets the paces." in asked
        answer = desk.post(f"/desk/results/{fast.pk}/set-aside/", {"reason": "course hilly", "words": ""})
        assert answer["Location"] == f"/desk/athletes/{athlete.pk}/paces/"
        fast.refresh_from_db()
        assert fast.set_aside_reason == "course hilly"
        # Back to what the card in force says: nothing waits any more.
        assert not CardProposal.objects.filter(state="open").exists()
        assert "Doesn't count: set aside: course hilly." in page_of(desk, athlete)
        desk.post(f"/desk/results/{fast.pk}/take-back/")
        fast.refresh_from_db()
        assert fast.set_aside_reason == ""
        assert CardProposal.objects.get(state="open").origin.startswith("10K in 44:00")

    def test_own_words(self, desk: Client, athlete: Athlete) -> None:
        result = athlete.results.get()
        desk.post(f"/desk/results/{result.pk}/set-aside/", {"reason": "own", "words": "dog ran too"})
        result.refresh_from_db()
        assert result.set_aside_reason == "dog ran too"

    @pytest.mark.parametrize(
        ("data", "field"),
        [
            ({"reason": "own", "words": ""}, "words"),
            ({"reason": "own", "words": "x" * 101}, "words"),
            ({"reason": "bored"}, "reason"),
            ({}, "reason"),
        ],
    )
    def test_without_a_reason_it_counts_on(
        self, desk: Client, athlete: Athlete, data: dict[str, str], field: str
    ) -> None:
        result = athlete.results.get()
        answer = desk.post(f"/desk/results/{result.pk}/set-aside/", {"words": "", **data})
        assert answer.status_code == 422
        assert field in answer.context["form"].errors
        result.refresh_from_db()
        assert result.set_aside_reason == ""


class TestWhatElseItStandsOn:
    def post(self, desk: Client, athlete: Athlete, **values: str) -> Any:
        data = {"weekly": "40 km", "goal": "3:45:00", "resting": "", "maximum": "", **values}
        return desk.post(f"/desk/athletes/{athlete.pk}/paces/basis/", data)

    def test_a_longer_week_proposes_a_faster_marathon_pace(self, desk: Client, athlete: Athlete) -> None:
        assert self.post(desk, athlete, weekly="70 km", resting="52", maximum="188").status_code == 302
        athlete.refresh_from_db()
        assert athlete.declared_weekly_mm == 70_000_000
        assert (athlete.resting_rate, athlete.maximum_rate) == (52, 188)
        proposal = CardProposal.objects.get()
        assert proposal.why == "Usual week or goal changed by Marta Quill"
        old = athlete.pace_cards.get().card.ranges
        new = proposal.paces.ranges
        assert new["MP"].mid > old["MP"].mid
        assert new["10K"] == old["10K"]

    def test_a_goal_is_on_the_proposed_card(self, desk: Client, athlete: Athlete, schedule: Schedule) -> None:
        self.post(desk, athlete, goal="3:40:00")
        schedule.race_entry.refresh_from_db()
        assert schedule.race_entry.goal_ms == 220 * 60_000
        # 220 minutes over 42.195 km is 5:12.8/km.
        pace = CardProposal.objects.get().paces.ranges["goal"].mid
        assert round(pace.s_per_km, 1) == pytest.approx(312.8)

    @pytest.mark.parametrize(
        ("field", "value", "sentence"),
        [
            ("weekly", "400 km", "up to 350 km is possible"),
            ("weekly", "lots", "lots"),
            ("goal", "1:50:00", "marathon in 1:50:00 is faster than anyone has run."),
            ("goal", "25:99", "25:99"),
            ("resting", "12", "25 to 110 beats a minute is possible"),
            ("resting", "-3", "25 to 110 beats a minute is possible"),
            ("resting", "NaN", "Enter a whole number."),
        ],
    )
    def test_bad_input(self, desk: Client, athlete: Athlete, field: str, value: str, sentence: str) -> None:
        answer = self.post(desk, athlete, **{field: value})
        assert answer.status_code == 422
        form = answer.context["basis_form"]
        assert sentence in " ".join(form.errors[field])
        assert f'value="{value}"' in answer.content.decode()
        assert not CardProposal.objects.exists()

    def test_a_maximum_needs_the_resting_rate(self, desk: Client, athlete: Athlete) -> None:
        answer = self.post(desk, athlete, maximum="188")
        assert answer.context["basis_form"].errors["resting"] == [
            "Heart-rate ranges need the resting rate too."
        ]

    def test_a_maximum_close_to_rest_is_told_there(self, desk: Client, athlete: Athlete) -> None:
        answer = self.post(desk, athlete, resting="90", maximum="121")
        assert "at least 40 above the resting rate" in answer.context["basis_form"].errors["maximum"][0]


class TestAfterABreak:
    def run_on(self, athlete: Athlete, days_ago: int) -> None:
        Log.objects.create(
            athlete=athlete,
            day=timezone.localdate() - timedelta(days_ago),
            time_zone="UTC",
            received_at=timezone.now(),
            outcome="other",
            distance_mm=8_000_000,
        )

    def test_a_gap_in_the_log_is_told_as_a_range(self, desk: Client, athlete: Athlete) -> None:
        """Last run 15 days ago: 14 days without one. 2 to 7 % on straight lines between the reviews' values."""
        self.run_on(athlete, 15)
        page = page_of(desk, athlete)
        assert ": 14 days. Silence is not always rest" in page
        assert "14 days off usually cost 2 to 7 % of the aerobic capacity" in page
        assert 'name="days_off" value="14"' in page

    def test_a_gap_that_ended_is_told_too(self, desk: Client, athlete: Athlete) -> None:
        self.run_on(athlete, 20)
        self.run_on(athlete, 3)
        assert ": 16 days. Silence" in page_of(desk, athlete)

    def test_a_few_days_are_no_break(self, desk: Client, athlete: Athlete) -> None:
        self.run_on(athlete, 4)
        assert "No break stands out in the log since the last result." in page_of(desk, athlete)

    def test_a_result_since_answers_it(self, desk: Client, athlete: Athlete) -> None:
        self.run_on(athlete, 20)
        self.run_on(athlete, 3)
        add(desk, athlete)
        assert "No break stands out in the log since the last result." in page_of(desk, athlete)

    def test_the_coach_decides_and_it_becomes_a_proposal(self, desk: Client, athlete: Athlete) -> None:
        answer = desk.post(f"/desk/athletes/{athlete.pk}/paces/break/", {"days_off": "14"})
        assert answer.status_code == 302
        proposal = CardProposal.objects.get()
        assert (proposal.days_off, proposal.why) == (14, "14 days off, says Marta Quill")
        desk.post(f"/desk/card-proposals/{proposal.pk}/accept/")
        assert "The paces allow for 14 days off" in page_of(desk, athlete)

    @pytest.mark.parametrize("days", ["-1", "400", "two weeks", "", "1e9", "NaN"])
    def test_bad_days(self, desk: Client, athlete: Athlete, days: str) -> None:
        answer = desk.post(f"/desk/athletes/{athlete.pk}/paces/break/", {"days_off": days})
        assert answer.status_code == 422
        assert answer.context["break_form"].errors["days_off"]
        assert not CardProposal.objects.exists()


class TestOnPaper:
    def test_it_is_one_page(self, desk: Client, athlete: Athlete) -> None:
        Athlete.objects.filter(pk=athlete.pk).update(resting_rate=50, maximum_rate=190)
        answer = desk.get(f"/desk/athletes/{athlete.pk}/paces/card.pdf")
        assert answer["Content-Type"] == "application/pdf"
        pages = PdfReader(io.BytesIO(answer.content)).pages
        assert len(pages) == 1
        text = pages[0].extract_text()
        for part in ("Bea Lindqvist", "4:45–4:51/km", "134–154", "± 1 %", "This is a training plan"):
            assert part in text

    def test_without_a_card_there_is_none(self) -> None:
        coach = CoachFactory(is_head=True)
        client = Client()
        client.force_login(coach.user)
        assert client.get(f"/desk/athletes/{AthleteFactory().pk}/paces/card.pdf").status_code == 404
