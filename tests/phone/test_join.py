"""An athlete joins: the invitation works once, the steps keep what was typed, and a yes keeps the plan waiting."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connections
from django.test import Client
from django.utils import timezone

from athletes.models import Athlete, Coach, User
from athletes.screening import CLINICIAN_FIRST, standing
from coaching.desk.invitations import address_of, invite
from coaching.mailing import compose
from coaching.models import Delivery, Invitation
from plans.assigning import describe
from tests.factories import CoachFactory, UserFactory

pytestmark = pytest.mark.django_db

JOIN = {
    "name": "Rosa Lind",
    "email": "Rosa@Example.org",
    "units": "mi",
    "time_zone": "America/Halifax",
    "agreed": "on",
}
HEALTH: dict[str, Any] = {"born": "1979-03-02", "guardian": ""} | {
    f"health_{name}": "no" for name in ("disease", "symptoms", "legs", "injury", "advice", "pregnant")
}
RUNNING = {
    "weekly": "20",
    "longest": "8 mi",
    "goal_words": "Two Piers Half, under two hours",
    "result-distance": "5 km",
    "result-time": "24:20",
    "result-day": (timezone.now().date() - timedelta(30)).isoformat(),
    "result-name": "",
}
DAYS = {"mon": 0, "tue": 60, "wed": 0, "thu": 60, "fri": 0, "sat": 75, "sun": 150}


@pytest.fixture
def coach() -> Coach:
    return CoachFactory(user=UserFactory(name="Marta Quill", email="marta@example.org"))


@pytest.fixture
def invitation(coach: Coach) -> Invitation:
    return invite(coach, Athlete.objects.create(name="Rosa L."))


def path(invitation: Invitation) -> str:
    return address_of(invitation).removeprefix("http://localhost:8000")


@pytest.fixture
def phone(client: Client, invitation: Invitation) -> Client:
    """Rosa's, joined and at the first question."""
    assert client.post(path(invitation), JOIN).status_code == 302
    return client


def test_it_works_from_the_link_to_the_plan(client: Client, invitation: Invitation) -> None:
    page = client.get(path(invitation)).content.decode()
    assert "Marta Quill invites you" in page
    assert 'value="Rosa L."' in page
    answer = client.post(path(invitation), JOIN)
    assert answer["Location"] == "/me/welcome/health/"
    assert client.post("/me/welcome/health/", HEALTH)["Location"] == "/me/welcome/running/"
    assert client.post("/me/welcome/running/", RUNNING)["Location"] == "/me/welcome/days/"
    assert client.post("/me/welcome/days/", DAYS)["Location"] == "/me/welcome/door/"
    assert client.post("/me/welcome/door/", {"do": "finish"})["Location"] == "/me/"
    assert client.get("/me/").status_code == 200
    rosa = Athlete.objects.get()
    assert rosa.user
    assert (rosa.name, rosa.user.email, rosa.units, rosa.time_zone) == (
        "Rosa Lind",
        "rosa@example.org",
        "mi",
        "America/Halifax",
    )
    assert (rosa.born, rosa.joining, rosa.goal_words) == (
        date(1979, 3, 2),
        "",
        "Two Piers Half, under two hours",
    )
    # 20 miles of exactly 1,609,344 mm each.
    assert (rosa.declared_weekly_mm, rosa.declared_longest_mm) == (32_186_880, 12_874_752)
    assert rosa.availabilities.get().minutes() == (0, 60, 0, 60, 0, 75, 150)
    result = rosa.results.get()
    assert (result.distance_mm, result.time_ms) == (5_000_000, 1_460_000)
    assert rosa.consent_at is not None
    assert standing(rosa, timezone.now()).any_yes is False


def test_looking_spends_nothing(client: Client, invitation: Invitation) -> None:
    for _ in range(3):
        assert client.get(path(invitation)).status_code == 200
        assert client.head(path(invitation)).status_code == 200
    invitation.refresh_from_db()
    assert invitation.used_at is None
    assert not User.objects.filter(email="rosa@example.org").exists()


