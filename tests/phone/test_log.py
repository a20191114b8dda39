"""Log a session: done, cut short, missed; twice counts once; bad input is told at its field and nothing is lost."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.test import Client
from django.utils import timezone

from plans.models import Job, Log, Schedule
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db


def post(client: Client, session: UUID, **values: Any) -> Any:
    data = {"entry_id": str(uuid4()), "outcome": "done", "day": timezone.localdate().isoformat(), **values}
    return client.post(f"/me/sessions/{session}/log/", data)


def test_it_works(phone: Client, past: UUID) -> None:
    answer = post(phone, past, effort="4")
    assert answer.status_code == 302
    assert answer["Location"] == "/me/"
    log = Log.objects.get()
    assert (log.session_id, log.outcome, log.effort, log.distance_mm) == (past, "done", 4, None)
    assert Job.objects.filter(kind="rebalance").count() == 1


def test_the_quick_page_has_eleven_efforts_and_sets_nothing(phone: Client, past: UUID) -> None:
    page = phone.get(f"/me/sessions/{past}/log/?how=done")
    assert page.content.count(b'name="effort"') == 11
    assert not Log.objects.exists()


def test_cut_short_keeps_distance_time_and_words(phone: Client, past: UUID) -> None:
    post(phone, past, outcome="cut", distance="5,5 km", moving="31:20", effort="6", note="Legs said no.")
    log = Log.objects.get()
    assert (log.outcome, log.distance_mm, log.moving_s, log.note) == ("cut", 5_500_000, 1880, "Legs said no.")


def test_missed_keeps_the_reason_and_no_distance(phone: Client, past: UUID) -> None:
    post(phone, past, outcome="missed", reason="travel", distance="5 km")
    log = Log.objects.get()
    assert (log.outcome, log.reason, log.distance_mm) == ("missed", "travel", None)


def test_illness_says_the_cautions(phone: Client, past: UUID) -> None:
    answer = post(phone, past, outcome="missed", reason="ill")
    page = phone.get(answer["Location"]).content.decode()
    assert "see a clinician" in page
    assert "On hold" in page


def test_miles_stay_miles(phone: Client, past: UUID, schedule: Schedule) -> None:
    schedule.athlete.units = "mi"
    schedule.athlete.save()
    post(phone, past, outcome="cut", distance="5")
    assert Log.objects.get().distance_mm == 8_046_720


def test_a_double_tap_counts_once(phone: Client, past: UUID) -> None:
    entry = str(uuid4())
    for _ in range(2):
        assert post(phone, past, entry_id=entry).status_code == 302
    assert Log.objects.count() == 1


def test_two_phones_clash_and_nothing_typed_is_lost(phone: Client, past: UUID) -> None:
    post(phone, past, outcome="cut", distance="4 km")
    answer = post(phone, past, outcome="missed", reason="tired", note="written on the other phone")
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Another entry came in meanwhile" in page
    assert "4 km" in page
    assert "written on the other phone" in page
    assert str(Log.objects.get().pk) in page
    again = post(phone, past, outcome="missed", reason="tired", seen=str(Log.objects.get().pk))
    assert again.status_code == 302
    assert Log.objects.standing().get().outcome == "missed"  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"distance": "-5 km"}, "not a distance"),
        ({"distance": "NaN"}, "not a distance"),
        ({"distance": "9" * 400}, "at most 40"),
        ({"distance": "260 km"}, "further than 250 km"),
        ({"moving": "25:99"}, "25:99"),
        ({"moving": "45"}, "could be minutes or hours"),
        ({"distance": "10 km", "moving": "3:00"}, "nobody runs like that"),
        ({"effort": "11"}, "0 to 10"),
        ({"effort": "NaN"}, "0 to 10"),
        ({"outcome": "missed"}, "Say why"),
        ({"outcome": "cut"}, "Say how far"),
        ({"outcome": "flown"}, "valid choice"),
        ({"outcome": "missed", "reason": "bored"}, "valid choice"),
        ({"day": (timezone.localdate() + timedelta(1)).isoformat()}, "still to come"),
        ({"day": "31 February"}, "valid date"),
        ({"note": "x" * 401}, "at most 400"),
        ({"entry_id": "not a number"}, "save again"),
    ],
)
def test_bad_input_is_told_and_kept(phone: Client, past: UUID, values: dict[str, str], said: str) -> None:
    answer = post(phone, past, **values)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert said in page
    typed = [value for name, value in values.items() if name in ("distance", "moving", "note")]
    assert all(value in page for value in typed)
    assert not Log.objects.exists()
    assert not Job.objects.exists()


def test_another_athletes_session_is_not_there(phone: Client) -> None:
    theirs = scheduled().issues.first()
    assert theirs is not None
    assert post(phone, theirs.session_id).status_code == 404
    assert phone.get(f"/me/sessions/{theirs.session_id}/log/").status_code == 404
    assert not Log.objects.exists()


def test_a_session_that_is_not_there(phone: Client) -> None:
    assert post(phone, uuid4()).status_code == 404


def test_a_coach_who_does_not_run_has_no_phone_pages(past: UUID, schedule: Schedule) -> None:
    coach = CoachFactory()
    coaches(coach, schedule.athlete)
    client = Client()
    client.force_login(coach.user)
    assert post(client, past).status_code == 404


def test_a_lost_session_goes_to_sign_in_and_back(past: UUID) -> None:
    answer = Client().post(f"/me/sessions/{past}/log/", {})
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/?next=/me/sessions/")


def test_a_lost_session_tells_htmx_and_json(past: UUID) -> None:
    client = Client()
    told = client.post(
        f"/me/sessions/{past}/log/", {}, headers={"HX-Request": "true", "HX-Current-URL": "http://x/me/"}
    )
    assert (told.status_code, told["HX-Redirect"]) == (204, "/sign-in/?next=/me/")
    assert (
        client.post(f"/me/sessions/{past}/log/", {}, headers={"Accept": "application/json"}).status_code
        == 401
    )


def test_an_entry_without_the_csrf_token_is_refused(past: UUID, schedule: Schedule) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(schedule.athlete.user)
    assert post(client, past).status_code == 403


def test_a_run_that_is_not_in_the_plan(phone: Client) -> None:
    data = {
        "entry_id": str(uuid4()),
        "day": timezone.localdate().isoformat(),
        "distance": "6 km",
        "effort": "3",
    }
    assert phone.post("/me/runs/", data).status_code == 302
    log = Log.objects.get()
    assert (log.session, log.outcome, log.distance_mm) == (None, "other", 6_000_000)


def test_an_extra_run_needs_its_distance(phone: Client) -> None:
    answer = phone.post("/me/runs/", {"entry_id": str(uuid4()), "day": timezone.localdate().isoformat()})
    assert answer.status_code == 422
    assert "Say how far it was." in answer.content.decode()


def test_today_is_the_athletes_own(phone: Client, schedule: Schedule) -> None:
    """Near midnight UTC it is another day in Auckland than in Honolulu."""
    for zone in ("Pacific/Auckland", "Pacific/Honolulu"):
        schedule.athlete.time_zone = zone
        schedule.athlete.save()
        today = schedule.athlete.today()
        page = phone.get("/me/").content.decode()
        assert f"{today:%a} {today.day} {today:%B}" in page


def test_an_athlete_without_a_schedule_sees_so() -> None:
    client = Client()
    client.force_login(AthleteFactory().user)
    assert "No plan yet" in client.get("/me/").content.decode()
