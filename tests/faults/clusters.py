"""A PostgreSQL and a Redis of the test's own, on spare ports of 127.0.0.1, with data in a folder of its own."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
import time
from pathlib import Path

PG_BIN = next(iter(sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)), Path("/usr/bin"))


def spare_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _answers(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), timeout=1).close()
    except OSError:
        return False
    return True


def wait_for_port(port: int, seconds: float = 30) -> None:
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if _answers(port):
            return
        time.sleep(0.1)
    raise AssertionError(f"nothing answers on port {port} after {seconds} s")


class Postgres:
    """initdb refuses to run as root; root runs it as the system's user postgres.

    The data has a folder of its own: pytest closes its own folders to other users whenever it starts again.
    """

    def __init__(self) -> None:
        self.port, self.data = spare_port(), Path(tempfile.mkdtemp(prefix="faults-"))
        self.as_user = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        if self.as_user:
            shutil.chown(self.data, "postgres")
        self._run("initdb", "-D", str(self.data), "-A", "trust", "-U", "practice", "--no-sync")
        self.start()

    def url(self, database: str) -> str:
        return f"postgres://practice@127.0.0.1:{self.port}/{database}"

    def create(self, database: str, like: str = "template1") -> str:
        """A new database, empty or a copy of another. Returns its address."""
        where = ("-h", "127.0.0.1", "-p", str(self.port), "-U", "practice")
        self._run("createdb", *where, "-T", like, database)
        return self.url(database)

    def _run(self, program: str, *args: str) -> None:
        command = [*self.as_user, str(PG_BIN / program), *args]
        done = subprocess.run(command, capture_output=True, text=True, timeout=60, cwd=self.data)
        assert done.returncode == 0, done.stdout + done.stderr

    def start(self) -> None:
        options = f"-p {self.port} -c listen_addresses=127.0.0.1 -k {self.data}"
        log = str(self.data / "log")
        self._run("pg_ctl", "-D", str(self.data), "-w", "-l", log, "-o", options, "start")
        wait_for_port(self.port)

    def stop(self, mode: str = "fast") -> None:
        self._run("pg_ctl", "-D", str(self.data), "-m", mode, "-w", "stop")

    def end(self) -> None:
        self.stop("immediate")
        shutil.rmtree(self.data)


class Redis:
    def __init__(self, folder: Path) -> None:
        self.port, self.folder = spare_port(), folder / "redis"
        self.folder.mkdir()
        self.start()

    def url(self, number: int = 0) -> str:
        return f"redis://127.0.0.1:{self.port}/{number}"

    def start(self) -> None:
        self.process = subprocess.Popen(
            [
                *("redis-server", "--port", str(self.port), "--bind", "127.0.0.1", "--dir", str(self.folder)),
                *("--appendonly", "yes", "--save", "", "--logfile", "redis.log"),
            ]
        )
        wait_for_port(self.port)

    def kill(self) -> None:
        self.process.kill()
        self.process.wait()
