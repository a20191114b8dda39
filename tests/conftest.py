"""What every test stands on: a file database, static files without hashes, no network but this machine's."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings as hypothesis_settings

HERE = Path(__file__).parent
os.environ.setdefault("DATA_DIR", str(HERE.parent / "var" / "tests"))
# pytest-django's live server with playwright's own loop.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")

# The ordinary run draws the same examples every time, so a red run means a change; `make long` draws new ones.
hypothesis_settings.register_profile("ordinary", derandomize=True, deadline=None)
hypothesis_settings.register_profile("long", deadline=None)

CORES = ("running", "training", "published")


def pytest_configure(config: pytest.Config) -> None:
    Path(os.environ["DATA_DIR"]).mkdir(parents=True, exist_ok=True)
    hypothesis_settings.load_profile("long" if config.option.markexpr == "long" else "ordinary")
    from django.conf import settings

    settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    settings.WHITENOISE_USE_FINDERS = True
    settings.WHITENOISE_AUTOREFRESH = True
    # Argon2 is slow on purpose; the tests of signing in put it back.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher", *settings.PASSWORD_HASHERS]
    settings.MADE_DIR = Path(os.environ["DATA_DIR"]) / "made"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.parent.name in CORES:
            item.add_marker(pytest.mark.cores)
