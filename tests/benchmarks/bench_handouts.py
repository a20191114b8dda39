"""A batch of 300 handouts made, made again unchanged, and with a few changed, on a database of its own.

Aims (issue: on paper): an unchanged batch of 300 in under 2 s; a worker under 300 MB through it all. The ratio against
bare WeasyPrint and two workers against one are in bench_paper. Exits with 1 over an aim.
`python -m tests.benchmarks.bench_handouts 60` makes 60 instead of 300.
"""

import os
import sys
import tempfile
from pathlib import Path
from time import perf_counter

import django

os.environ["DATA_DIR"] = tempfile.mkdtemp(prefix="bench-handouts-")
os.environ["DATABASE_URL"] = ""
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coaching.settings")
django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import transaction  # noqa: E402
from django.utils import timezone  # noqa: E402

from plans import jobs, saying  # noqa: E402
from plans.handouts import start_batch  # noqa: E402
from plans.models import Job  # noqa: E402
from plans.reading import week_of  # noqa: E402
from tests.factories import AthleteFactory, CoachFactory, scheduled  # noqa: E402

AIM_S, AIM_MB, WEEKS = 2.0, 300, 18


def resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def taken(coach, athletes) -> tuple[float, int]:
    """Seconds of one batch, and how many pages it made anew."""
    batch = start_batch(coach, athletes, week_of(timezone.localdate(), 0), None)
    pk = Job.objects.get(kind="handouts", key=str(batch.pk)).pk
    start = perf_counter()
    jobs.run(pk)
    batch.refresh_from_db()
    assert batch.pages == len(athletes), Job.objects.get(pk=pk).error
    return perf_counter() - start, batch.made_anew


def main(count: int) -> int:
    call_command("migrate", verbosity=0)
    coach = CoachFactory()
    with transaction.atomic():
        athletes = [scheduled(AthleteFactory(), weeks=WEEKS).athlete for _ in range(count)]
    first, anew = taken(coach, athletes)
    print(f"{count} handouts: {anew} made anew in {first:.1f} s, {1000 * first / anew:.0f} ms a page")
    again, anew = min(taken(coach, athletes) for _ in range(3))
    print(f"unchanged: {anew} made anew in {again:.2f} s")
    for athlete in athletes[:5]:
        saying.say(athlete, "Well run.", by=coach.user, by_coach=True, on_paper=True)
    few, changed = taken(coach, athletes)
    print(f"five changed: {changed} made anew in {few:.1f} s")
    memory = resident_mb()
    print(f"memory after it all {memory:.0f} MB")
    return int(again > AIM_S * count / 300 or anew or changed != 5 or memory > AIM_MB)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 300))
