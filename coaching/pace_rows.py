"""A pace card as rows for a page or paper."""

from __future__ import annotations

from dataclasses import dataclass

from athletes.running.paces import PACE_NAMES, PaceCard, show_range
from athletes.running.units import Units

WORDS = {
    "5K": "5K",
    "10K": "10K",
    "HM": "Half-marathon",
    "MP": "Marathon",
    "goal": "Goal pace",
    "easy": "Easy",
    "recovery": "Recovery",
}


@dataclass(frozen=True)
class PaceRow:
    """`pace` has its unit; `bare` has not."""

    name: str
    pace: str
    width: str

    @property
    def bare(self) -> str:
        return self.pace.partition("/")[0]


def pace_rows(card: PaceCard, units: Units) -> list[PaceRow]:
    return [
        PaceRow(WORDS[name], show_range(ends, units), f"± {round(float(ends.width_percent), 1):g} %")
        for name in PACE_NAMES
        if (ends := card.ranges.get(name)) is not None
    ]
