"""From a fitted schedule to the planner's sessions, for tests."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from athletes.running.paces import PaceCard
from plans.measures import card_text, easy_s_per_km, numbers_of, written_in
from plans.training.fitting_types import FittedSession
from plans.training.schedule import RUNS, Session


def sessions_of(fitted: Iterable[FittedSession], card: PaceCard) -> tuple[Session, ...]:
    """One planner's session for each fitted one, numbered in order."""
    text = card_text(card.to_values())
    plan = []
    for n, s in enumerate(fitted):
        values = {}
        if s.role in RUNS:
            found = numbers_of(s.text, text, "km", s.role == "quality")
            values = {
                "low_mm": min(found.low_mm, s.mm),
                "low_s": min(found.low_s, s.s),
                "hard_mm": found.hard_mm,
            }
            if found.levels:
                values["levels"] = (replace(found.levels[0], mm=s.mm, s=s.s), *found.levels[1:])
        plan.append(
            Session(str(n), s.day, s.role, s.mm, s.s, s.slot, written_in(s.text), supporting=s.supporting,
                    s_per_km=easy_s_per_km(text), **values)
        )  # fmt: skip
    return tuple(plan)
