"""One season plan for thirty and for three hundred athletes: fitted, then issued, in the background job itself.

Makes a database of its own (PostgreSQL where it answers, else SQLite) and throws it away. Prints seconds, queries an
athlete and the growth from 30 to 300; exits with 1 when an athlete among 300 costs more than 1.5 times one among 30,
or when the rows show no progress while the job runs.

    python -m tests.benchmarks.bench_assigning
"""

from __future__ import annotations

import sys
from collections import deque
from pathlib import Path
from time import perf_counter, process_time
from uuid import uuid4

from tests.benchmarks.bench_rebalancing import settle

FEW, MANY = 30, 300
QUERIES_KEPT = 100 * MANY
AIM = 1.5


def club(number: int) -> list:
    """Athletes with a result, a pace card, free days and answered health questions, each a little different."""
    from django.utils import timezone

    from athletes import screening
    from athletes.carding import compute_card, store_card
    from tests import factories

    made = []
    for n in range(number):
        athlete = factories.AthleteFactory(
            name=f"Runner {n}",
            declared_weekly_mm=(30 + n % 40) * 1_000_000,
            declared_longest_mm=(10 + n % 12) * 1_000_000,
        )
        factories.AvailabilityFactory(athlete=athlete)
        result = factories.ResultFactory(athlete=athlete)
        store_card(athlete, compute_card(athlete, [result]), result, result.day)
        screening.keep(athlete, {}, "", timezone.now())
        made.append(athlete)
    return made


def carried(number: int) -> float:
    """Seconds of this process an athlete, fitting and issuing together."""
    from django.conf import settings
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from plans import assigning_many, jobs
    from plans.models import Job, Race
    from plans.models.template import store
    from plans.training.template_file import read_template
    from tests import factories

    text = (Path(settings.BASE_DIR) / "plans" / "library" / "marathon-18-weeks-5-days.yaml").read_text()
    version = store(read_template(text))
    race = Race.objects.create(name=f"A {number}", day=factories.next_sunday(18), distance_mm=42_195_000)
    coach = factories.CoachFactory()
    connection.queries_log = deque(maxlen=QUERIES_KEPT)
    made = assigning_many.start(coach, version, club(number), race=race)
    plain, seconds, cpu, seen = assigning_many.progress, list[float](), list[float](), list[int]()
    for step in ("fit", "issue"):
        if step == "issue":
            assigning_many.choose(made, made.rows.values_list("pk", flat=True))
        job = Job.objects.get(kind="assign", state="waiting")
        assigning_many.progress = lambda job, done, total: (seen.append(done), plain(job, done, total))
        start, spent = perf_counter(), process_time()
        with CaptureQueriesContext(connection) as asked:
            jobs.run(job.pk)
        seconds.append(perf_counter() - start)
        cpu.append(process_time() - spent)
        assigning_many.progress = plain
        print(
            f"{number:4} athletes, {step:5}: {seconds[-1]:6.1f} s, {1000 * seconds[-1] / number:5.0f} ms each ("
            f"{1000 * cpu[-1] / number:.0f} ms of this process), {len(asked) / number:.1f} queries each"
        )
    states = set(made.rows.values_list("state", flat=True))
    assert states == {"issued"}, states
    assert seen == [*range(number + 1), *range(number + 1)], "progress is written for each"
    return sum(cpu) / number


def main() -> int:
    settle()
    from django.conf import settings
    from django.db import connection
    from django.test.utils import setup_databases, teardown_databases

    settings.DATABASES["default"].setdefault("TEST", {})["NAME"] = f"bench_{uuid4().hex[:8]}"
    connection.settings_dict["TEST"]["NAME"] = settings.DATABASES["default"]["TEST"]["NAME"]
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    old = setup_databases(verbosity=0, interactive=False)
    try:
        growth = 1 / carried(FEW) * carried(MANY)
    finally:
        teardown_databases(old, verbosity=0)
    print(f"{connection.vendor}: an athlete of {MANY} costs {growth:.2f} times one of {FEW} (aim {AIM})")
    return int(growth > AIM)


if __name__ == "__main__":
    sys.exit(main())
