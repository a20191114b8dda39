"""What the guard rails say of a season with a coach's draft on it, beside what they said without.

The same planner answers that re-balances: what it finds of breaks is asked, and what it would propose next is told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from uuid import UUID

from plans.editing import Season, as_issue
from plans.measures import card_text
from plans.rebalancing import drafted
from plans.situation import Situation, planned
from plans.telling import summary
from plans.training.fitting_check import Broken
from plans.training.replanning import breaks_of, rebalance
from plans.training.schedule import Break
from plans.training.season_check import season_rails

# Broken before and after with other numbers: told once, as it is now.
ONCE_A_WEEK = {"weekly_rise", "long_rise", "long_share", "quality_share", "max_hard", "min_rest", "taper"}


@dataclass(frozen=True)
class Answer:
    """`fresh`: broken by the draft; `before`: broken without it too; `kept`: broken before, and not any more."""

    fresh: tuple[Broken, ...]
    before: tuple[Broken, ...]
    kept: tuple[Broken, ...]

    @property
    def all(self) -> tuple[Broken, ...]:
        return tuple(sorted((*self.fresh, *self.before), key=lambda one: one.week))


@dataclass(frozen=True)
class Issued:
    """What is looked at once, whatever the draft says: breaks, and what the season as issued breaks."""

    breaks: tuple[Break, ...]
    broken: tuple[Broken, ...]


def issued(found: Situation) -> Issued:
    breaks = breaks_of(found.inputs)
    return Issued(breaks, season_rails(found.inputs, breaks))


def answer(season: Season, known: Issued | None = None, base: Season | None = None) -> Answer:
    """What the rails say. `base`: compared with this season (by default, with what is issued)."""
    known = known or issued(season.found)
    old = season_rails(edited(base).inputs, known.breaks) if base and base.to_send else known.broken
    new = season_rails(edited(season).inputs, known.breaks) if season.to_send else known.broken
    said, was = {one.sentence for one in new}, {one.sentence for one in old}
    still = {(one.rail, one.week) for one in new if one.rail in ONCE_A_WEEK}
    return Answer(
        tuple(one for one in new if one.sentence not in was),
        tuple(one for one in new if one.sentence in was),
        tuple(one for one in old if one.sentence not in said and (one.rail, one.week) not in still),
    )


def edited(season: Season) -> Situation:
    """The situation as it would be read if the draft were issued."""
    found, schedule = season.found, season.schedule
    card = card_text(found.card.to_values()) if found.card else None
    put = {key: edit.now for key, edit in season.to_send.items()}
    if not put:
        return found
    rows = {str(key): as_issue(content, key, schedule) for key, content in put.items()}
    plan = [s for s in found.inputs.plan if s.key not in rows]
    plan += [
        planned(key, row, card, found.inputs.units, added=UUID(key) not in season.live)
        for key, row in rows.items()
        if not row.removed
    ]
    standing = {key: one for key, one in found.inputs.standing.items() if key not in rows}
    inputs = replace(
        found.inputs, plan=tuple(sorted(plan, key=lambda s: (s.day, s.slot, s.key))), standing=standing
    )
    return replace(found, inputs=inputs, live={**found.live, **rows}, signed={**found.signed, **rows})


def follows(season: Season) -> str:
    """What re-balancing would propose once the draft is sent, in a line; empty for nothing."""
    found = edited(season)
    draft = drafted(season.schedule, found, rebalance(found.inputs))
    return summary(draft.differences, season.units, season.schedule.week_starts, longest=240)


def in_weeks(season: Season, said: tuple[Broken, ...]) -> Mapping[int, list[str]]:
    """Sentences by the number of the week (from 1), without the week's name."""
    made: dict[int, list[str]] = {}
    for one in said:
        made.setdefault(one.week + 1, []).append(one.sentence.partition(": ")[2])
    return made
