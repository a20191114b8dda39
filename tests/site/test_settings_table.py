"""Every setting stands in one table, and the table names nothing that settings don't read."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_the_table_of_settings_is_the_code() -> None:
    read = set(re.findall(r'env\.\w+\(\s*"([A-Z_]+)"', (ROOT / "coaching" / "settings.py").read_text()))
    told = set(re.findall(r"^\| `([A-Z_]+)` \|", (ROOT / "docs" / "running.md").read_text(), re.MULTILINE))
    assert told == read
    assert len(told) > 15


def test_no_setting_is_read_elsewhere() -> None:
    """The environment is read in one file; manage.py and the Celery and WSGI entries only name that file."""
    for folder in ("athletes", "plans", "coaching"):
        for path in (ROOT / folder).rglob("*.py"):
            if path.name in ("settings.py", "celery.py", "wsgi.py"):
                continue
            assert "os.environ" not in path.read_text(), path
