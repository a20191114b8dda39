"""The sample files of gpxpy, out of its source distribution (PyPI, Apache-2.0): fetched for tests, kept beside the cache of
pip's own, not in this repository. `samples` is the fixture; a test module imports it."""

from __future__ import annotations

import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

import pytest

KEPT = Path(__file__).parents[1] / "var" / "gpxpy-1.6.2"
ARCHIVE = "gpxpy-1.6.2.tar.gz"
ASKED = ("gpxpy==1.6.2", "--no-binary", ":all:", "--no-deps", "-q", "--disable-pip-version-check")


@pytest.fixture(scope="session")
def samples() -> Path:
    """The folder of sample files. Workers that fetch at once each fetch their own; one of them is kept."""
    folder = KEPT / "test_files"
    if folder.exists():
        return folder
    KEPT.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=KEPT.parent) as here:
        asked = [
            sys.executable,
            "-m",
            "pip",
            "download",
            *ASKED,
            "--retries",
            "0",
            "--timeout",
            "10",
            "-d",
            here,
        ]
        fetched = subprocess.run(asked, capture_output=True, text=True, timeout=120)
        archive = next(Path(here).glob("*.tar.gz"), None)
        if archive is None:
            pytest.skip(f"NOT CHECKED: gpxpy's sample files could not be fetched: {fetched.stderr[-300:]}")
        with tarfile.open(archive) as tar:
            tar.extractall(here, filter="data")
        archive.rename(Path(here) / "gpxpy-1.6.2" / ARCHIVE)
        try:
            (Path(here) / "gpxpy-1.6.2").rename(KEPT)
        except OSError:
            assert folder.exists()
    return folder
