"""The table of results: what was done to a running site, and what was seen. `make faults` writes it, nobody by hand."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

Seen = Callable[[str, str, str], None]
HEAD = """# What was broken on purpose, and what was seen

Written by `make faults` on {day}, from the tests in `tests/faults`: real processes on a PostgreSQL and a Redis of their
own (SQLite where it says so), killed, stopped or filled up while they work. Don't edit it; run it.

| fault | how | seen |
|---|---|---|
"""


def write(path: Path, rows: list[tuple[str, str, str]]) -> None:
    lines = [f"| {' | '.join(' '.join(cell.split()) for cell in row)} |" for row in rows]
    path.write_text(HEAD.format(day=datetime.now(UTC).date()) + "\n".join(lines) + "\n")
