"""Guard rails: the limits a coach sets, their defaults, and which of several layers is nearest.

Law: a limit has one name and one default, here and nowhere else. It is stored as a whole number
(per cent, millimetres, seconds, days, a count) or not at all; not at all means "ask the next layer".
Rails are those numbers resolved for one athlete, ratios as exact fractions.

All defaults are common practice with no source, except the rise of the long run over 30 days
(Frandsen 2025, Br J Sports Med 59:1203: up to 10 % longer was the reference class).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from fractions import Fraction
from typing import Literal, Self

KM = 1_000_000

Measured = Literal["percent", "mm", "s", "days", "count"]


@dataclass(frozen=True)
class Limit:
    """One guard rail as a form shows it. `low` and `high` are the usual range, not a prohibition."""

    name: str
    words: str
    measured: Measured
    default: int
    low: int
    high: int


LIMITS: tuple[Limit, ...] = (
    Limit("weekly_rise", "Weekly volume may rise by", "percent", 10, 5, 15),
    Limit("weekly_rise_mm", "or by this distance a week", "mm", 3 * KM, 2 * KM, 5 * KM),
    Limit("weekly_return", "Way back to a weekly volume already held", "percent", 25, 15, 33),
    Limit("travel_return", "Way back after travel", "percent", 33, 15, 33),
    Limit("long_rise", "Long run over the longest of the past 30 days", "percent", 10, 10, 15),
    Limit("long_rise_mm", "or by this distance", "mm", 2 * KM, 1_500_000, 3_200_000),
    Limit("long_return", "Way back to a long run already held", "percent", 25, 15, 30),
    Limit("longest_s", "Longest run", "s", 10_800, 9_000, 12_600),
    Limit("long_share_3", "Long run's share of a week of 3 runs", "percent", 55, 50, 60),
    Limit("long_share_4", "of a week of 4 runs", "percent", 50, 40, 50),
    Limit("long_share_5", "of a week of 5 runs", "percent", 42, 33, 45),
    Limit("long_share_6", "of a week of 6 runs", "percent", 38, 25, 40),
    Limit("long_share_7", "of a week of 7 runs", "percent", 35, 25, 35),
    Limit("quality_share", "Hard running's share of a week", "percent", 25, 15, 30),
    Limit("max_hard", "Hard days a week at most (long, quality, race)", "count", 3, 2, 3),
    Limit("gap_days", "Days between hard days at least", "days", 2, 2, 3),
    Limit("min_rest", "Days without a run at least", "days", 1, 1, 2),
    Limit("long_floor_mm", "Floor of the long run after a break", "mm", 8 * KM, 5 * KM, 10 * KM),
    Limit("tolerance", "A limit this close to the plan leaves the plan", "percent", 4, 2, 5),
    Limit("credit", "A week counts as done from", "percent", 80, 75, 90),
    Limit("credit4", "if four weeks together reach", "percent", 92, 90, 95),
    Limit("share_5", "First week after 5 to 9 days off", "percent", 80, 70, 90),
    Limit("share_10", "after 10 to 14 days off", "percent", 65, 55, 75),
    Limit("share_15", "after 15 to 28 days off", "percent", 50, 40, 60),
    Limit("share_29", "after more than 28 days off", "percent", 40, 30, 50),
    Limit("calm_5", "Days without quality after 5 to 9 days off", "days", 3, 2, 5),
    Limit("calm_10", "after 10 to 14 days off", "days", 7, 5, 10),
    Limit("calm_15", "after 15 to 28 days off", "days", 10, 7, 14),
    Limit("calm_29", "after more than 28 days off", "days", 14, 10, 21),
    Limit("injury_share", "Share of all that after an injury", "percent", 75, 50, 80),
    Limit("shortest_mm", "Shortest run left standing", "mm", 3 * KM, 2 * KM, 5 * KM),
    Limit("small_mm", "Smallest change worth making", "mm", KM, KM, 2 * KM),
    Limit("small_share", "and at least this share of the session", "percent", 8, 5, 10),
    Limit("race_day_mm", "After a race, a day without quality for every", "mm", 3 * KM, 1_500_000, 3 * KM),
)
"""Every guard rail, in the order a form shows them."""


@dataclass(frozen=True)
class Rails:
    """The guard rails that hold for one athlete. Distances in mm, times in s, ratios exact."""

    weekly_rise: Fraction = Fraction(10, 100)
    weekly_rise_mm: int = 3 * KM
    weekly_return: Fraction = Fraction(25, 100)
    travel_return: Fraction = Fraction(33, 100)
    long_rise: Fraction = Fraction(10, 100)
    long_rise_mm: int = 2 * KM
    long_return: Fraction = Fraction(25, 100)
    longest_s: int = 10_800
    long_share_3: Fraction = Fraction(55, 100)
    long_share_4: Fraction = Fraction(50, 100)
    long_share_5: Fraction = Fraction(42, 100)
    long_share_6: Fraction = Fraction(38, 100)
    long_share_7: Fraction = Fraction(35, 100)
    quality_share: Fraction = Fraction(25, 100)
    max_hard: int = 3
    gap_days: int = 2
    min_rest: int = 1
    long_floor_mm: int = 8 * KM
    tolerance: Fraction = Fraction(4, 100)
    credit: Fraction = Fraction(80, 100)
    credit4: Fraction = Fraction(92, 100)
    share_5: Fraction = Fraction(80, 100)
    share_10: Fraction = Fraction(65, 100)
    share_15: Fraction = Fraction(50, 100)
    share_29: Fraction = Fraction(40, 100)
    calm_5: int = 3
    calm_10: int = 7
    calm_15: int = 10
    calm_29: int = 14
    injury_share: Fraction = Fraction(75, 100)
    shortest_mm: int = 3 * KM
    small_mm: int = KM
    small_share: Fraction = Fraction(8, 100)
    race_day_mm: int = 3 * KM

    @classmethod
    def nearest(
        cls,
        athlete: Mapping[str, int | None] | None = None,
        template: Mapping[str, int | None] | None = None,
        practice: Mapping[str, int | None] | None = None,
    ) -> Self:
        """Resolve layers of stored whole numbers: the athlete's own, the template's, the practice's.

        A missing or None value asks the next layer; the default is last. Per cents are whole numbers
        (10 means 10 %). Raises ValueError for a name that is no guard rail or a negative number.
        """
        chosen: dict[str, int] = {limit.name: limit.default for limit in LIMITS}
        for layer in (practice, template, athlete):
            for name, value in (layer or {}).items():
                if name not in chosen:
                    raise ValueError(f"There is no guard rail called {name!r}.")
                if value is None:
                    continue
                if value < 0:
                    raise ValueError(f"A guard rail cannot be negative; {name} was given as {value}.")
                chosen[name] = value
        percents = {limit.name for limit in LIMITS if limit.measured == "percent"}
        values = {name: Fraction(v, 100) if name in percents else v for name, v in chosen.items()}
        return cls(**values)  # type: ignore[arg-type]

    def stored(self) -> dict[str, int]:
        """The rails as whole numbers again, for the version of a schedule that was made with them."""
        percents = {limit.name for limit in LIMITS if limit.measured == "percent"}
        return {
            f.name: int(getattr(self, f.name) * 100) if f.name in percents else getattr(self, f.name)
            for f in fields(self)
        }

    def long_share(self, runs: int) -> Fraction:
        """The long run's share of a week with this many planned runs (below 3: no sensible share)."""
        if runs <= 1:
            return Fraction(1)
        if runs == 2:
            return Fraction(65, 100)
        return (
            self.long_share_3,
            self.long_share_4,
            self.long_share_5,
            self.long_share_6,
            self.long_share_7,
        )[min(runs, 7) - 3]

    def break_share(self, days: int) -> Fraction:
        """What a first week may be after so many days off, as a share of what was run before."""
        if days < 5:
            return Fraction(1)
        if days < 10:
            return self.share_5
        if days < 15:
            return self.share_10
        return self.share_15 if days < 29 else self.share_29

    def calm_days(self, days: int) -> int:
        """Days without quality after so many days off."""
        if days < 5:
            return 0
        if days < 10:
            return self.calm_5
        if days < 15:
            return self.calm_10
        return self.calm_15 if days < 29 else self.calm_29


def suggested_max_hard(age: int) -> int:
    """Hard days a week the program suggests (common practice, no source: two from 60 years)."""
    return 2 if age >= 60 else 3
