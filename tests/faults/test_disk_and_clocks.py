"""A full disk under the handouts, and two workers whose clocks differ by an hour."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest

from tests.faults.rounds import ROUND_ONE
from tests.faults.site import Phone, Site
from tests.faults.table import Seen
from tests.faults.test_power_cuts import TODAY, entries
from tests.faults.waiting import until

pytestmark = [pytest.mark.faults, ROUND_ONE]
BATCH = """
from athletes.models import Athlete, Coach
from django.utils import timezone
from plans import handouts
from plans.models import Job
from plans.reading import week_of
from tests.factories import scheduled
athletes = [scheduled().athlete for _ in range(4)]
made = handouts.start_batch(Coach.objects.get(), athletes, week_of(timezone.localdate(), 0), None)
print(Job.objects.get(kind="handouts", key=str(made.pk)).pk)
"""
FAKETIME = next(Path("/usr/lib").glob("*/faketime/libfaketimeMT.so.1"), None)


@pytest.fixture
def little_space(tmp_path: Path) -> Iterator[Callable[[int], None]]:
    """Gives the place of what is made so many kB: a small tmpfs, which only root may mount."""
    place = tmp_path / "data" / "made"

    def give(kilobytes: int) -> None:
        place.mkdir(parents=True, exist_ok=True)
        how = ["-o", f"size={kilobytes}k"] if not place.is_mount() else ["-o", f"remount,size={kilobytes}k"]
        subprocess.run(["mount", "-t", "tmpfs", *how, "tmpfs", str(place)], check=True)

    yield give
    if place.is_mount():
        subprocess.run(["umount", "-l", str(place)], check=False)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk")
def test_the_disk_for_pdfs_is_full(
    site_on_postgresql: Callable[..., Site], little_space: Callable[[int], None], seen: Seen
) -> None:
    """The batch waits with its error, logs are taken all the while, and with room again the batch is made."""
    site = site_on_postgresql()
    pk = int(site.shell(BATCH).splitlines()[-1])
    little_space(40)
    site.worker()
    site.serve()
    site.carry_out(pk)
    job = f"SELECT state, attempts, error FROM plans_job WHERE id = {pk}"
    until(lambda: site.rows(job)[0][:2] == ("waiting", 1))
    assert site.rows(job)[0][2].startswith("OSError: [Errno 28] No space left on device")
    assert not list((site.folder / "data" / "made").rglob(".*"))  # no half page is left to fill the disk
    entry, status = Phone(site.port).log_run(TODAY)
    assert (status, entries(site)) == (302, [entry.replace("-", "")])
    little_space(20_000)
    site.execute(f"UPDATE plans_job SET not_before = now() WHERE id = {pk}")
    site.carry_out(pk)
    until(lambda: site.rows(job)[0][:2] == ("done", 2))
    assert site.rows("SELECT pages, file <> '' FROM plans_handoutbatch") == [(4, True)]
    seen(
        "the disk for PDFs is full",
        "40 kB for the handouts of four",
        "the job waits and says why; a log is taken meanwhile; with room again the batch is made, no half page left",
    )


def test_two_clocks_an_hour_apart(site_on_postgresql: Callable[..., Site], seen: Seen) -> None:
    """A worker whose clock is an hour ahead takes no job from one that is at work: the lease is by the database's clock."""
    assert FAKETIME, "tools/system-packages test installs libfaketime"
    site = site_on_postgresql()
    pk = int(site.shell(BATCH).splitlines()[-1])
    ahead = {"LD_PRELOAD": str(FAKETIME), "FAKETIME": "+1h", "FAKETIME_DONT_FAKE_MONOTONIC": "1"}
    site.worker("right", queue="right")
    site.worker("ahead", queue="ahead", **ahead)
    state = f"SELECT state, attempts FROM plans_job WHERE id = {pk}"
    with psycopg.connect(site.env["DATABASE_URL"]) as holding:
        holding.execute("LOCK TABLE plans_handout IN SHARE MODE")
        site.carry_out(pk, queue="right")
        until(lambda: site.rows(state) == [("running", 1)])
        site.carry_out(pk, queue="ahead")
        site.sweep(queue="ahead")
        # The sweep of the one ahead also writes its hourly row: by that we see that it has run, and how late it thinks it is.
        until(lambda: site.rows("SELECT 1 FROM plans_job WHERE kind = 'look' AND state = 'done'"))
        [(hours,)] = site.rows(
            "SELECT extract(epoch FROM key::timestamptz - now()) / 3600 FROM plans_job WHERE kind = 'look'"
        )
        assert hours > 0
        assert site.rows(state) == [("running", 1)]
    until(lambda: site.rows(state) == [("done", 1)])
    later = int(site.shell(QUEUE_ONE))
    site.carry_out(later, queue="ahead")
    until(lambda: site.rows(f"SELECT state FROM plans_job WHERE id = {later}") == [("done",)])
    [(apart,)] = site.rows(
        f"SELECT abs(extract(epoch FROM finished_at - now())) FROM plans_job WHERE id = {later}"
    )
    assert apart < 60
    seen(
        "two clocks",
        "a second worker an hour ahead",
        "takes nothing from the one at work; its own times are the database's",
    )


QUEUE_ONE = """
from athletes.models import Athlete
from plans.recording import queue_rebalance
print(queue_rebalance(Athlete.objects.first()).pk)
"""
