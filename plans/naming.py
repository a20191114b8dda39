"""The library of named sessions: the coach's own rows, begun from the list that comes with the program."""

from __future__ import annotations

from athletes.models import Coach
from plans.models import NamedSession
from plans.training.named_sessions import named_sessions
from plans.training.shorthand import role_of


def missing() -> int:
    """How many of the program's own the coach doesn't have by name."""
    have = {name.lower() for name in NamedSession.objects.values_list("name", flat=True)}
    return sum(one.name.lower() not in have for one in named_sessions())


def fill(by: Coach | None) -> int:
    """Add those; what the coach has under a name already stays as it is. The number added."""
    have = {name.lower() for name in NamedSession.objects.values_list("name", flat=True)}
    made = NamedSession.objects.bulk_create(
        [
            NamedSession(name=one.name, steps=one.text, role=role_of(one.steps), purpose=one.purpose, by=by)
            for one in named_sessions()
            if one.name.lower() not in have
        ],
        ignore_conflicts=True,
    )
    return len(made)
