"""Each fault is told in plain words, and a sound installation has none."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.db import OperationalError, connection
from django.utils import timezone

from coaching import backing_up, doctor
from plans import paper
from plans.models import Job

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def sound(settings: Any, tmp_path: Any) -> None:
    """A place where everything is in order."""
    settings.DATA_DIR = tmp_path
    settings.BACKUP_DIR, settings.MADE_DIR = tmp_path / "backups", tmp_path / "made"
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    settings.REDIS_URL = ""
    settings.PUBLIC_URL, settings.ALLOWED_HOSTS, settings.DEBUG = (
        "https://run.example.org",
        ["run.example.org"],
        False,
    )
    backing_up.run_backup()
    now = timezone.now()
    Job.objects.create(kind="look", key="now", state="done", made_at=now, not_before=now, finished_at=now)


def told(about: str) -> list[str]:
    return [finding.words for finding in doctor.examine() if finding.about == about]


def test_nothing_to_say_when_all_is_well(capsys: pytest.CaptureFixture[str]) -> None:
    assert doctor.examine() == []
    call_command("doctor")
    assert capsys.readouterr().out.startswith(
        "In order: database, time, disk, folders, worker, beat, broker, mail, fonts"
    )


def test_a_folder_that_others_on_the_machine_can_read(settings: Any, tmp_path: Any) -> None:
    settings.DATA_DIR = tmp_path / "house" / "data"
    settings.DATA_DIR.mkdir(parents=True)
    settings.DATA_DIR.chmod(0o755)
    for above in settings.DATA_DIR.parents:
        if above.is_relative_to("/tmp") and above != above.parent and str(above) != "/tmp":
            above.chmod(0o755)
    assert told("folders") == [
        f"Anybody with an account on this machine can look into {settings.DATA_DIR}. Shut it: chmod 700 {settings.DATA_DIR}"
    ]
    settings.DATA_DIR.chmod(0o700)
    assert told("folders") == []
    settings.DATA_DIR.chmod(0o755)
    settings.DATA_DIR.parent.chmod(0o700)  # nobody gets as far
    assert told("folders") == []


def test_a_silent_worker() -> None:
    then = timezone.now() - timedelta(minutes=6)
    Job.objects.create(kind="rebalance", key="1", made_at=then, not_before=then)
    assert told("worker") == ["1 job has waited over five minutes. Is the process of `serve` running?"]


def test_a_job_that_gave_up() -> None:
    now = timezone.now()
    Job.objects.create(
        kind="handouts",
        key="1",
        state="failed",
        made_at=now,
        not_before=now,
        finished_at=now,
        error="OSError: full",
    )
    assert told("worker") == ["A job of kind handouts gave up within the past week: OSError: full"]


def test_a_silent_beat(settings: Any) -> None:
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    Job.objects.update(made_at=timezone.now() - timedelta(hours=3))
    assert told("beat") == [
        "No hourly look was written in the past two hours. Is the beat (`celery -A coaching beat`) running?"
    ]


def test_a_broker_that_is_down(settings: Any) -> None:
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    assert "Redis does not answer at 127.0.0.1:1" in told("broker")[0]


def test_mail_to_the_console_and_mail_to_nobody(settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    assert "console only" in told("mail")[0]
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    assert "does not take us in" in told("mail")[0]


def test_little_space(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doctor, "LITTLE_SPACE", 10**18)
    assert "Less than 1 GB is free" in told("disk")[0]


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has the machine's own clock")
def test_a_clock_that_is_off() -> None:
    with time_machine.travel(timezone.now() + timedelta(seconds=90)):
        assert re.search(r"are (89|9\d) s apart", told("time")[0])
        assert "Set both by NTP" in told("time")[0]


def test_a_database_that_does_not_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    def gone() -> None:
        raise OperationalError("gone")

    monkeypatch.setattr(doctor.connection, "cursor", gone)
    assert next(doctor.CHECKS["database"]()).startswith("The database does not answer (OperationalError)")


def test_no_backup_for_nine_days() -> None:
    from coaching.models import BackupRun

    BackupRun.objects.update(at=timezone.now() - timedelta(days=9))
    assert "The last good backup was made on" in told("backup")[0]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"ALLOWED_HOSTS": ["other.example.org"]}, "HOSTS does not have it"),
        ({"PUBLIC_URL": "http://run.example.org"}, "is not https"),
        ({"DEBUG": True}, "DEBUG is on"),
    ],
)
def test_an_address_that_does_not_fit(settings: Any, changes: dict[str, Any], said: str) -> None:
    for name, value in changes.items():
        setattr(settings, name, value)
    assert said in " ".join(told("address"))


def test_it_exits_with_one_when_something_is_wrong(settings: Any) -> None:
    settings.DEBUG = True
    with pytest.raises(SystemExit) as ended:
        call_command("doctor")
    assert ended.value.code == 1


def test_a_page_without_its_letters() -> None:
    """A blank page stands for a machine without fonts: nothing to read on it."""
    assert not doctor.can_be_read(paper.render("<p> </p>", title="Blank"))


def test_a_database_that_is_not_there_is_told_in_words_too(tmp_path: Any) -> None:
    away = {
        "DATABASE_URL": "postgres://nobody@127.0.0.1:1/none",
        "SECRET_KEY": "x",
        "DATA_DIR": str(tmp_path),
    }
    env = {k: v for k, v in os.environ.items() if k != "REDIS_URL"} | away
    done = subprocess.run(
        [sys.executable, "manage.py", "doctor"],
        cwd=Path(__file__).parents[2],
        env=env,
        capture_output=True,
        text=True,
    )
    first, *_, last = done.stdout.splitlines()
    assert first.startswith("database: The database does not answer (OperationalError).")
    assert last == "In order: disk, folders, broker, fonts, address."
    assert done.returncode == 1