def test_it_works_once(phone: Client, invitation: Invitation) -> None:
    again = Client().post(path(invitation), {**JOIN, "email": "other@example.org"})
    assert again.status_code == 410
    assert "This invitation was used" in again.content.decode()
    assert Client().get(path(invitation)).status_code == 410
    assert not User.objects.filter(email="other@example.org").exists()


def test_it_ends_after_fourteen_days(client: Client, invitation: Invitation) -> None:
    assert invitation.expires - invitation.made_at == timedelta(days=14)
    Invitation.objects.update(
        made_at=timezone.now() - timedelta(days=14, seconds=1), expires=timezone.now() - timedelta(seconds=1)
    )
    for answer in (client.get(path(invitation)), client.post(path(invitation), JOIN)):
        assert answer.status_code == 410
        assert "has ended" in answer.content.decode()
    assert Athlete.objects.get().user is None


def test_an_address_nobody_made(client: Client, invitation: Invitation) -> None:
    for token in ("x", "a" * 43, "%C3%A9", invitation.token_hash, invitation.nonce):
        answer = client.get(f"/join/{token}/")
        assert answer.status_code == 404
        assert "no such invitation" in answer.content.decode()


def test_a_newer_link_ends_the_older_one(client: Client, coach: Coach, invitation: Invitation) -> None:
    invite(coach, invitation.athlete)
    assert client.get(path(invitation)).status_code == 404


def test_the_link_stands_nowhere_in_the_database(invitation: Invitation) -> None:
    token = path(invitation).split("/")[2]
    assert len(token) == 43
    row = Invitation.objects.values().get()
    assert token not in str(row)


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("name", "", "required"),
        ("name", "x" * 81, "at most 80"),
        ("email", "rosa", "whole mail address"),
        ("email", "marta@example.org", "has an account here"),
        ("units", "ells", "valid choice"),
        ("time_zone", "Saltmarsh/Pier", "valid choice"),
        ("agreed", "", "Without your agreement"),
    ],
)
def test_what_will_not_do_is_said_and_kept(
    client: Client, invitation: Invitation, field: str, typed: str, words: str
) -> None:
    answer = client.post(path(invitation), {**JOIN, field: typed})
    assert answer.status_code == 422
    form = answer.context["form"]
    assert list(form.errors) == [field]
    assert words in str(form.errors[field])
    assert 'value="America/Halifax" selected' in answer.content.decode() or field == "time_zone"
    invitation.refresh_from_db()
    assert invitation.used_at is None


def test_markup_in_a_name_is_text(client: Client, invitation: Invitation) -> None:
    client.post(path(invitation), {**JOIN, "name": "<b>Rosa</b>"})
    assert "&lt;b&gt;Rosa&lt;/b&gt;" in client.get("/me/profile/").content.decode()


def test_somebody_signed_in_joins_with_that_account(
    client: Client, coach: Coach, invitation: Invitation
) -> None:
    client.force_login(coach.user)
    assert "You are signed in here as Marta Quill" in client.get(path(invitation)).content.decode()
    assert client.post(path(invitation), {k: v for k, v in JOIN.items() if k != "email"}).status_code == 302
    assert Athlete.objects.get().user == coach.user
    assert User.objects.count() == 1


def test_an_athlete_cannot_become_a_second_one(phone: Client, coach: Coach) -> None:
    other = invite(coach, Athlete.objects.create(name="Per Sandal"))
    assert phone.get(path(other)).status_code == 409
    assert phone.post(path(other), JOIN).status_code == 409
    assert Athlete.objects.get(name="Per Sandal").user is None


def test_a_welcome_goes_to_the_address_and_its_link_confirms_it(phone: Client) -> None:
    """Also when the mail is opened elsewhere, days after this phone signed in and out and in again."""
    letter = compose(Delivery.objects.get(kind="welcome", to="rosa@example.org"))
    rosa = User.objects.get(email="rosa@example.org")
    assert rosa.confirmed_at is None
    assert "not confirmed" in phone.get("/account/").content.decode()
    phone.force_login(rosa)
    (link,) = re.findall(r"http://[^/]+(/confirm/\S+)", str(letter.body))
    assert Client().post(link).status_code == 200
    rosa.refresh_from_db()
    assert rosa.confirmed_at is not None
    assert "not confirmed" not in phone.get("/account/").content.decode()


