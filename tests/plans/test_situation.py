"""What the planner is told, read from the tables."""

from datetime import UTC, date, datetime, time, timedelta
from fractions import Fraction

import pytest
from django.utils import timezone

from athletes.models import Availability, HealthNote, TimeOff
from plans import issuing
from plans.issuing import Content
from plans.models import Log, Schedule, SessionIssue
from plans.situation import free_minutes, situation_of, situations_of
from tests.factories import AthleteFactory, CoachFactory, UserFactory, scheduled

pytestmark = pytest.mark.django_db
KM = 1_000_000


def read(schedule, now=None):
    fresh = Schedule.objects.select_related("athlete", "race_entry__race").get(pk=schedule.pk)
    return situation_of(fresh, now or timezone.now())


def issue_on(schedule, role, weeks_from_first):
    first = schedule.first_day + timedelta(weeks=weeks_from_first)
    return SessionIssue.objects.get(
        schedule=schedule, role=role, to_version=None, day__range=(first, first + timedelta(6))
    )


def logged(issue, outcome="done", **values):
    return Log.objects.create(
        athlete=issue.schedule.athlete,
        session=issue.session,
        day=issue.day,
        time_zone="UTC",
        received_at=timezone.now(),
        outcome=outcome,
        **values,
    )


def test_it_reads_the_plan_with_its_numbers():
    schedule = scheduled(weeks=4)
    long = issue_on(schedule, "long", 1)
    found = read(schedule).inputs
    session = next(s for s in found.plan if s.key == str(long.session_id))
    assert (session.role, session.mm, session.written_in, session.added) == (
        "long",
        14 * KM,
        "distance",
        False,
    )
    quality = next(s for s in found.plan if s.role == "quality")
    assert [level.share for level in quality.levels] == [1, Fraction(4, 5), Fraction(3, 5)]
    assert quality.levels[0].mm == quality.mm > quality.levels[2].mm
    assert quality.title == "5 × 3 min at 10K pace"
    assert len(found.weeks) == 4


@pytest.mark.parametrize(("hour", "days_back"), [(11, 1), (12, 0), (18, 0)])
def test_a_day_is_unknown_until_noon_of_the_next(hour, days_back):
    schedule = scheduled(weeks=4)
    day = schedule.first_day + timedelta(8)
    found = read(schedule, datetime.combine(day, time(hour), UTC)).inputs
    assert found.unknown_from == day - timedelta(days_back)


def test_noon_is_the_athletes_noon():
    schedule = scheduled(AthleteFactory(time_zone="Pacific/Auckland"), weeks=4)
    day = schedule.first_day + timedelta(8)
    # 23:30 in London is half past noon of the next day in Auckland.
    found = read(schedule, datetime.combine(day, time(23, 30), UTC)).inputs
    assert found.today == day + timedelta(1)
    assert found.unknown_from == day + timedelta(1)


def test_a_miss_is_judged_by_what_stood_at_dawn():
    schedule = scheduled(weeks=4, began_weeks_ago=1)
    long = issue_on(schedule, "long", 0)
    after = Content.of(long)
    issuing.issue(
        schedule,
        1,
        {long.session_id: Content.from_json({**after.as_json(), "planned_mm": 5 * KM, "steps": "5 km easy"})},
        by=None,
        cause="Later",
    )
    assert str(long.session_id) not in read(schedule).inputs.standing


def test_what_is_still_to_come_stands_as_issued():
    schedule = scheduled(weeks=4, began_weeks_ago=1)
    long = issue_on(schedule, "long", 2)
    after = Content.of(long)
    issuing.issue(
        schedule,
        1,
        {long.session_id: Content.from_json({**after.as_json(), "planned_mm": 5 * KM, "steps": "5 km easy"})},
        by=None,
        cause="Now",
    )
    assert read(schedule).inputs.standing[str(long.session_id)].mm == 5 * KM


def test_a_missed_session_that_moved_to_today_stands_as_it_is_now():
    schedule = scheduled(weeks=4, began_weeks_ago=1)
    today = schedule.first_day + timedelta(9)  # Wednesday of the second week
    quality = issue_on(schedule, "quality", 1)
    moved = Content.from_json({**Content.of(quality).as_json(), "day": today.isoformat()})
    issuing.issue(schedule, 1, {quality.session_id: moved}, by=None, cause="Moved")
    now = datetime.combine(today, time(15), UTC)
    schedule.versions.filter(number=2).update(issued_at=datetime.combine(today, time(10), UTC))
    assert read(schedule, now).inputs.standing[str(quality.session_id)].day == today


