"""The first start on a new machine: `manage.py serve` on an empty folder, as a process of its own."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def fetched(url: str, process: subprocess.Popen[bytes]) -> bytes:
    for _ in range(600):
        assert process.poll() is None, "the server went"
        try:
            with urllib.request.urlopen(url, timeout=20) as answer:
                assert answer.status == 200
                return bytes(answer.read())
        except urllib.error.HTTPError:
            raise
        except OSError:
            time.sleep(0.1)
    raise AssertionError(f"{url} did not answer in a minute")


@pytest.mark.parametrize("command", [("serve",), ("demo",)])
def test_the_first_page_of_a_new_folder_comes_with_its_look(tmp_path: Path, command: tuple[str, ...]) -> None:
    """The files are made before the server that hands them out looks for them."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    env = {k: v for k, v in os.environ.items() if k in ("PATH", "HOME", "LANG")}
    env |= {"DATA_DIR": str(tmp_path / "data"), "DEMO": "1" if command == ("demo",) else "0"}
    manage = [sys.executable, str(ROOT / "manage.py")]
    subprocess.run([*manage, "migrate", "-v0"], env=env, check=True, capture_output=True)
    with (tmp_path / "log").open("wb") as log:
        process = subprocess.Popen([*manage, *command, "--port", str(port)], env=env, stdout=log, stderr=log)
    try:
        base = f"http://localhost:{port}"
        page = fetched(f"{base}/sign-in/", process).decode()
        files = re.findall(r'(?:href|src)="(/static/[^"]+)"', page)
        assert len(files) > 4
        for file in files:
            assert fetched(base + file, process)
    finally:
        process.terminate()
        process.wait(20)
