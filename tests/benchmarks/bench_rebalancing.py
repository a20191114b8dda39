"""The re-balancing of a thousand athletes with sixteen weeks of logs: core and database apart, queries a batch.

Makes a database of its own (PostgreSQL where it answers, else SQLite) and throws it away. The aim: under a minute
for a thousand on two cores, database included, and the same number of queries for each batch. Exits with 1 over it.

    python -m tests.benchmarks.bench_rebalancing [athletes]
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter
from uuid import uuid4

ATHLETES = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
BATCH = 100
AIM_S = 60.0
WEEKS_RUN = 16
SHAPE = ("marathon-18-weeks-5-days", 18)


def settle() -> None:
    """Settings for a database of this run's own."""
    os.environ["DATA_DIR"] = tempfile.mkdtemp(prefix="bench_")
    os.environ.setdefault("DATABASE_URL", "postgres://root@127.0.0.1:5432/postgres")
    os.environ.setdefault("SECRET_KEY", "only for the benchmark")
    os.environ["DJANGO_SETTINGS_MODULE"] = "coaching.settings"
    import psycopg

    try:
        psycopg.connect(os.environ["DATABASE_URL"], connect_timeout=3).close()
    except psycopg.OperationalError:
        os.environ["DATABASE_URL"] = ""
    import django

    django.setup()


def fill(number: int) -> None:
    """One athlete fitted for real, copied row by row with a pace card and sixteen weeks of logs of their own."""
    from django.conf import settings
    from django.utils import timezone

    from athletes.models import Athlete, Availability, PaceCard
    from plans.models import (
        Log,
        RaceEntry,
        Schedule,
        ScheduleVersion,
        ScheduleWeek,
        Session,
        SessionIssue,
    )
    from plans.models.template import store
    from plans.training.template_file import read_template
    from tests import factories

    text = (Path(settings.BASE_DIR) / "plans" / "library" / f"{SHAPE[0]}.yaml").read_text()
    version = store(read_template(text))
    factories.template_version = lambda *_: version  # type: ignore[assignment]
    first = factories.scheduled(weeks=SHAPE[1], began_weeks_ago=WEEKS_RUN)
    dice = random.Random(20)
    issues = list(SessionIssue.objects.filter(schedule=first))
    weeks, stored = list(first.weeks.all()), first.versions.get().pace_card
    today = timezone.localdate()
    athletes = Athlete.objects.bulk_create(
        Athlete(name=f"Runner {n}", declared_weekly_mm=40_000_000, declared_longest_mm=14_000_000)
        for n in range(number)
    )
    Availability.objects.bulk_create(
        Availability(
            athlete=a, valid_from=first.first_day, mon=90, tue=90, wed=90, thu=90, fri=90, sat=120, sun=240
        )
        for a in athletes
    )
    entries = RaceEntry.objects.bulk_create(
        RaceEntry(athlete=a, race=first.race_entry.race) for a in athletes
    )
    schedules = Schedule.objects.bulk_create(
        Schedule(athlete=a, template_version=version, race_entry=e, first_day=first.first_day)
        for a, e in zip(athletes, entries, strict=True)
    )
    cards = PaceCard.objects.bulk_create(
        PaceCard(
            athlete=a,
            number=1,
            made_on=today,
            formula=stored.formula,
            origin=stored.origin,
            values=of_own(stored.values, n),
        )
        for n, a in enumerate(athletes)
    )
    then = datetime.combine(first.first_day - timedelta(1), datetime.min.time(), UTC)
    ScheduleVersion.objects.bulk_create(
        ScheduleVersion(schedule=s, number=1, issued_at=then, cause="Fitted", pace_card=c)
        for s, c in zip(schedules, cards, strict=True)
    )
    ScheduleWeek.objects.bulk_create(
        ScheduleWeek(schedule=s, first_day=w.first_day, kind=w.kind, purpose=w.purpose)
        for s in schedules
        for w in weeks
    )
    for schedule in schedules:
        sessions = Session.objects.bulk_create(Session(schedule=schedule) for _ in issues)
        SessionIssue.objects.bulk_create(
            SessionIssue(
                session=session, schedule=schedule, from_version=1, day=i.day, slot=i.slot, role=i.role,
                supporting=i.supporting, steps=i.steps, planned_mm=i.planned_mm, planned_s=i.planned_s,
            )
            for session, i in zip(sessions, issues, strict=True)
        )  # fmt: skip
        off = dice.choice((0, 0, 0, 1, 3, 6, 9, 14))
        Log.objects.bulk_create(
            log_of(schedule.athlete_id, session, i, today - timedelta(off), dice, Log)
            for session, i in zip(sessions, issues, strict=True)
            if i.day < today
        )