def test_joining_goes_on_where_it_stood(phone: Client) -> None:
    phone.post("/me/welcome/health/", HEALTH)
    assert phone.get("/")["Location"] == "/me/welcome/running/"
    phone.post("/me/welcome/health/", HEALTH)
    assert phone.get("/")["Location"] == "/me/welcome/running/"
    page = phone.get("/me/welcome/health/").content.decode()
    assert 'value="1979-03-02"' in page
    assert page.count("checked") == 6


def test_the_same_answers_again_are_no_new_answers(phone: Client) -> None:
    for _ in range(2):
        phone.post("/me/welcome/health/", HEALTH)
    assert Athlete.objects.get().screenings.count() == 1
    phone.post("/me/welcome/health/", {**HEALTH, "health_legs": "yes"})
    assert Athlete.objects.get().screenings.count() == 2


@pytest.mark.parametrize("question", ["disease", "symptoms", "legs", "injury", "advice"])
def test_a_yes_means_no_automatic_plan_until_a_coach_signs(phone: Client, question: str) -> None:
    answer = phone.post("/me/welcome/health/", {**HEALTH, f"health_{question}": "yes"}, follow=True)
    assert "See a clinician before you train by a plan" in answer.content.decode()
    rosa = Athlete.objects.get()
    health = standing(rosa, timezone.now())
    assert (health.any_yes, health.signed_by) == (True, "")
    fit = describe(rosa, None, (0, 60, 0, 60, 0, 75, 150), rosa.today(), health, ())  # type: ignore[arg-type]
    assert fit.no_plan_reason == CLINICIAN_FIRST


def test_pregnancy_is_told_to_the_planner(phone: Client) -> None:
    phone.post("/me/welcome/health/", {**HEALTH, "health_pregnant": "yes"})
    assert standing(Athlete.objects.get(), timezone.now()).pregnant is True


def test_every_question_wants_an_answer(phone: Client) -> None:
    answer = phone.post("/me/welcome/health/", {k: v for k, v in HEALTH.items() if k != "health_injury"})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["health_injury"]
    assert not Athlete.objects.get().screenings.exists()


def test_under_18_a_guardian_agrees(phone: Client) -> None:
    today = timezone.now().date()
    seventeen = {**HEALTH, "born": f"{today.year - 17}-01-01"}
    answer = phone.post("/me/welcome/health/", seventeen)
    assert answer.status_code == 422
    assert "parent or guardian" in str(answer.context["form"].errors["guardian"])
    assert phone.post("/me/welcome/health/", {**seventeen, "guardian": "Ines Lind"}).status_code == 302
    assert Athlete.objects.get().guardian == "Ines Lind"


@pytest.mark.parametrize("born", ["", "1879-03-02", "2099-01-01", "yesterday", "1979-02-30"])
def test_a_birth_date_that_cannot_be(phone: Client, born: str) -> None:
    answer = phone.post("/me/welcome/health/", {**HEALTH, "born": born})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["born"]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"weekly": ""}, "weekly"),
        ({"weekly": "far"}, "weekly"),
        ({"weekly": "3000"}, "weekly"),
        ({"longest": "400 km"}, "longest"),
        ({"weekly": "5 km", "longest": "30 km"}, "longest"),
        ({"goal_words": "x" * 201}, "goal_words"),
    ],
)
def test_running_that_will_not_do(phone: Client, changes: dict[str, str], field: str) -> None:
    answer = phone.post("/me/welcome/running/", {**RUNNING, **changes})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert Athlete.objects.get().declared_weekly_mm == 0


