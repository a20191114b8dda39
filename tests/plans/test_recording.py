"""A log and the job that follows from it are written together; an entry sent twice counts once."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest

from athletes.models import HealthNote
from plans import recording
from plans.models import Job, Log, Schedule, Session, SessionIssue
from plans.recording import Clash, Entry
from tests.factories import KM, AthleteFactory, UserFactory, scheduled

pytestmark = pytest.mark.django_db


@pytest.fixture
def schedule() -> Schedule:
    return scheduled()


@pytest.fixture
def session(schedule: Schedule) -> Session:
    return (
        SessionIssue.objects.filter(schedule=schedule, day__lt=schedule.athlete.today())
        .earliest("day")
        .session
    )


def entry(**values: object) -> Entry:
    from django.utils import timezone

    return Entry(
        **{"entry_id": uuid4(), "day": timezone.localdate() - timedelta(1), "outcome": "done", **values}
    )  # type: ignore[arg-type]


def test_it_works(schedule: Schedule, session: Session) -> None:
    by = schedule.athlete.user
    log = recording.record(
        schedule.athlete, session, entry(distance_mm=8 * KM, moving_s=2800, effort=3), by=by
    )
    assert (log.distance_mm, log.moving_s, log.effort, log.time_zone) == (8_000_000, 2800, 3, "UTC")
    job = Job.objects.get()
    assert (job.kind, job.athlete, job.state) == ("rebalance", schedule.athlete, "waiting")


def test_the_same_entry_twice_counts_once(schedule: Schedule, session: Session) -> None:
    one = entry()
    first = recording.record(schedule.athlete, session, one, by=schedule.athlete.user)
    again = recording.record(schedule.athlete, session, one, by=schedule.athlete.user)
    assert first == again
    assert Log.objects.count() == 1


def test_another_entry_that_has_not_seen_the_first_clashes(schedule: Schedule, session: Session) -> None:
    first = recording.record(schedule.athlete, session, entry(), by=schedule.athlete.user)
    with pytest.raises(Clash) as caught:
        recording.record(
            schedule.athlete, session, entry(outcome="missed", reason="time"), by=schedule.athlete.user
        )
    assert caught.value.standing == first
    assert Log.objects.standing().get() == first  # type: ignore[attr-defined]


def test_a_correction_replaces_and_history_is_kept(schedule: Schedule, session: Session) -> None:
    by = schedule.athlete.user
    first = recording.record(schedule.athlete, session, entry(), by=by)
    second = recording.record(
        schedule.athlete, session, entry(outcome="missed", reason="time", seen=first.pk), by=by
    )
    first.refresh_from_db()
    assert first.replaced_by == second
    assert Log.objects.standing().get(session=session) == second  # type: ignore[attr-defined]
    assert Log.objects.count() == 2


def test_an_entry_id_of_somebody_else_is_refused(schedule: Schedule, session: Session) -> None:
    one = entry()
    recording.record(schedule.athlete, session, one, by=schedule.athlete.user)
    with pytest.raises(ValueError, match="belongs to another"):
        recording.record(AthleteFactory(), None, one, by=UserFactory())


@pytest.mark.parametrize("reason", ["ill", "pain"])
def test_illness_and_pain_open_a_hold_at_once(schedule: Schedule, session: Session, reason: str) -> None:
    recording.record(
        schedule.athlete,
        session,
        entry(outcome="missed", reason=reason, note="left shin"),
        by=schedule.athlete.user,
    )
    note = HealthNote.objects.get()
    assert (note.cause, note.kind, note.words, note.closed) == (reason, "easy", "left shin", None)


@pytest.mark.parametrize("reason", ["time", "travel", "tired"])
def test_other_reasons_open_none(schedule: Schedule, session: Session, reason: str) -> None:
    recording.record(
        schedule.athlete, session, entry(outcome="missed", reason=reason), by=schedule.athlete.user
    )
    assert not HealthNote.objects.exists()


def test_one_open_hold_is_enough(schedule: Schedule, session: Session) -> None:
    for seen in (None, "first"):
        standing = Log.objects.first()
        recording.record(
            schedule.athlete,
            session,
            entry(outcome="missed", reason="pain", seen=standing.pk if seen and standing else None),
            by=schedule.athlete.user,
        )
    assert HealthNote.objects.count() == 1


def test_a_hold_is_cleared_once_and_signed(schedule: Schedule) -> None:
    note = HealthNote.objects.create(
        athlete=schedule.athlete, kind="easy", cause="pain", opened=schedule.athlete.today()
    )
    coach = UserFactory(name="Marta Quill")
    assert recording.clear_hold(note, by=coach) is True
    assert recording.clear_hold(note, by=UserFactory()) is False
    note.refresh_from_db()
    assert (note.closed_by_name, note.closed) == ("Marta Quill", schedule.athlete.today())
    assert Job.objects.filter(kind="rebalance", athlete=schedule.athlete).count() == 1


def test_time_off_writes_the_job(schedule: Schedule) -> None:
    day = schedule.athlete.today() + timedelta(3)
    recording.take_time_off(schedule.athlete, day, day + timedelta(4), 0, "travel")
    assert Job.objects.get().athlete == schedule.athlete
