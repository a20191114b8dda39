"""All as planned in one tap; entries corrected and taken back with their history; a swap of days."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from django.test import Client
from django.utils import timezone

from plans import recording
from plans.models import Log, Schedule, SessionIssue
from plans.recording import Entry
from tests.factories import AthleteFactory, CoachFactory, scheduled

pytestmark = pytest.mark.django_db


def due(schedule: Schedule) -> list[UUID]:
    """Runs of the past seven days."""
    today = timezone.localdate()
    rows = SessionIssue.objects.filter(schedule=schedule, day__lt=today, day__gte=today - timedelta(7))
    return [row.session_id for row in rows.order_by("day")]


def test_all_as_planned_in_one_tap(phone: Client, schedule: Schedule) -> None:
    sessions = due(schedule)
    page = phone.get("/me/").content.decode()
    assert f"All {len(sessions)} as planned since" in page
    answer = phone.post("/me/as-planned/", {"session": sessions}, follow=True)
    assert f"Logged as planned: {len(sessions)} runs." in answer.content.decode()
    logs = Log.objects.order_by("day")
    assert [log.session_id for log in logs] == sessions
    assert {log.outcome for log in logs} == {"done"}
    assert all(log.day == log.session.issues.get().day for log in logs)  # type: ignore[union-attr]


def test_twice_counts_once(phone: Client, schedule: Schedule) -> None:
    for _ in range(2):
        phone.post("/me/as-planned/", {"session": due(schedule)})
    assert Log.objects.count() == len(due(schedule))


def test_only_what_the_page_listed(phone: Client, schedule: Schedule) -> None:
    first = due(schedule)[0]
    phone.post("/me/as-planned/", {"session": [first, uuid4(), "no number"]})
    assert [log.session_id for log in Log.objects.all()] == [first]


def test_what_was_logged_meanwhile_stays(phone: Client, schedule: Schedule) -> None:
    first = due(schedule)[0]
    session = SessionIssue.objects.get(session=first).session
    missed = Entry(uuid4(), timezone.localdate() - timedelta(2), "missed", reason="time")
    recording.record(schedule.athlete, session, missed, by=schedule.athlete.user)
    phone.post("/me/as-planned/", {"session": due(schedule)})
    assert Log.objects.standing().get(session=first).outcome == "missed"  # type: ignore[attr-defined]


def test_another_athletes_sessions_are_not_touched(phone: Client) -> None:
    phone.post("/me/as-planned/", {"session": due(scheduled())})
    assert not Log.objects.exists()


def test_an_entry_taken_back_can_be_said_again(phone: Client, schedule: Schedule) -> None:
    sessions = due(schedule)[:1]
    phone.post("/me/as-planned/", {"session": sessions})
    log = Log.objects.get()
    answer = phone.post(f"/me/entries/{log.pk}/take-back/", follow=True)
    assert "Taken back" in answer.content.decode()
    assert not Log.objects.standing().exists()  # type: ignore[attr-defined]
    page = phone.get(f"/me/sessions/{sessions[0]}/").content.decode()
    assert "taken back" in page
    phone.post("/me/as-planned/", {"session": sessions})
    assert Log.objects.standing().count() == 1  # type: ignore[attr-defined]


def test_nobody_elses_entry_is_taken_back(phone: Client, schedule: Schedule) -> None:
    phone.post("/me/as-planned/", {"session": due(schedule)[:1]})
    other = Client()
    other.force_login(AthleteFactory().user)
    assert other.post(f"/me/entries/{Log.objects.get().pk}/take-back/").status_code == 404
    assert phone.get(f"/me/entries/{Log.objects.get().pk}/take-back/").status_code == 405
    assert Log.objects.standing().count() == 1  # type: ignore[attr-defined]


def test_a_correction_shows_what_stood_before(phone: Client, past: UUID) -> None:
    data = {
        "entry_id": str(uuid4()),
        "outcome": "cut",
        "distance": "5",
        "day": timezone.localdate().isoformat(),
    }
    phone.post(f"/me/sessions/{past}/log/", data)
    data |= {
        "entry_id": str(uuid4()),
        "seen": str(Log.objects.get().pk),
        "distance": "6",
        "note": "forgot the loop",
    }
    assert phone.post(f"/me/sessions/{past}/log/", data).status_code == 302
    page = phone.get(f"/me/sessions/{past}/").content.decode()
    assert "What was logged before" in page
    assert "cut short 5 km" in page
    assert "forgot the loop" in page


def test_a_run_on_another_day_leaves_the_schedule_alone(phone: Client, past: UUID) -> None:
    planned = SessionIssue.objects.get(session=past)
    day = planned.day + timedelta(1)
    data = {"entry_id": str(uuid4()), "outcome": "done", "day": day.isoformat()}
    page = phone.post(f"/me/sessions/{past}/log/", data, follow=True).content.decode()
    assert (
        f"Logged on {day:%a} {day.day} {day:%B} for {planned.day:%a} {planned.day.day} {planned.day:%B}"
        in page
    )
    assert Log.objects.get().day == day
    planned.refresh_from_db()
    assert (planned.day, planned.to_version) == (day - timedelta(1), None)
    assert "instead of" in phone.get(f"/me/sessions/{past}/").content.decode()


def extra(client: Client, address: str = "/me/runs/", **values: str) -> int:
    data = {"entry_id": str(uuid4()), "day": timezone.localdate().isoformat(), "distance": "6", **values}
    return client.post(address, data).status_code


def test_a_run_outside_the_plan_is_corrected_and_taken_out(phone: Client) -> None:
    assert extra(phone) == 302
    first = Log.objects.get()
    assert extra(phone, f"/me/runs/{first.pk}/", distance="7", seen=str(first.pk)) == 302
    standing = Log.objects.standing().get()  # type: ignore[attr-defined]
    assert standing.distance_mm == 7_000_000
    # The other phone still shows the first: it asks, and nothing is doubled.
    assert extra(phone, f"/me/runs/{first.pk}/", distance="9", seen=str(first.pk)) == 422
    assert Log.objects.standing().get() == standing  # type: ignore[attr-defined]
    phone.post(f"/me/entries/{standing.pk}/take-back/")
    assert not Log.objects.standing().exists()  # type: ignore[attr-defined]


def test_a_sessions_entry_is_no_run_outside_the_plan(phone: Client, schedule: Schedule) -> None:
    phone.post("/me/as-planned/", {"session": due(schedule)[:1]})
    assert phone.get(f"/me/runs/{Log.objects.get().pk}/").status_code == 404


def test_pages_are_the_athletes_only(past: UUID) -> None:
    coach = Client()
    coach.force_login(CoachFactory().user)
    assert coach.post("/me/as-planned/", {"session": [past]}).status_code == 404
    assert Client().post("/me/as-planned/")["Location"].startswith("/sign-in/")
