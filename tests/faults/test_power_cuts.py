"""kill -9 of the one process on SQLite, of Redis and of PostgreSQL: what was acknowledged is there, once.

Real processes, clusters of the test's own on spare ports, everything bounded. Runs once, in the first round.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.conf import settings

from tests.faults.clusters import Postgres, Redis, spare_port
from tests.faults.site import Phone, Site, kill
from tests.faults.waiting import until

pytestmark = [
    pytest.mark.faults,
    pytest.mark.skipif(bool(settings.REDIS_URL), reason="brings its own clusters; once is enough"),
]
TODAY = datetime.now(UTC).date().isoformat()
QUEUE = """
from athletes.models import Athlete
from plans.recording import queue_rebalance
from django.db import transaction
for athlete in Athlete.objects.all():
    with transaction.atomic():
        queue_rebalance(athlete)
"""


@pytest.fixture
def sites() -> Iterator[list[Site]]:
    made: list[Site] = []
    yield made
    for site in made:
        site.close()


def states(site: Site, kind: str = "rebalance") -> list[str]:
    rows = site.rows(f"SELECT state, attempts FROM plans_job WHERE kind = '{kind}'")
    return [f"{state}:{attempts}" for state, attempts in rows]


def entries(site: Site) -> list[str]:
    """The ids of the logs that are kept, as the phones wrote them."""
    return [str(entry).replace("-", "") for (entry,) in site.rows("SELECT entry_id FROM plans_log")]


def test_the_process_is_killed_again_and_again_on_sqlite(tmp_path: Path, sites: list[Site]) -> None:
    """60 logs one after the other, kill -9 at five random moments: every acknowledged one is there exactly once."""
    site = Site(tmp_path, spare_port())
    sites.append(site)
    site.set_up()
    process = site.serve()
    phone = Phone(site.port)
    acknowledged, dice = set(), random.Random(5)
    kills = set(dice.sample(range(5, 60), 5))
    for number in range(60):
        if number in kills:
            threading.Timer(dice.random() * 0.05, kill, [process]).start()
        entry, status = phone.log_run(TODAY)
        if status == 302:
            acknowledged.add(entry.replace("-", ""))
        if number in kills:
            process.wait(timeout=10)
            process = site.serve()
    assert len(acknowledged) >= 50
    kept = entries(site)
    assert len(kept) == len(set(kept))
    assert acknowledged <= set(kept)
    # A job that was being carried when the process died is taken up when its lease of three minutes has run out.
    site.shell(
        "from plans.models import Job; Job.objects.filter(state='running').update(claimed_until='2026-01-01T00:00Z')"
    )
    until(lambda: all(s.startswith("done") for s in states(site)), 60)


def test_redis_is_killed_with_200_jobs_queued(tmp_path: Path, sites: list[Site]) -> None:
    """Every job is done, and done once: the rows are the queue."""
    pg, redis = Postgres(tmp_path), Redis(tmp_path)
    site = Site(tmp_path, spare_port(), pg.url, redis.url)
    sites.append(site)
    try:
        site.set_up(athletes=200)
        site.shell(QUEUE)
        assert states(site) == ["waiting:0"] * 200
        redis.kill()
        redis.start()
        site.worker()
        site.beat()
        until(lambda: states(site) == ["done:1"] * 200, 90)
    finally:
        site.close()
        redis.kill()
        pg.stop("immediate")


def test_postgresql_stops_for_ten_seconds_under_writes(tmp_path: Path, sites: list[Site]) -> None:
    """Four phones log all the while. What was acknowledged is there once; the others were told it went wrong."""
    pg, redis = Postgres(tmp_path), Redis(tmp_path)
    site = Site(tmp_path, spare_port(), pg.url, redis.url)
    sites.append(site)
    try:
        site.set_up()
        site.serve()
        answers: list[tuple[str, int]] = []
        end = time.monotonic() + 22
        threads = [threading.Thread(target=log_until, args=(site.port, end, answers)) for _ in range(4)]
        for thread in threads:
            thread.start()
        time.sleep(4)
        pg.stop()
        time.sleep(10)
        pg.start()
        for thread in threads:
            thread.join()
        acknowledged = {entry.replace("-", "") for entry, status in answers if status == 302}
        refused = [status for _, status in answers if status != 302]
        kept = entries(site)
        assert acknowledged <= set(kept)
        assert len(kept) == len(set(kept))
        assert len(acknowledged) > 20
        assert set(refused) <= {500, 503}
        assert refused
        assert answers[-1][1] == 302  # it came back by itself
    finally:
        site.close()
        redis.kill()
        pg.stop("immediate")


def log_until(port: int, end: float, answers: list[tuple[str, int]]) -> None:
    phone = Phone(port)
    while time.monotonic() < end:
        answers.append(phone.log_run(TODAY))
        time.sleep(0.05)


def test_two_workers_at_once(tmp_path: Path, sites: list[Site]) -> None:
    """100 jobs, two workers and a beat that tells of every row again: each is done once."""
    pg, redis = Postgres(tmp_path), Redis(tmp_path)
    site = Site(tmp_path, spare_port(), pg.url, redis.url)
    sites.append(site)
    try:
        site.set_up(athletes=100)
        site.worker("w1")
        site.worker("w2")
        site.beat()
        site.shell(QUEUE)
        until(lambda: states(site) == ["done:1"] * 100, 60)
    finally:
        site.close()
        redis.kill()
        pg.stop("immediate")
