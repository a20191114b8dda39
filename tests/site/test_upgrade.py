"""From each released version to this one, with data: every row is still there, and the site runs on it."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from django.conf import settings

from tests.site.released import FOLDER, load, manage, versions, write

pytestmark = pytest.mark.skipif(
    bool(settings.REDIS_URL), reason="SQLite files in processes of their own; once is enough"
)
# What must be as many as before, whatever a later version makes of the columns.
LASTING = (
    "athletes_athlete",
    "athletes_healthnote",
    "athletes_result",
    "plans_log",
    "plans_session",
    "plans_schedule",
)
UPGRADE = """
from django.core.management import call_command
from django.test import Client
from athletes.models import User
call_command("migrate", verbosity=0)
call_command("migrate", check_unapplied=True, verbosity=0)
call_command("collectstatic", interactive=False, verbosity=0)
for address, page in (("bea@example.org", "/me/"), ("marta@example.org", "/desk/"), ("jonah@example.org", "/desk/proposals/")):
    client = Client()
    client.force_login(User.objects.get(email=address))
    print(client.get(page, headers={"host": "localhost"}).status_code)
"""


def counts(database: Path) -> dict[str, int]:
    with sqlite3.connect(database) as one:
        return {table: one.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in LASTING}


def upgrade(release: Path, folder: Path) -> None:
    database = load(release, folder)
    before = counts(database)
    assert min(before.values()) > 0
    assert manage(folder, "shell", "-v0", "-c", UPGRADE).split() == ["200", "200", "200"]
    assert counts(database) == before
    with sqlite3.connect(database) as one:
        assert one.execute("PRAGMA foreign_key_check").fetchall() == []
        assert one.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


@pytest.mark.parametrize("version", versions())
def test_from_a_released_version(version: str, tmp_path: Path) -> None:
    upgrade(FOLDER / f"{version}.sql.gz", tmp_path)


@pytest.mark.long
def test_what_the_next_release_will_leave(tmp_path: Path) -> None:
    """The tool itself: a database of this version is written, loaded and migrated."""
    (tmp_path / "installation").mkdir()
    upgrade(write("next", tmp_path / "releases"), tmp_path / "installation")
