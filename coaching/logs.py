"""What is written to the log: where and what kind, never what somebody typed.

Law: no name, no health note, no secret. An error's own message may quote a row of the database or a form, and the
address of an invitation is its key. So an error is written as its type and the lines of the program it went through,
and long tokens in addresses are left out. With DEBUG the messages are there too.
"""

from __future__ import annotations

import json
import logging
import re
import traceback
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings

# 25 characters or more between slashes: a token. A UUID names a session and opens nothing.
TOKEN = re.compile(r"(?<=/)(?![0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}\b)[\w=:~-]{25,}")
HERE = Path(__file__).resolve().parent.parent


def words_of(record: logging.LogRecord) -> str:
    return TOKEN.sub("…", record.getMessage())


def path_of_error(error: BaseException) -> str:
    """The types from the first cause on, and where it went: `ValueError in plans/jobs.py:94 run < …`, newest first."""
    told, kinds = error, [type(error).__name__]
    while (cause := told.__cause__ or told.__context__) is not None and len(kinds) < 5:
        told = cause
        kinds.append(type(told).__name__)
    every = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in every[:-2] if _is_ours(frame.filename)]
    frames = [*ours[-10:], *every[-2:]]  # where it broke, and our own lines on the way there
    places = [f"{_short(frame.filename)}:{frame.lineno} {frame.name}" for frame in reversed(frames)]
    return f"{' from '.join(kinds)} in {' < '.join(places)}"


def _is_ours(file: str) -> bool:
    return Path(file).is_relative_to(HERE) and "site-packages" not in file


def _short(file: str) -> str:
    path = Path(file)
    return str(path.relative_to(HERE)) if _is_ours(file) else "/".join(path.parts[-2:])


def facts_of(record: logging.LogRecord) -> dict[str, Any]:
    """One entry, as it is written as JSON."""
    found: dict[str, Any] = {
        "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
        "level": record.levelname,
        "logger": record.name,
        "message": words_of(record),
    }
    request = getattr(record, "request", None)
    if fault := getattr(request, "fault", None):
        found["fault"] = fault
    if status := getattr(record, "status_code", None):
        found["status"] = status
    if record.exc_info and (error := record.exc_info[1]) is not None:
        found["error"] = path_of_error(error)
        if settings.DEBUG:
            found["said"] = str(error)
    return found


class AsJson(logging.Formatter):
    """A JSON object a line (`LOG_FORMAT=json`), for whatever collects logs."""

    def format(self, record: logging.LogRecord) -> str:
        return json.dumps(facts_of(record), ensure_ascii=False, default=str)


class AsLine(logging.Formatter):
    """For people: the same in one line."""

    def format(self, record: logging.LogRecord) -> str:
        facts = facts_of(record)
        line = f"{facts['at']} {facts['level']} {facts['logger']}: {facts['message']}"
        more = [f"{key} {facts[key]}" for key in ("fault", "error", "said") if key in facts]
        return " | ".join([line, *more])