def of_own(values: dict, n: int) -> dict:
    """A card that differs a little from everybody else's."""
    ranges = {
        name: {end: [mm, ms + 7 * n] for end, (mm, ms) in ends.items()}
        for name, ends in values["ranges"].items()
    }
    return {**values, "ranges": ranges}


def log_of(athlete: int, session, issue, ill_from, dice, model):
    missed = issue.day >= ill_from or dice.random() < 0.06
    reason = "ill" if issue.day >= ill_from else "time"
    return model(
        entry_id=uuid4(), athlete_id=athlete, session=session, day=issue.day, time_zone="UTC",
        received_at=datetime.combine(issue.day, datetime.min.time(), UTC) + timedelta(hours=20),
        outcome="missed" if missed else "done", reason=reason if missed else "",
        distance_mm=None if missed else round(issue.planned_mm * dice.gauss(1.0, 0.04)),
    )  # fmt: skip


def measured(fill_caches: bool) -> tuple[float, float, list[float], set[int]]:
    """Seconds in all, seconds in the core, milliseconds an athlete in the core, query counts of a batch."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from plans import rebalancing
    from plans.models import Proposal

    core_ms: list[float] = []
    plain = rebalancing.rebalance

    def timed(inputs):
        start = perf_counter()
        found = plain(inputs)
        core_ms.append(1000 * (perf_counter() - start))
        return found

    rebalancing.rebalance = timed
    if not fill_caches:
        Proposal.objects.all().delete()
    pks = list(rebalancing.running().order_by("pk").values_list("pk", flat=True))[1:]
    counts: set[int] = set()
    start = perf_counter()
    for at in range(0, len(pks), BATCH):
        with CaptureQueriesContext(connection) as asked:
            schedules = list(rebalancing.running().filter(pk__in=pks[at : at + BATCH]).order_by("pk"))
            rebalancing.propose_many(schedules)
        counts.add(len(asked))
    total = perf_counter() - start
    rebalancing.rebalance = plain
    return total, sum(core_ms) / 1000, core_ms, counts


def main() -> int:
    settle()
    from django.conf import settings
    from django.db import connection
    from django.test.utils import setup_databases, teardown_databases

    settings.DATABASES["default"].setdefault("TEST", {})["NAME"] = f"bench_{uuid4().hex[:8]}"
    connection.settings_dict["TEST"]["NAME"] = settings.DATABASES["default"]["TEST"]["NAME"]
    old = setup_databases(verbosity=0, interactive=False)
    try:
        start = perf_counter()
        fill(ATHLETES)
        print(
            f"{connection.vendor}: {ATHLETES} athletes with {WEEKS_RUN} weeks of logs made in {perf_counter() - start:.0f} s"
        )
        from plans.models import Proposal

        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        worst = 0.0
        for name, first in (("first run", True), ("again, lines known", False)):
            total, core, each, counts = measured(first)
            worst = max(worst, total)
            print(
                f"{name:20} {total:6.1f} s for {ATHLETES}   core {core:5.1f} s ({100 * core / total:.0f} %)   "
                f"reading, writing, measuring {total - core:5.1f} s   {Proposal.objects.count()} proposals"
            )
            print(
                f"{'':20} core an athlete: median {median(each):.1f} ms, 95th percentile "
                f"{quantiles(each, n=20)[-1]:.1f} ms   queries a batch of {BATCH}: {sorted(counts)}"
            )
    finally:
        teardown_databases(old, verbosity=0)
    print(f"aim: under {AIM_S:g} s for 1,000, one number of queries")
    return int(worst > AIM_S * ATHLETES / 1000 or len(counts) > 1)


if __name__ == "__main__":
    sys.exit(main())
