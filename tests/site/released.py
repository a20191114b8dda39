"""A database of each released version, as SQL, and how one is made and loaded.

`tests/site/released/<version>.sql.gz` is a whole SQLite database with a practice in it (`tests.everybody`): tables,
rows and the list of its migrations, as they were at that release. `tools/release-data <version>` writes it.
"""

from __future__ import annotations

import gzip
import os
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDER = Path(__file__).parent / "released"
FILL = "from tests.everybody import everybody; everybody()"


def versions() -> list[str]:
    return sorted(path.name.removesuffix(".sql.gz") for path in FOLDER.glob("*.sql.gz"))


def manage(folder: Path, *args: str) -> str:
    """A command of this version, on the SQLite database in that folder."""
    kept = {
        k: v
        for k, v in os.environ.items()
        if k not in ("DATABASE_URL", "REDIS_URL", "DJANGO_SETTINGS_MODULE")
    }
    done = subprocess.run(
        [sys.executable, "manage.py", *args],
        cwd=ROOT,
        env={**kept, "DATA_DIR": str(folder), "SECRET_KEY": "only-for-releases"},
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return done.stdout


def write(version: str, to: Path = FOLDER) -> Path:
    to.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        manage(folder, "migrate", "-v0")
        manage(folder, "shell", "-v0", "-c", FILL)
        with sqlite3.connect(folder / "practice.sqlite3") as database:
            dump = "\n".join(
                line for line in database.iterdump() if '"coaching_devicesession" VALUES' not in line
            )
    path = to / f"{version}.sql.gz"
    path.write_bytes(gzip.compress(dump.encode(), mtime=0))
    return path


def load(path: Path, folder: Path) -> Path:
    """The database of that release, in a folder of its own."""
    database = folder / "practice.sqlite3"
    with sqlite3.connect(database) as fresh:
        fresh.executescript(gzip.decompress(path.read_bytes()).decode())
    return database


if __name__ == "__main__":
    print(f"Written: {write(sys.argv[2])}")