def test_a_pin_is_what_the_coach_wrote():
    schedule = scheduled(weeks=4)
    long = issue_on(schedule, "long", 2)
    content = {**Content.of(long).as_json(), "steps": "long run 20 km", "planned_mm": 20 * KM}
    issuing.issue(
        schedule,
        1,
        {long.session_id: Content.from_json({**content, "pinned_by_id": CoachFactory().pk})},
        by=None,
        cause="By hand",
    )
    session = next(s for s in read(schedule).inputs.plan if s.key == str(long.session_id))
    assert (session.pinned, session.mm, session.added) == (True, 20 * KM, False)


def test_free_minutes_are_the_availability_in_force_lowered_by_time_off():
    monday = date(2026, 3, 2)
    rows = [
        Availability(valid_from=date(2026, 1, 1), mon=60, tue=60),
        Availability(valid_from=date(2026, 3, 10), mon=30, tue=0),
    ]
    off = [TimeOff(first_day=date(2026, 3, 3), last_day=date(2026, 3, 9), minutes=20)]
    minutes = free_minutes(rows, off, monday, date(2026, 3, 17))
    assert minutes[date(2026, 3, 2)] == 60
    assert minutes[date(2026, 3, 3)] == 20
    assert minutes[date(2026, 3, 4)] == 0
    assert minutes[date(2026, 3, 9)] == 20
    assert minutes[date(2026, 3, 10)] == 0
    assert minutes[date(2026, 3, 16)] == 30


def test_without_availability_a_day_has_no_limit():
    assert free_minutes([], [], date(2026, 3, 2), date(2026, 3, 8)) == {}


class TestDigest:
    def test_a_run_done_as_planned_is_no_news(self):
        schedule = scheduled(weeks=4, began_weeks_ago=1)
        now = datetime.combine(schedule.first_day + timedelta(1), time(20), UTC)  # Tuesday evening
        before = read(schedule, now).digest
        logged(issue_on(schedule, "quality", 0))
        assert read(schedule, now).digest == before

    @pytest.mark.parametrize(
        "values", [{"outcome": "missed", "reason": "tired"}, {"outcome": "done", "distance_mm": 30 * KM}]
    )
    def test_a_miss_and_much_more_than_planned_are_news(self, values):
        schedule = scheduled(weeks=4, began_weeks_ago=1)
        now = datetime.combine(schedule.first_day + timedelta(1), time(20), UTC)
        before = read(schedule, now).digest
        logged(issue_on(schedule, "quality", 0), **values)
        assert read(schedule, now).digest != before

    def test_a_day_that_goes_by_is_no_news(self):
        schedule = scheduled(weeks=4, began_weeks_ago=1)
        wednesday = datetime.combine(schedule.first_day + timedelta(2), time(8), UTC)
        logged(issue_on(schedule, "quality", 0))
        assert read(schedule, wednesday).digest == read(schedule, wednesday + timedelta(hours=20)).digest

    def test_silence_past_noon_is_news(self):
        schedule = scheduled(weeks=4, began_weeks_ago=1)
        wednesday = datetime.combine(schedule.first_day + timedelta(2), time(8), UTC)
        assert read(schedule, wednesday).digest != read(schedule, wednesday + timedelta(hours=5)).digest

    @pytest.mark.parametrize("what", ["time off", "free days", "hold"])
    def test_days_and_holds_are_news(self, what):
        schedule = scheduled(weeks=4, began_weeks_ago=1)
        athlete, today = schedule.athlete, schedule.athlete.today()
        before = read(schedule).digest
        if what == "time off":
            TimeOff.objects.create(athlete=athlete, first_day=today, last_day=today + timedelta(3))
        elif what == "free days":
            Availability.objects.create(athlete=athlete, valid_from=today, mon=10)
        else:
            HealthNote.objects.create(athlete=athlete, kind="easy", cause="ill", opened=today)
        assert read(schedule).digest != before


def test_ten_athletes_take_as_many_queries_as_two(django_assert_num_queries):
    made = [scheduled(weeks=4).pk for _ in range(10)]
    schedules = list(Schedule.objects.select_related("athlete", "race_entry__race").order_by("pk"))
    assert len(made) == len(schedules) == 10
    now = timezone.now()
    for some in (schedules[:2], schedules):
        with django_assert_num_queries(8):
            found = situations_of(some, now)
        assert set(found) == {s.pk for s in some}


def test_a_batch_reads_each_as_alone():
    UserFactory()
    one, other = scheduled(weeks=4), scheduled(weeks=6, began_weeks_ago=2)
    logged(issue_on(other, "long", 0), "missed", reason="tired")
    TimeOff.objects.create(athlete=one.athlete, first_day=one.first_day, last_day=one.first_day)
    now = timezone.now()
    schedules = list(Schedule.objects.select_related("athlete", "race_entry__race"))
    together = situations_of(schedules, now)
    for schedule in schedules:
        assert together[schedule.pk].inputs == situation_of(schedule, now).inputs
