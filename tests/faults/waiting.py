"""Wait for what another process does, bounded."""

from __future__ import annotations

import time
from collections.abc import Callable


def until(is_true: Callable[[], object], seconds: float = 30) -> None:
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if is_true():
            return
        time.sleep(0.1)
    raise AssertionError(f"still not so after {seconds} s")
