"""Computing, proposing and issuing new cards for 100 and 1,000 athletes with 12 weeks of sessions ahead, in one run.

Prints the queries, which must be the same, and the ratio of the times, which should be near 10. Ten athletes go
first, unmeasured, so that imports and first queries burden neither; what the club left behind is collected before
each measure. Runs in the test database of the settings (PostgreSQL with DATABASE_URL set). Exits with 1 when the queries differ or time grows
faster than 15 to 1.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Callable
from datetime import timedelta
from time import process_time

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coaching.settings")
django.setup()

from django.db import connection  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from django.utils import timezone  # noqa: E402

from athletes.carding import as_run  # noqa: E402
from athletes.models import Athlete, PaceCard, Result, User  # noqa: E402
from athletes.running.paces import make_card  # noqa: E402
from plans import recarding  # noqa: E402
from plans.models import CardProposal, Schedule, ScheduleVersion, Session, SessionIssue  # noqa: E402

WEEKS, A_WEEK = 12, 5
MOST = 15.0


def club(count: int) -> list[Athlete]:
    """Athletes on a card from 10 km in 48:00, with a schedule ahead and a faster result that nobody counted yet."""
    today = timezone.localdate()
    athletes = Athlete.objects.bulk_create(
        Athlete(name=f"Athlete {n}", declared_weekly_mm=40_000_000) for n in range(count)
    )
    slow = Result.objects.bulk_create(
        Result(athlete=a, day=today - timedelta(30), distance_mm=10_000_000, time_ms=48 * 60_000 + n)
        for n, a in enumerate(athletes)
    )
    Result.objects.bulk_create(
        Result(athlete=a, day=today - timedelta(2), distance_mm=10_000_000, time_ms=44 * 60_000 + n)
        for n, a in enumerate(athletes)
    )
    values = make_card(as_run(slow[0])).to_values()
    cards = PaceCard.objects.bulk_create(
        PaceCard(athlete=a, number=1, made_on=today, result=r, formula="", origin="", values=values)
        for a, r in zip(athletes, slow, strict=True)
    )
    schedules = Schedule.objects.bulk_create(Schedule(athlete=a, first_day=today) for a in athletes)
    ScheduleVersion.objects.bulk_create(
        ScheduleVersion(schedule=s, number=1, issued_at=timezone.now(), cause="", pace_card=c)
        for s, c in zip(schedules, cards, strict=True)
    )
    for s in schedules:
        sessions = Session.objects.bulk_create(Session(schedule=s) for _ in range(WEEKS * A_WEEK))
        SessionIssue.objects.bulk_create(
            SessionIssue(
                session=one,
                schedule=s,
                from_version=1,
                day=today + timedelta(n * 7 // A_WEEK),
                role="easy",
                steps="8 km easy",
                planned_mm=8_000_000,
            )
            for n, one in enumerate(sessions)
        )
    return athletes


def measure(work: Callable[[], object]) -> tuple[float, int]:
    """Seconds of this process (the machine may have others to serve) and queries."""
    with CaptureQueriesContext(connection) as seen:
        gc.collect()
        start = process_time()
        work()
        taken = process_time() - start
    return taken, len(seen)


def main() -> int:
    by = User.objects.create_user("bench@example.org", name="Bench")
    rows = {}
    for count in (10, 100, 1000):  # ten: warming up
        athletes = club(count)
        proposing = measure(lambda athletes=athletes: recarding.propose_all(athletes, "Everyone"))  # type: ignore[misc]
        waiting = list(CardProposal.objects.filter(state="open", athlete__in=athletes))
        assert len(waiting) == count
        issuing = measure(lambda waiting=waiting: recarding.accept_all(waiting, by=by))  # type: ignore[misc]
        assert Schedule.objects.filter(athlete__in=athletes, current_version=2).count() == count
        rows[count] = (proposing, issuing)
    print(f"{connection.vendor}, {WEEKS * A_WEEK} sessions ahead each")
    failed = False
    for index, name in enumerate(("compute and propose", "accept and issue")):
        (few_s, few_q), (many_s, many_q) = rows[100][index], rows[1000][index]
        print(
            f"{name:20} 100: {few_s:6.3f} s, {few_q:3} queries   1000: {many_s:6.3f} s, {many_q:3} queries"
            f"   time x {many_s / few_s:.1f} for 10 times the athletes"
        )
        failed |= many_s / few_s > MOST or (connection.vendor == "postgresql" and many_q != few_q)
    return int(failed)


if __name__ == "__main__":
    name = connection.creation.create_test_db(verbosity=0, autoclobber=True)
    try:
        code = main()
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)
    sys.exit(code)
