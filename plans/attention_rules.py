"""The rules by which somebody needs a word: their numbers, what is usual, and what the practice set instead.

All defaults are common practice with no source, except the spike of a single run: Frandsen 2025 (Br J Sports Med
59:1203) found more injuries after runs over 30 % longer than the longest of 30 days.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

Numbers = Mapping[str, int | None]


@dataclass(frozen=True)
class Rule:
    """`number` is the default, None for a rule without one; `low` to `high` can be set; `unit` follows the number."""

    name: str
    head: str
    words: str
    number: int | None = None
    low: int = 1
    high: int = 100
    unit: str = ""
    always: bool = False

    def said(self, number: int | None) -> str:
        """The rule with the number that is set: Runs were due and nothing was said for 4 days."""
        return self.words if number is None else f"{self.words} {number}{' ' * (self.unit != '%')}{self.unit}"


RULES: tuple[Rule, ...] = (
    Rule("hold", "Hold", "A health note that a coach has not cleared. Always shown.", always=True),
    Rule("unwell", "Unwell", "Pain or illness in a log, in the past", 7, 1, 28, "days"),
    Rule("silent", "Silent", "Runs were due and nothing was said for", 4, 2, 21, "days"),
    Rule("long-missed", "Long run", "Long runs missed in a row", 2, 1, 4, "times"),
    Rule("spike", "One long jump", "A run longer than the longest of 30 days by", 30, 10, 100, "%"),
    Rule("hard-easy", "Easy days hard", "Effort 8 or more on easy days, in two weeks", 3, 1, 7, "times"),
    Rule("above-plan", "Far above plan", "Last week's volume over the plan by", 20, 10, 100, "%"),
    Rule("goal", "Goal at risk", "An open proposal says that the goal or the build can't be kept"),
    Rule("race-soon", "Race", "The race is in at most", 14, 1, 42, "days"),
    Rule("running-out", "Plan", "The plan ends, and none follows, in", 14, 3, 42, "days"),
)
NAMES = {rule.name: rule for rule in RULES}
URGENCY = {rule.name: number for number, rule in enumerate(RULES)}


def numbers_of(stored: Mapping[str, int | None]) -> dict[str, int | None]:
    """Each rule that is on, with its number. `stored` holds what the practice set: a number, or None for off.

    What is stored under a name that is no rule, or outside what can be set, is left out: the default serves.
    """
    found: dict[str, int | None] = {}
    for rule in RULES:
        value = stored.get(rule.name, rule.number)
        if rule.always or (rule.number is None and rule.name not in stored):
            found[rule.name] = None
        elif value is None:
            continue
        elif rule.number is not None:
            found[rule.name] = value if rule.low <= value <= rule.high else rule.number
        else:
            found[rule.name] = None
    return found
