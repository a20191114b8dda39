"""The sessions that come with the program, by name: each with the sentence an athlete reads."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

import yaml

from plans.training.shorthand import ShorthandError, parse
from plans.training.steps import Session

LONGEST_NAME, LONGEST_PURPOSE = 60, 200


class NamedSessionError(ValueError):
    """An entry of a list of named sessions can't be used; the message names it."""


@dataclass(frozen=True, slots=True)
class NamedSession:
    """A session under a name. `text` is the shorthand as written, `steps` what it means."""

    name: str
    text: str
    purpose: str
    steps: Session


@lru_cache(maxsize=1)
def named_sessions() -> tuple[NamedSession, ...]:
    """The program's own library, in the order of its file."""
    text = resources.files("plans.training").joinpath("named_sessions.yaml").read_text(encoding="utf-8")
    return read_named_sessions(yaml.safe_load(text))


def read_named_sessions(entries: Iterable[Mapping[str, Any]]) -> tuple[NamedSession, ...]:
    """Named sessions from plain values (`name`, `steps`, `purpose`); raises NamedSessionError."""
    found: dict[str, NamedSession] = {}
    for number, entry in enumerate(entries, 1):
        values = [str(entry.get(key, "")).strip() for key in ("name", "steps", "purpose")]
        name, text, purpose = values
        if not all(values):
            raise NamedSessionError(f"Entry {number} needs a name, steps and a purpose.")
        if len(name) > LONGEST_NAME or len(purpose) > LONGEST_PURPOSE:
            raise NamedSessionError(f"“{name[:LONGEST_NAME]}”: name or purpose is too long.")
        if name.lower() in found:
            raise NamedSessionError(f"“{name}” stands twice.")
        try:
            steps = parse(text)
        except ShorthandError as error:
            raise NamedSessionError(f"“{name}”: {error}") from error
        found[name.lower()] = NamedSession(name, text, purpose, steps)
    return tuple(found.values())
