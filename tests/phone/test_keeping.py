"""What the phone keeps: its own pages of this week and next, a stamp each, a token; JSON answers for entries."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from django.contrib.messages import get_messages
from django.test import Client
from django.utils import timezone

from plans import saying
from plans.models import Log, Race, RacePlan, Schedule, SessionIssue
from tests.factories import CoachFactory, scheduled

pytestmark = pytest.mark.django_db
JSON = {"Accept": "application/json"}


def kept(client: Client) -> dict[str, str]:
    return dict(client.get("/me/keep/").json()["pages"])


def test_this_week_and_next_are_kept(phone: Client, schedule: Schedule) -> None:
    pages = kept(phone)
    today = schedule.athlete.today()
    sunday = today + timedelta(6 - today.weekday())
    days = (sunday - today).days + 8
    assert [f"/me/?day={today + timedelta(n)}" in pages for n in range(days + 1)] == [True] * days + [False]
    for row in SessionIssue.objects.filter(schedule=schedule):
        there = today - timedelta(3) <= row.day <= sunday + timedelta(7)
        assert (f"/me/sessions/{row.session_id}/" in pages) is there
    assert {"/me/paces/", "/me/plan/", "/me/handout/"} <= set(pages)


def test_every_kept_page_is_there(phone: Client) -> None:
    for address in kept(phone):
        assert phone.get(address, headers={"X-Keep": "1"}).status_code == 200, address


def test_the_stamps_change_with_what_the_pages_show(phone: Client, schedule: Schedule, past: UUID) -> None:
    before = kept(phone)
    assert kept(phone) == before
    phone.post(
        "/me/time-off/",
        {
            "first_day": schedule.athlete.today(),
            "last_day": schedule.athlete.today(),
            "minutes": 0,
            "kind": "rest",
        },
    )
    after = kept(phone)
    changed = {page for page, stamp in after.items() if before.get(page) != stamp}
    assert "/me/plan/" in changed
    assert not any("/log/" in page for page in changed)  # the forms are as they were


def test_a_word_changes_only_the_pages_that_show_it(phone: Client, schedule: Schedule) -> None:
    athlete, before = schedule.athlete, kept(phone)
    first, second = (
        row.session_id for row in SessionIssue.objects.filter(schedule=schedule, day__gte=athlete.today())[:2]
    )
    coach = CoachFactory().user
    saying.say(athlete, "Hm.", by=coach, by_coach=True, session=schedule.sessions.get(pk=first))
    after = kept(phone)
    changed = {page for page, stamp in after.items() if before[page] != stamp}
    assert {f"/me/?day={athlete.today()}", "/me/messages/", f"/me/sessions/{first}/"} <= changed
    assert not {"/me/plan/", "/me/paces/", "/me/handout/", f"/me/sessions/{second}/"} & changed
    saying.say(athlete, "For the fridge.", by=coach, by_coach=True, on_paper=True)
    assert kept(phone)["/me/handout/"] != after["/me/handout/"]


def test_the_stamps_change_with_the_plan_for_race_day(phone: Client, schedule: Schedule) -> None:
    before = kept(phone)
    entry = schedule.race_entry
    plan = RacePlan.objects.create(entry=entry, at=timezone.now())
    made = kept(phone)
    assert made["/me/race/"] != before["/me/race/"]
    RacePlan.objects.filter(pk=plan.pk).update(target_ms=14_000_000, at=timezone.now() + timedelta(1))
    chosen = kept(phone)
    assert chosen["/me/race/"] != made["/me/race/"]
    Race.objects.update(name="Another name")
    assert kept(phone)["/me/race/"] != chosen["/me/race/"]


def test_a_page_of_a_day_to_come_only_for_the_store(phone: Client, schedule: Schedule) -> None:
    day = schedule.athlete.today() + timedelta(2)
    as_kept = phone.get(f"/me/?day={day}", headers={"X-Keep": "1"}).content.decode()
    assert f"<span>{day:%a} {day.day} {day:%B}</span>" in as_kept
    today = schedule.athlete.today()
    assert f"<span>{today:%a} {today.day} {today:%B}</span>" in phone.get(f"/me/?day={day}").content.decode()


def test_the_store_takes_no_message_away(phone: Client, past: UUID) -> None:
    data = {
        "entry_id": str(uuid4()),
        "outcome": "done",
        "day": SessionIssue.objects.get(session=past).day.isoformat(),
    }
    phone.post(f"/me/sessions/{past}/log/", data)
    assert "Logged." not in phone.get("/me/", headers={"X-Keep": "1"}).content.decode()
    page = phone.get("/me/")
    assert "Logged." in page.content.decode()
    assert list(get_messages(page.wsgi_request)) is not None


def test_an_entry_as_json_is_stored_once(phone: Client, past: UUID) -> None:
    day = SessionIssue.objects.get(session=past).day.isoformat()
    data = {"entry_id": str(uuid4()), "outcome": "done", "day": day, "effort": "4"}
    for _ in range(2):
        answer = phone.post(f"/me/sessions/{past}/log/", data, headers=JSON)
        assert (answer.status_code, answer.json()["stored"]) == (200, data["entry_id"])
    assert Log.objects.count() == 1


def test_a_clash_and_a_mistake_as_json(phone: Client, past: UUID) -> None:
    day = SessionIssue.objects.get(session=past).day.isoformat()
    first = {"entry_id": str(uuid4()), "outcome": "cut", "distance": "4", "effort": "5", "day": day}
    phone.post(f"/me/sessions/{past}/log/", first, headers=JSON)
    clash = phone.post(f"/me/sessions/{past}/log/", {**first, "entry_id": str(uuid4())}, headers=JSON)
    assert clash.status_code == 409
    assert clash.json() == {"clash": "cut short, 4 km, effort 5", "seen": first["entry_id"]}
    wrong = phone.post(f"/me/sessions/{past}/log/", {**first, "effort": "11"}, headers=JSON)
    assert wrong.status_code == 422
    assert wrong.json()["errors"]["effort"] == ["Effort is a whole number from 0 to 10."]
    extra = {"entry_id": str(uuid4()), "distance": "4", "day": day}
    assert phone.post("/me/runs/", extra, headers=JSON).json()["said"] == "Logged."


def test_signed_out_is_401_for_json() -> None:
    assert Client().get("/me/keep/", headers=JSON).status_code == 401


def test_another_athletes_session_is_404_as_json(phone: Client) -> None:
    theirs = scheduled().issues.first()
    assert theirs is not None
    data = {"entry_id": str(uuid4()), "outcome": "done", "day": theirs.day.isoformat()}
    assert phone.post(f"/me/sessions/{theirs.session_id}/log/", data, headers=JSON).status_code == 404


def test_the_worker_and_the_manifest(phone: Client) -> None:
    worker = phone.get("/me/sw.js")
    assert worker["Content-Type"].startswith("text/javascript")
    assert worker["Service-Worker-Allowed"] == "/me/"
    assert "no-cache" in worker["Cache-Control"]
    manifest = phone.get("/me/app.webmanifest").json()
    assert (manifest["start_url"], manifest["scope"], manifest["display"]) == ("/me/", "/me/", "standalone")
    assert {icon["sizes"] for icon in manifest["icons"]} == {"192x192", "512x512", "any"}


def test_the_handout_of_this_week_is_a_pdf(phone: Client) -> None:
    answer = phone.get("/me/handout/")
    assert answer["Content-Type"] == "application/pdf"
    assert b"".join(answer.streaming_content).startswith(b"%PDF-")  # type: ignore[attr-defined]


def test_coaches_and_strangers_keep_nothing() -> None:
    coach = Client()
    coach.force_login(CoachFactory().user)
    for address in ("/me/keep/", "/me/sw.js", "/me/app.webmanifest", "/me/handout/", "/me/not-kept/"):
        assert coach.get(address).status_code == 404
        assert Client().get(address)["Location"].startswith("/sign-in/")
