"""kill -9 the worker in the middle of each kind of job: nothing is lost, nothing is done twice."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import psycopg
import pytest
from django.conf import settings

from plans.jobs import CARRIERS
from tests.faults.kinds import KINDS, Kind
from tests.faults.mailbox import Mailbox
from tests.faults.rounds import ROUND_TWO
from tests.faults.site import Site, kill
from tests.faults.table import Seen
from tests.faults.waiting import until

pytestmark = [pytest.mark.faults, ROUND_TWO]
WAITS = "SELECT pid FROM pg_stat_activity WHERE wait_event_type = 'Lock' AND datname = current_database()"


def test_every_kind_of_job_is_among_them() -> None:
    from plans import tasks  # noqa: F401  its import registers them

    assert settings.INSTALLED_APPS
    assert set(KINDS) == set(CARRIERS)


def test_the_worker_is_killed_in_each_kind_of_job(
    site_on_postgresql: Callable[..., Site], seen: Seen
) -> None:
    """Each worker but the first takes up what the one before it left, then is caught in a job itself."""
    mailbox = Mailbox()
    site = site_on_postgresql(**mailbox.env)
    caused: dict[str, int] = json.loads(site.shell("from tests.faults.kinds import cause_all; cause_all()"))
    kinds = list(KINDS)
    assert list(caused) == kinds
    workers = {kind: site.worker(kind, queue=kind) for kind in kinds[:1]}
    for kind, after in zip(kinds, [*kinds[1:], "last"], strict=True):
        workers[after] = site.worker(after, queue=after)  # it starts while the other one is caught
        with caught(site, KINDS[kind]) as stopped:
            site.execute(f"UPDATE plans_job SET not_before = now() WHERE id = {caused[kind]}")
            site.carry_out(caused[kind], queue=kind)
            until(stopped)
            kill(workers[kind])
        assert job(site, caused[kind]) == ("running", 1)
        site.carry_out(caused[kind], queue=after)  # too early: the lease holds, another may still be alive
        until(lambda after=after: site.queued(after) == 0)
        time.sleep(0.2)
        assert job(site, caused[kind]) == ("running", 1)
        site.execute(f"UPDATE plans_job SET claimed_until = now() WHERE id = {caused[kind]}")
        site.carry_out(caused[kind], queue=after)
        until(lambda kind=kind: job(site, caused[kind])[0] != "running")
        assert job(site, caused[kind]) == ("done", 2), site.log()
        assert site.rows(KINDS[kind].effect) == [KINDS[kind].leads_to], kind
        seen(
            f"worker killed in `{kind}`",
            "kill -9 while it is at work",
            f"taken up when its lease ended: {KINDS[kind].said}",
        )
    assert sum("caught@example.org" in letter for letter in mailbox.letters) == 2
    assert not list((site.folder / "data").rglob("*.part"))


def job(site: Site, pk: int) -> tuple[str, int]:
    [(state, attempts)] = site.rows(f"SELECT state, attempts FROM plans_job WHERE id = {pk}")
    return state, attempts


@contextmanager
def caught(site: Site, kind: Kind) -> Iterator[Callable[[], bool]]:
    """Hold a lock that the worker runs into. In the end its connection is cut too, as a dead machine's would be."""
    mode = "ACCESS EXCLUSIVE" if kind.reads else "SHARE"
    with psycopg.connect(site.env["DATABASE_URL"]) as holding:
        holding.execute(f"LOCK TABLE {kind.stops_at} IN {mode} MODE")
        yield lambda: bool(site.rows(WAITS))
        site.rows(f"SELECT pg_terminate_backend(pid) FROM ({WAITS}) AS waiting")
