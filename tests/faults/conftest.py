"""One PostgreSQL and one Redis for all faults, a migrated database to copy, and the table of what was seen."""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.faults.clusters import Postgres, Redis, spare_port
from tests.faults.site import Site
from tests.faults.table import Seen, write

COUNT = itertools.count()


@pytest.fixture(scope="session")
def static(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The pages' static files with their hashed names, collected once."""
    folder = tmp_path_factory.mktemp("static")
    Site(folder, 0, STATIC_DIR=str(folder)).manage("collectstatic", "--noinput", "-v0")
    return str(folder)


@pytest.fixture(scope="session")
def clusters(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Postgres, Redis]]:
    """With a database `migrated` in it, migrated once and copied for each test."""
    folder = tmp_path_factory.mktemp("clusters")
    postgres, redis = Postgres(), Redis(folder)
    try:
        Site(folder, 0, postgres.create("migrated"), redis.url()).migrate()
        yield postgres, redis
    finally:
        redis.kill()
        postgres.end()


@pytest.fixture
def site_on_postgresql(
    clusters: tuple[Postgres, Redis], static: str, tmp_path: Path
) -> Iterator[Callable[..., Site]]:
    """Makes an installation on PostgreSQL and Redis with so many athletes; its processes end with the test."""
    postgres, redis = clusters
    made: list[Site] = []

    def make(athletes: int = 1, **env: str) -> Site:
        number = next(COUNT)
        database = postgres.create(f"practice{number}", like="migrated")
        site = Site(tmp_path, spare_port(), database, redis.url(number % 16), STATIC_DIR=static, **env)
        made.append(site)
        site.seed(athletes)
        return site

    yield make
    for site in made:
        site.close()


@pytest.fixture
def site_on_sqlite(static: str, tmp_path: Path) -> Iterator[Site]:
    site = Site(tmp_path, spare_port(), STATIC_DIR=static)
    site.migrate()
    site.seed()
    yield site
    site.close()


@pytest.fixture
def seen(request: pytest.FixtureRequest) -> Seen:
    """Tell the table of results what was done and what was seen."""
    rows: list[tuple[str, str, str]] = request.config.stash.setdefault(ROWS, [])
    return lambda fault, done, result: rows.append((fault, done, result))


ROWS = pytest.StashKey[list[tuple[str, str, str]]]()


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """`make faults` names a file for the table; it is written when everything passed."""
    if (path := os.environ.get("FAULTS_TABLE")) and exitstatus == 0:
        write(Path(path), session.config.stash.get(ROWS, []))
