"""Backed up while in use, restored into an empty installation, everything compared."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from athletes.models import Athlete, User
from coaching import backing_up
from coaching.backing_up import BackupError, backup, restore, tables
from coaching.models import BackupRun
from plans.models import Job, Log, SessionIssue
from tests.factories import CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db(transaction=True)
KEY = "a key for tests"


@pytest.fixture(autouse=True)
def folders(tmp_path: Path, settings: Any) -> None:
    settings.MADE_DIR, settings.BACKUP_DIR, settings.BACKUP_KEY = tmp_path / "made", tmp_path / "backups", ""


def everything() -> dict[str, list[Any]]:
    return {
        model._meta.label: list(
            model._base_manager.order_by("pk").values_list(*[f.attname for f in model._meta.concrete_fields])
        )
        for model in tables()
    }


def practice(settings: Any) -> dict[str, list[Any]]:
    """A practice with people, a schedule, logs and a made file."""
    schedule = scheduled()
    coaches(CoachFactory(), schedule.athlete)
    issue = SessionIssue.objects.earliest("day")
    Log.objects.create(
        athlete=schedule.athlete, session=issue.session, day=issue.day, time_zone="UTC", received_at=timezone.now(),
        outcome="done", distance_mm=8_000_000, note="=cmd|' /C calc'!A1 — ünïcode, مرحبا",
    )  # fmt: skip
    page = Path(settings.MADE_DIR) / "handouts" / "one.pdf"
    page.parent.mkdir(parents=True)
    page.write_bytes(b"%PDF-1.7 made")
    return everything()


def empty_out() -> None:
    call_command("flush", interactive=False, verbosity=0)
    assert not User.objects.exists()


@pytest.mark.parametrize("key", ["", KEY])
def test_it_works(settings: Any, key: str) -> None:
    before = practice(settings)
    path = backup(settings.BACKUP_DIR, key)
    empty_out()
    for file in Path(settings.MADE_DIR).rglob("*.pdf"):
        file.unlink()
    restore(path, key)
    assert everything() == before
    assert sum(len(rows) for rows in before.values()) > 30
    assert (Path(settings.MADE_DIR) / "handouts" / "one.pdf").read_bytes() == b"%PDF-1.7 made"


def test_numbers_go_on_after_the_highest(settings: Any) -> None:
    practice(settings)
    highest = max(Athlete.objects.values_list("pk", flat=True))
    path = backup(settings.BACKUP_DIR)
    empty_out()
    restore(path)
    assert Athlete.objects.create(name="New").pk > highest


def test_an_encrypted_file_shows_nothing_and_opens_with_its_key_only(settings: Any) -> None:
    practice(settings)
    path = backup(settings.BACKUP_DIR, KEY)
    assert b"athlete" not in path.read_bytes().lower()
    assert path.stat().st_mode & 0o077 == 0
    empty_out()
    with pytest.raises(BackupError, match="encrypted"):
        restore(path)
    with pytest.raises(BackupError, match="does not open"):
        restore(path, "another key")


def test_an_installation_with_people_is_left_alone(settings: Any) -> None:
    before = practice(settings)
    path = backup(settings.BACKUP_DIR)
    with pytest.raises(BackupError, match="people in it"):
        restore(path)
    assert everything() == before


def test_a_damaged_file_restores_nothing(settings: Any, tmp_path: Path) -> None:
    practice(settings)
    path = backup(settings.BACKUP_DIR)
    damaged = tmp_path / "damaged.zip"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(damaged, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            new.writestr(
                name, content.replace(b"8000000", b"9000000") if name == "rows/plans.Log.jsonl" else content
            )
    empty_out()
    with pytest.raises(BackupError, match=r"rows of plans\.Log"):
        restore(damaged)
    assert not User.objects.exists()


def test_a_file_name_that_leads_out_is_refused(settings: Any, tmp_path: Path) -> None:
    practice(settings)
    path = backup(settings.BACKUP_DIR)
    evil = tmp_path / "evil.zip"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(evil, "w") as new:
        manifest = json.loads(old.read("manifest.json"))
        digest = manifest["files"].pop("handouts/one.pdf")
        manifest["files"]["../../out.pdf"] = digest
        for name in old.namelist():
            if name not in ("manifest.json", "files/handouts/one.pdf"):
                new.writestr(name, old.read(name))
        new.writestr("files/../../out.pdf", old.read("files/handouts/one.pdf"))
        new.writestr("manifest.json", json.dumps(manifest))
    empty_out()
    with pytest.raises(BackupError, match="leads out"):
        restore(evil)
    assert not (tmp_path.parent / "out.pdf").exists()


def test_another_version_says_so(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    practice(settings)
    path = backup(settings.BACKUP_DIR)
    empty_out()
    monkeypatch.setattr(backing_up, "migrations", lambda: [["plans", "0999_later"]])
    with pytest.raises(BackupError, match="another version"):
        restore(path)


def test_something_that_is_no_backup(tmp_path: Path) -> None:
    file = tmp_path / "notes.zip"
    file.write_text("not a zip")
    with pytest.raises(CommandError, match="is not a backup"):
        call_command("restore", str(file))


def test_a_zip_that_is_something_else(tmp_path: Path) -> None:
    file = tmp_path / "an-export.zip"
    with zipfile.ZipFile(file, "w") as made:
        made.writestr("everything.json", "{}")
    with pytest.raises(CommandError, match=r"an-export\.zip is not a backup"):
        call_command("restore", str(file))


def test_a_database_without_tables_says_what_to_do_first(settings: Any, tmp_path: Path) -> None:
    """The first thing tried on a new machine."""
    path = backup(settings.BACKUP_DIR)
    env = {k: v for k, v in os.environ.items() if k not in ("DATABASE_URL", "REDIS_URL")}
    done = subprocess.run(
        [sys.executable, "manage.py", "restore", str(path)],
        cwd=settings.BASE_DIR,
        env={**env, "DATA_DIR": str(tmp_path / "new")},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1
    assert done.stderr.splitlines() == [
        "CommandError: Nothing was restored. This database has no tables yet. Make them first: manage.py migrate."
    ]


def test_a_page_tidied_away_in_the_middle_spoils_no_backup(
    settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    practice(settings)
    there = backing_up.made_files()
    monkeypatch.setattr(backing_up, "made_files", lambda: [*there, Path(settings.MADE_DIR) / "gone.pdf"])
    assert backing_up.run_backup().good


def test_it_reads_one_snapshot() -> None:
    """On PostgreSQL a log that comes in between two tables is in none of them; SQLite's transaction does the same."""
    scheduled()
    with CaptureQueriesContext(connection) as seen:
        backup(Path(backing_up.backup_folder()))
    if connection.vendor == "postgresql":
        assert any("REPEATABLE READ" in query["sql"] for query in seen)
    assert sum("BEGIN" in q["sql"] for q in seen.captured_queries) <= 1


def test_every_run_is_a_row_and_fourteen_files_are_kept(settings: Any) -> None:
    settings.BACKUP_DIR.mkdir(parents=True)
    for day in range(1, 20):
        (settings.BACKUP_DIR / f"practice-2026-01-{day:02}-000000.zip").write_bytes(b"old")
    run = backing_up.run_backup()
    assert run.good
    assert len(list(settings.BACKUP_DIR.glob("practice-*"))) == 14
    assert Path(run.file).exists()
    assert backing_up.last_good() == run


def test_a_failure_is_a_row_too_and_the_command_says_it(settings: Any) -> None:
    settings.BACKUP_DIR = Path("/proc/no/such/place")
    with pytest.raises(CommandError, match="The backup failed"):
        call_command("backup")
    assert not BackupRun.objects.get().good


def test_it_is_late_after_eight_days() -> None:
    assert backing_up.is_late()
    run = backing_up.run_backup()
    assert not backing_up.is_late()
    assert backing_up.is_late(run.at + timedelta(days=8, minutes=1))


def test_the_nightly_row_is_written_once_a_day() -> None:
    for _ in range(3):
        backing_up.write_nightly_row()
    assert Job.objects.filter(kind="backup").count() == 1
