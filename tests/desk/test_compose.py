"""docker-compose.yml, as far as it can be checked without Docker."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docker-compose.yml").read_text()
SETTINGS = (ROOT / "coaching" / "settings.py").read_text()
# Named by the compose file for the other containers, not for settings.
OTHERS = {"DB_PASSWORD"}
# What the image says itself, or what has no place on a server.
NOT_HANDED_ON = {"DATA_DIR", "STATIC_DIR", "BACKUP_DIR", "DEBUG", "DEMO"}


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    return yaml.safe_load(TEXT)


def read_by_settings() -> set[str]:
    return set(re.findall(r'env\.\w+\(\s*"([A-Z_]+)"', SETTINGS))


def test_every_service_is_there_with_its_health_check(compose: dict[str, Any]) -> None:
    assert set(compose["services"]) == {"migrate", "web", "worker", "beat", "db", "redis"}
    for name, service in compose["services"].items():
        assert ("healthcheck" in service) == (name != "migrate"), name


def test_every_variable_it_names_is_one_that_settings_read(compose: dict[str, Any]) -> None:
    known = read_by_settings()
    for name in ("web", "worker", "beat", "migrate"):
        assert set(compose["services"][name]["environment"]) <= known
    asked = set(re.findall(r"\$\{([A-Z_]+)", TEXT))
    assert asked - OTHERS <= known
    assert {"SECRET_KEY", "PUBLIC_URL", "HOSTS", "DATABASE_URL", "REDIS_URL"} <= known


def test_every_setting_reaches_the_containers(compose: dict[str, Any]) -> None:
    """A mail server or a backup's key in `.env` that no container is handed would be silently without effect."""
    for name in ("web", "worker", "beat", "migrate"):
        assert set(compose["services"][name]["environment"]) == read_by_settings() - NOT_HANDED_ON
    # Only the proxy reaches the port, so its word is taken: without it all visitors would be one to the sign-in.
    assert compose["services"]["web"]["environment"]["TRUSTED_PROXIES"] == "${TRUSTED_PROXIES:-1}"
    assert compose["services"]["web"]["ports"] == ["127.0.0.1:8000:8000"]


def test_the_file_with_the_secrets_stays_out_of_image_and_repository() -> None:
    for name in (".dockerignore", ".gitignore"):
        assert {".env*", "/.env*"} & set((ROOT / name).read_text().split()), name


def test_the_beats_health_is_how_old_its_file_is(compose: dict[str, Any], tmp_path: Path) -> None:
    _, _, option, code = compose["services"]["beat"]["healthcheck"]["test"]
    here = [sys.executable, option, code.replace("/data", str(tmp_path))]
    assert subprocess.run(here, check=False).returncode == 1  # it never began
    file = tmp_path / "beat.db"
    file.touch()
    assert subprocess.run(here, check=False).returncode == 0
    eleven_minutes_ago = time.time() - 660
    os.utime(file, (eleven_minutes_ago, eleven_minutes_ago))
    assert subprocess.run(here, check=False).returncode == 1


def test_no_secret_stands_in_the_file() -> None:
    for line in TEXT.splitlines():
        if re.search(r"(_KEY|PASSWORD)\b.*:", line):
            assert "${" in line or line.endswith(":"), line


def test_the_migration_runs_once_and_the_rest_waits_for_it(compose: dict[str, Any]) -> None:
    services = compose["services"]
    assert services["migrate"]["restart"] == "no"
    for name in ("web", "worker", "beat"):
        assert services[name]["depends_on"]["migrate"] == {"condition": "service_completed_successfully"}


def test_every_named_volume_is_declared_and_redis_keeps_its_queue(compose: dict[str, Any]) -> None:
    used = {v.split(":")[0] for s in compose["services"].values() for v in s.get("volumes", [])}
    assert used == set(compose["volumes"])
    assert "--appendonly" in compose["services"]["redis"]["command"]


def test_the_image_has_what_the_pdfs_need() -> None:
    dockerfile = (ROOT / "Dockerfile").read_text()
    for package in ("libpango-1.0-0", "libharfbuzz-subset0", "fonts-dejavu"):
        assert package in dockerfile
    assert "USER practice" in dockerfile
    assert "--require-hashes" in dockerfile


def test_what_is_ours_runs_without_root_and_on_a_read_only_root(compose: dict[str, Any]) -> None:
    for name in ("migrate", "web", "worker", "beat"):
        service = compose["services"][name]
        assert service["read_only"] is True, name
        assert service["tmpfs"] == ["/tmp"], name
        assert "user" not in service, name  # the image's own user, which is not root
        assert service["cap_drop"] == ["ALL"], name
        assert service["security_opt"] == ["no-new-privileges:true"], name
    assert "privileged" not in str(compose)
