"""The site as real processes: migrated, seeded, served, with workers; everything by the documented commands."""

from __future__ import annotations

import os
import re
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any
from uuid import uuid4

import psycopg
import redis
import requests
from celery import Celery

from tests.faults.clusters import wait_for_port

ROOT = Path(__file__).parents[2]
PASSWORD = "a password for faults"
SEED = """
import os
from athletes.models import *
password = os.environ["SEED_PASSWORD"]
coach = User.objects.create_user("coach@example.org", password, "Coach")
Coach.objects.create(user=coach, is_head=True)
for n in range(int(os.environ["SEED_ATHLETES"])):
    user = User.objects.create_user(f"a{n}@example.org", None if n else password, f"A {n}")
    Athlete.objects.create(user=user, name=f"A {n}")
"""


class Site:
    """One installation. `env` is what a deployment would set."""

    def __init__(self, folder: Path, port: int, database: str = "", broker: str = "", **env: str) -> None:
        self.port, self.folder = port, folder
        self.env = {
            **{
                k: v
                for k, v in os.environ.items()
                if k not in ("DATABASE_URL", "REDIS_URL", "DJANGO_SETTINGS_MODULE")
            },
            "DATA_DIR": str(folder / "data"),
            "SECRET_KEY": "only-for-faults",
            "PUBLIC_URL": f"http://localhost:{port}",
            "DATABASE_URL": database,
            "REDIS_URL": broker,
            **env,
        }
        self.processes: list[subprocess.Popen[bytes]] = []

    def manage(self, *args: str, text: str = "", **env: str) -> str:
        done = subprocess.run(
            [sys.executable, "manage.py", *args],
            cwd=ROOT,
            env={**self.env, **env},
            input=text,
            capture_output=True,
            text=True,
            timeout=400,
        )
        assert done.returncode == 0, done.stderr[-2000:]
        return done.stdout

    def migrate(self) -> None:
        self.manage("migrate", "-v0")

    def seed(self, athletes: int = 1) -> None:
        self.shell(SEED, SEED_ATHLETES=str(athletes), SEED_PASSWORD=PASSWORD)

    def shell(self, code: str, **env: str) -> str:
        return self.manage("shell", "-v0", "-c", code, **env).strip()

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        """Read the database directly: a poll must not cost a process of its own."""
        if url := self.env["DATABASE_URL"]:
            with psycopg.connect(url) as one:
                return list(one.execute(sql))
        with sqlite3.connect(self.folder / "data" / "practice.sqlite3", timeout=20) as two:
            return list(two.execute(sql))

    def execute(self, sql: str) -> None:
        """Change the database directly, as the passing of time would."""
        if url := self.env["DATABASE_URL"]:
            with psycopg.connect(url) as one:
                one.execute(sql)
        else:
            with sqlite3.connect(self.folder / "data" / "practice.sqlite3", timeout=20) as two:
                two.execute(sql)

    def _start(self, *command: str, **env: str) -> subprocess.Popen[bytes]:
        log = (self.folder / "processes.log").open("ab")
        process = subprocess.Popen(
            [sys.executable, *command],
            cwd=ROOT,
            env={**self.env, **env},
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
        self.processes.append(process)
        return process

    def serve(self) -> subprocess.Popen[bytes]:
        process = self._start("manage.py", "serve", "--port", str(self.port))
        wait_for_port(self.port)
        return process

    def worker(self, name: str = "w1", queue: str = "celery", **env: str) -> subprocess.Popen[bytes]:
        """`env`: what differs for this one, like its clock."""
        return self._start(
            *("-m", "celery", "-A", "coaching", "worker", "--concurrency", "1", "-n", f"{name}@faults"),
            *("-Q", queue, "--loglevel", "WARNING", "--without-mingle", "--without-gossip"),
            **env,
        )

    def beat(self) -> subprocess.Popen[bytes]:
        schedule = ("--schedule", str(self.folder / "beat"), "--pidfile", "")
        return self._start("-m", "celery", "-A", "coaching", "beat", *schedule)

    def carry_out(self, pk: int, queue: str = "celery") -> None:
        """Tell the broker of one job, as the site does."""
        with Celery(broker=self.env["REDIS_URL"]) as app:
            app.send_task("plans.carry_out", (pk,), queue=queue)

    def sweep(self, queue: str = "celery") -> None:
        with Celery(broker=self.env["REDIS_URL"]) as app:
            app.send_task("plans.sweep", queue=queue)

    def queued(self, queue: str) -> int:
        """How many messages wait at the broker."""
        with redis.Redis.from_url(self.env["REDIS_URL"]) as broker:
            return int(broker.llen(queue))

    def log(self) -> str:
        """The end of what the processes said."""
        return (self.folder / "processes.log").read_text()[-3000:]

    def close(self) -> None:
        for process in self.processes:
            if process.poll() is None:
                kill(process)

    def signed_in(self) -> Phone:
        return Phone(self.port)


def kill(process: subprocess.Popen[bytes]) -> None:
    """kill -9, the children too."""
    os.killpg(process.pid, 9)
    process.wait()


class Phone:
    """An athlete's phone by plain HTTP: logs runs that are not in the plan, each with its own entry id."""

    def __init__(self, port: int) -> None:
        self.base, self.client = f"http://localhost:{port}", requests.Session()
        page = self.client.get(f"{self.base}/sign-in/", timeout=30)
        data = {
            "username": "a0@example.org",
            "password": PASSWORD,
            "csrfmiddlewaretoken": self._token(page.text),
        }
        answer = self.client.post(f"{self.base}/sign-in/", data=data, timeout=30, allow_redirects=False)
        assert answer.status_code == 302, answer.text[:500]

    @staticmethod
    def _token(page: str) -> str:
        found = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
        assert found
        return found[1]

    @staticmethod
    def look(port: int, path: str) -> tuple[int, str]:
        """A page, by somebody who is not signed in."""
        answer = requests.get(f"http://localhost:{port}{path}", timeout=30)
        return answer.status_code, answer.text

    def log_run(self, day: str) -> tuple[str, int]:
        """The entry's id, and the status of the answer (0: none came)."""
        entry = str(uuid4())
        try:
            data = {
                "entry_id": entry,
                "day": day,
                "distance": "5 km",
                "csrfmiddlewaretoken": self.client.cookies["csrftoken"],
            }
            answer = self.client.post(f"{self.base}/me/runs/", data=data, timeout=30, allow_redirects=False)
            return entry, answer.status_code
        except requests.RequestException:
            return entry, 0