def test_half_a_result_is_told_and_nothing_is_kept(phone: Client) -> None:
    answer = phone.post("/me/welcome/running/", {**RUNNING, "result-time": ""})
    assert answer.status_code == 422
    assert list(answer.context["result"].errors) == ["time"]
    assert Athlete.objects.get().results.count() == 0


def test_no_result_is_fine(phone: Client) -> None:
    none = {k: "" if k.startswith("result") else v for k, v in RUNNING.items()}
    assert phone.post("/me/welcome/running/", none).status_code == 302
    assert Athlete.objects.get().results.count() == 0


@pytest.mark.parametrize("minutes", ["-1", "481", "an hour", "", "1e2"])
def test_minutes_that_will_not_do(phone: Client, minutes: str) -> None:
    answer = phone.post("/me/welcome/days/", {**DAYS, "thu": minutes})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["thu"]


def test_no_free_day_at_all(phone: Client) -> None:
    answer = phone.post("/me/welcome/days/", dict.fromkeys(DAYS, 0))
    assert answer.status_code == 422
    assert "No day is free" in answer.content.decode()


def test_a_password_at_the_end_opens_the_door_later(phone: Client) -> None:
    new = "seven herrings and a kite"
    answer = phone.post("/me/welcome/door/", {"do": "password", "new_password1": new, "new_password2": new})
    assert answer["Location"] == "/me/"
    later = Client()
    assert later.post("/sign-in/", {"username": "rosa@example.org", "password": new})["Location"] == "/"
    assert later.get("/me/").status_code == 200


def test_whoever_has_a_password_sets_no_other_one_here(phone: Client) -> None:
    """A phone left lying open would give the account away: the account's page asks for the old one."""
    owner = User.objects.get(email="rosa@example.org")
    owner.set_password("the first one it was")
    owner.save()
    phone.force_login(owner)
    assert "new_password1" not in phone.get("/me/welcome/door/").content.decode()
    new = {"new_password1": "a thief with a phone", "new_password2": "a thief with a phone"}
    answer = phone.post("/me/welcome/door/", {"do": "password", **new})
    assert answer["Location"] == "/account/password/"
    assert User.objects.get(pk=owner.pk).check_password("the first one it was")


def test_a_coach_who_runs_sets_it_behind_the_second_step(phone: Client) -> None:
    Coach.objects.create(user=User.objects.get(email="rosa@example.org"))
    new = {"new_password1": "a thief with a phone", "new_password2": "a thief with a phone"}
    answer = phone.post("/me/welcome/door/", {"do": "password", **new})
    assert answer["Location"] == "/account/password/"
    assert not User.objects.get(email="rosa@example.org").has_usable_password()


def test_a_poor_password_at_the_end_is_told(phone: Client) -> None:
    answer = phone.post(
        "/me/welcome/door/", {"do": "password", "new_password1": "run", "new_password2": "run"}
    )
    assert answer.status_code == 422
    assert Athlete.objects.get().joining == "health"


def test_the_steps_are_for_who_joined(client: Client, coach: Coach) -> None:
    assert client.get("/me/welcome/health/")["Location"].startswith("/sign-in/")
    client.force_login(coach.user)
    assert client.get("/me/welcome/health/").status_code == 404
    assert client.get("/me/welcome/else/").status_code == 404


def test_joining_needs_the_csrf_token(invitation: Invitation) -> None:
    assert Client(enforce_csrf_checks=True).post(path(invitation), JOIN).status_code == 403


@pytest.mark.django_db(transaction=True)
def test_two_phones_at_once_make_one_athlete(coach: Coach) -> None:
    import threading

    invitation = invite(coach, Athlete.objects.create(name="Rosa L."))
    start, answers = threading.Barrier(2), []

    def try_it(email: str) -> None:
        start.wait()
        answers.append(Client().post(path(invitation), {**JOIN, "email": email}).status_code)
        connections.close_all()

    threads = [threading.Thread(target=try_it, args=(f"rosa{n}@example.org",)) for n in range(2)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(answers) == [302, 410]
    assert User.objects.filter(email__startswith="rosa").count() == 1
