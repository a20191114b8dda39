"""Versions: only what changed is written, nothing unseen is overwritten, undo brings the former content back."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from plans import issuing
from plans.issuing import Content, Stale
from plans.models import Schedule, SessionIssue
from tests.factories import KM, UserFactory, scheduled

pytestmark = pytest.mark.django_db


@pytest.fixture
def schedule() -> Schedule:
    return scheduled()


def ahead(schedule: Schedule) -> list[SessionIssue]:
    today = schedule.athlete.today()
    return [row for row in issuing.live(schedule) if row.day > today]


def test_it_works(schedule: Schedule) -> None:
    row = ahead(schedule)[0]
    rows_before = SessionIssue.objects.count()
    shorter = replace(Content.of(row), steps="5 km easy", planned_mm=5 * KM)
    assert issuing.issue(schedule, 1, {row.session_id: shorter}, by=UserFactory(), cause="shorter") == 2
    now = SessionIssue.objects.get(session=row.session, to_version=None)
    assert (now.from_version, now.steps, now.sequence) == (2, "5 km easy", 1)
    row.refresh_from_db()
    assert row.to_version == 2
    assert SessionIssue.objects.count() == rows_before + 1


def test_the_version_names_its_card_and_its_rails(schedule: Schedule) -> None:
    issuing.issue(schedule, 1, {}, by=None, cause="nothing")
    first, second = schedule.versions.order_by("number")
    assert second.pace_card == first.pace_card
    assert second.rails == first.rails
    assert first.rails["weekly_rise"] == 10


def test_two_sessions_change_places(schedule: Schedule) -> None:
    one, other = ahead(schedule)[:2]
    changes = {
        one.session_id: replace(Content.of(one), day=other.day, slot=other.slot),
        other.session_id: replace(Content.of(other), day=one.day, slot=one.slot),
    }
    issuing.issue(schedule, 1, changes, by=None, cause="swapped")
    assert SessionIssue.objects.get(session=one.session, to_version=None).day == other.day


def test_a_version_nobody_has_seen_is_not_overwritten(schedule: Schedule) -> None:
    row = ahead(schedule)[0]
    issuing.issue(
        schedule, 1, {row.session_id: replace(Content.of(row), steps="5 km easy")}, by=None, cause="one"
    )
    with pytest.raises(Stale):
        issuing.issue(
            schedule, 1, {row.session_id: replace(Content.of(row), steps="4 km easy")}, by=None, cause="two"
        )
    assert SessionIssue.objects.get(session=row.session, to_version=None).steps == "5 km easy"


def test_two_sessions_never_stand_in_one_place(schedule: Schedule) -> None:
    one, other = ahead(schedule)[:2]
    with pytest.raises(Stale, match="already stands"):
        issuing.issue(
            schedule,
            1,
            {one.session_id: replace(Content.of(one), day=other.day, slot=other.slot)},
            by=None,
            cause="",
        )
    schedule.refresh_from_db()
    assert schedule.current_version == 1


def test_undo_issues_the_former_content_from_today_on(schedule: Schedule) -> None:
    today = schedule.athlete.today()
    row = ahead(schedule)[0]
    gone = next(r for r in issuing.live(schedule) if r.day < today)
    changes = {r.session_id: replace(Content.of(r), steps="5 km easy") for r in (row, gone)}
    issuing.issue(schedule, 1, changes, by=None, cause="shorter")
    assert issuing.undo(schedule, 2, today, by=UserFactory()) == 3
    assert SessionIssue.objects.get(session=row.session, to_version=None).steps == row.steps
    assert SessionIssue.objects.get(session=gone.session, to_version=None).steps == "5 km easy"


def test_undo_sends_a_moved_session_back_to_the_day_it_was_missed_on(schedule: Schedule) -> None:
    today = schedule.athlete.today()
    missed = next(r for r in issuing.live(schedule) if r.day < today)
    free = next(
        d
        for n in range(14)
        if not SessionIssue.objects.filter(schedule=schedule, day=(d := today + timedelta(n)))
    )
    issuing.issue(
        schedule, 1, {missed.session_id: replace(Content.of(missed), day=free)}, by=None, cause="moved"
    )
    issuing.undo(schedule, 2, today, by=UserFactory())
    assert SessionIssue.objects.get(session=missed.session, to_version=None).day == missed.day


def test_undo_leaves_what_was_changed_again_since(schedule: Schedule) -> None:
    today = schedule.athlete.today()
    row = ahead(schedule)[0]
    for version, text in ((1, "5 km easy"), (2, "4 km easy")):
        issuing.issue(
            schedule, version, {row.session_id: replace(Content.of(row), steps=text)}, by=None, cause=""
        )
    with pytest.raises(Stale):
        issuing.undo(schedule, 2, today, by=UserFactory())
    assert SessionIssue.objects.get(session=row.session, to_version=None).steps == "4 km easy"


def test_nothing_ahead_is_nothing_to_undo(schedule: Schedule) -> None:
    row = ahead(schedule)[0]
    issuing.issue(
        schedule, 1, {row.session_id: replace(Content.of(row), steps="5 km easy")}, by=None, cause=""
    )
    with pytest.raises(Stale, match="Nothing of it lies ahead"):
        issuing.undo(schedule, 2, row.day + timedelta(1), by=UserFactory())


def test_content_survives_json(schedule: Schedule) -> None:
    content = Content.of(ahead(schedule)[0])
    assert Content.from_json(content.as_json()) == content
