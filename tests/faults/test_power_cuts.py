"""kill -9 of the one process on SQLite, of Redis and of PostgreSQL: what was acknowledged is there, once.

Real processes, clusters of the test's own on spare ports, everything bounded.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from tests.faults.clusters import Postgres, Redis
from tests.faults.rounds import ROUND_ONE, ROUND_TWO
from tests.faults.site import Phone, Site, kill
from tests.faults.table import Seen
from tests.faults.waiting import until

pytestmark = pytest.mark.faults
TODAY = datetime.now(UTC).date().isoformat()
QUEUE = """
from athletes.models import Athlete
from plans.recording import queue_rebalance
from django.db import transaction
for athlete in Athlete.objects.all():
    with transaction.atomic():
        queue_rebalance(athlete)
"""
FULL = 2  # what `PRAGMA synchronous` answers for FULL: https://www.sqlite.org/pragma.html#pragma_synchronous


def states(site: Site, kind: str = "rebalance") -> list[str]:
    rows = site.rows(f"SELECT state, attempts FROM plans_job WHERE kind = '{kind}'")
    return [f"{state}:{attempts}" for state, attempts in rows]


def entries(site: Site) -> list[str]:
    """The ids of the logs that are kept, as the phones wrote them."""
    return [str(entry).replace("-", "") for (entry,) in site.rows("SELECT entry_id FROM plans_log")]


@pytest.mark.parametrize(
    ("writes", "kills"),
    [pytest.param(60, 5, marks=ROUND_ONE), pytest.param(200, 20, marks=pytest.mark.long)],
)
def test_the_process_is_killed_again_and_again_on_sqlite(
    site_on_sqlite: Site, seen: Seen, writes: int, kills: int
) -> None:
    """Logs one after the other, kill -9 at random moments: every acknowledged one is there exactly once."""
    site, dice = site_on_sqlite, random.Random(5)
    pragma = (
        "from django.db import connection as c; print(c.cursor().execute('PRAGMA synchronous').fetchone()[0])"
    )
    assert int(site.shell(pragma)) == FULL
    process = site.serve()
    phone = Phone(site.port)
    moments, acknowledged = set(dice.sample(range(5, writes), kills)), set()
    for number in range(writes):
        if number in moments:
            threading.Timer(dice.random() * 0.05, kill, [process]).start()
        entry, status = phone.log_run(TODAY)
        if status == 302:
            acknowledged.add(entry.replace("-", ""))
        if number in moments:
            process.wait(timeout=10)
            process = site.serve()
    kept = entries(site)
    assert len(acknowledged) >= writes - 2 * kills
    assert len(kept) == len(set(kept))
    assert acknowledged <= set(kept)
    # A job that was being carried when the process died is taken up when its lease of three minutes has run out.
    site.execute("UPDATE plans_job SET claimed_until = '2026-01-01 00:00:00' WHERE state = 'running'")
    until(lambda: all(s.startswith("done") for s in states(site)), 60)
    seen(
        "the one process dies (SQLite)",
        f"{writes} logs one after the other, kill -9 at {kills} random moments",
        f"{len(acknowledged)} acknowledged, each there exactly once; every job done",
    )


@ROUND_TWO
def test_redis_is_killed_with_200_jobs_queued(
    site_on_postgresql: Callable[..., Site], clusters: tuple[Postgres, Redis], seen: Seen
) -> None:
    """Every job is done, and done once: the rows are the queue."""
    site, redis = site_on_postgresql(athletes=200), clusters[1]
    site.shell(QUEUE)
    assert states(site) == ["waiting:0"] * 200
    redis.kill()
    redis.start()
    site.worker()
    site.beat()
    until(lambda: states(site) == ["done:1"] * 200, 90)
    seen("Redis dies", "kill -9 with 200 jobs queued, started again", "200 jobs done, each once")


@ROUND_ONE
def test_postgresql_stops_for_ten_seconds_under_writes(
    site_on_postgresql: Callable[..., Site], clusters: tuple[Postgres, Redis], seen: Seen
) -> None:
    """Four phones log all the while. What was acknowledged is there once; the others were told it went wrong."""
    site, postgres = site_on_postgresql(), clusters[0]
    site.serve()
    answers: list[tuple[str, int]] = []
    end = time.monotonic() + 20
    threads = [threading.Thread(target=log_until, args=(site.port, end, answers)) for _ in range(4)]
    for thread in threads:
        thread.start()
    time.sleep(3)
    postgres.stop()
    meanwhile = Phone.look(site.port, "/health/"), Phone.look(site.port, "/sign-in/")
    time.sleep(10)
    postgres.start()
    for thread in threads:
        thread.join()
    acknowledged = {entry.replace("-", "") for entry, status in answers if status == 302}
    refused = [status for _, status in answers if status != 302]
    kept = entries(site)
    assert acknowledged <= set(kept)
    assert len(kept) == len(set(kept))
    assert len(acknowledged) > 20
    assert set(refused) == {503}
    assert meanwhile[0][0] == 503
    assert meanwhile[1][0] == 503
    assert "What was saved before is safe" in meanwhile[1][1]
    assert answers[-1][1] == 302  # it came back by itself
    seen(
        "PostgreSQL stops",
        "for 10 s, while four phones log",
        f"{len(acknowledged)} acknowledged, each there exactly once; {len(refused)} told by a page that it did not work;"
        " writing again by itself",
    )


def log_until(port: int, end: float, answers: list[tuple[str, int]]) -> None:
    phone = Phone(port)
    while time.monotonic() < end:
        answers.append(phone.log_run(TODAY))
        time.sleep(0.05)


@ROUND_TWO
def test_two_workers_at_once(site_on_postgresql: Callable[..., Site], seen: Seen) -> None:
    """100 jobs, two workers and a beat that tells of every row again: each is done once."""
    site = site_on_postgresql(athletes=100)
    site.worker("w1")
    site.worker("w2")
    site.beat()
    site.shell(QUEUE)
    until(lambda: states(site) == ["done:1"] * 100, 60)
    seen("two workers", "at once, with a beat that tells of every row again", "100 jobs done, each once")
