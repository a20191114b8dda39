"""An athlete's paces and what they stand on, as desk, phone and paper show them. Everything is asked of the core."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from athletes.models import Athlete, PaceCard, Result
from athletes.running import paces
from athletes.running.effort import EFFORT_WORDS, effort_at
from athletes.running.goals import Judgement, judge_goal
from athletes.running.heart_rate import HeartRange, HeartRateError, estimated_maximum, heart_ranges
from athletes.running.paces import PACE_NAMES, PaceName, show_range
from athletes.running.performance import ResultError, distance_name
from athletes.running.predictions import Prediction, Predictions, predictions, show_estimate
from athletes.running.units import FIVE_K, HALF_MARATHON, MARATHON, TEN_K, Distance, Duration, Units
from coaching import charts
from coaching.pace_rows import WORDS
from plans.assigning import age_on
from plans.drawing import Chart
from plans.evidence import Evidence, evidence_of, why_it_does_not_count


@dataclass(frozen=True)
class Row:
    """One pace of a card: the range, how wide it is, how it feels, and the heart rate where it is known."""

    name: str
    pace: str
    width: str
    effort: int
    words: str
    heart: str


@dataclass(frozen=True)
class Compared:
    """One pace of two cards; `how` says by how much the middle of the range moves."""

    name: str
    was: str
    now: str
    how: str


@dataclass(frozen=True)
class Told:
    """One formula's answer in words."""

    title: str
    time: str
    between: str
    detail: str
    caution: str
    valid: str
    used: bool


@dataclass(frozen=True)
class Kept:
    """One result of the history; `why_not` is empty when it counts, `best` when it sets the paces."""

    result: Result
    name: str
    why_not: str
    best: bool


def rows_of(card: paces.PaceCard, units: Units, hearts: Mapping[PaceName, HeartRange]) -> list[Row]:
    rows = []
    for name in PACE_NAMES:
        if (ends := card.ranges.get(name)) is None:
            continue
        effort = effort_at(card, name)
        heart = f"{hearts[name].low}–{hearts[name].high}" if name in hearts else ""
        width = f"± {round(float(ends.width_percent), 1):g} %"
        rows.append(Row(WORDS[name], show_range(ends, units), width, effort, EFFORT_WORDS[effort], heart))
    return rows


def compare(old: paces.PaceCard | None, new: paces.PaceCard, units: Units) -> list[Compared]:
    """Every pace of either card, old beside new."""
    rows = []
    for name in PACE_NAMES:
        was, now = old.ranges.get(name) if old else None, new.ranges.get(name)
        if was or now:
            said = [show_range(ends, units) if ends else "none" for ends in (was, now)]
            rows.append(Compared(WORDS[name], said[0], said[1], _moved(was, now, units)))
    return rows


def _moved(was: paces.PaceRange | None, now: paces.PaceRange | None, units: Units) -> str:
    if not (was and now):
        return ""
    scale = Distance.from_miles(1).km if units == "mi" else 1
    seconds = round((now.mid.s_per_km - was.mid.s_per_km) * scale)
    return f"{abs(seconds)} s {'slower' if seconds > 0 else 'faster'}" if seconds else "the same"


@dataclass(frozen=True)
class Fitness:
    """`over` is the distance predicted; the goal is judged where it is over that distance."""

    evidence: Evidence
    over: Distance

    @property
    def units(self) -> Units:
        return self.evidence.units

    @property
    def stored(self) -> PaceCard | None:
        return self.evidence.standing

    @cached_property
    def card(self) -> paces.PaceCard | None:
        return self.stored.card if self.stored else None

    @cached_property
    def rows(self) -> list[Row]:
        return rows_of(self.card, self.units, self.hearts) if self.card else []

    @property
    def over_name(self) -> str:
        return distance_name(self.over, self.units)

    @property
    def choices(self) -> list[tuple[str, str, bool]]:
        """Distances to predict: key for the address, name, whether it is the one shown."""
        return [
            (key, distance_name(distance, self.units), distance == self.over)
            for key, distance in distances_of(self.evidence)
        ]

    @cached_property
    def _hearts(self) -> tuple[Mapping[PaceName, HeartRange], str]:
        """The ranges, and where they come from or why there are none."""
        one = self.evidence.athlete
        age = age_on(one.born, self.evidence.today) if one.born else None
        if one.resting_rate is None:
            return {}, "Heart-rate ranges need the resting rate, and the maximum rate or a date of birth."
        try:
            ranges = heart_ranges(one.resting_rate, one.maximum_rate, age)
        except HeartRateError as error:
            return {}, str(error)
        if one.maximum_rate is not None:
            return ranges, (
                f"Heart rate by Karvonen 1957, from {one.resting_rate} at rest and a measured maximum of "
                f"{one.maximum_rate}."
            )
        assert age is not None
        return ranges, (
            f"Heart rate by Karvonen 1957, from {one.resting_rate} at rest and an estimated maximum of "
            f"{estimated_maximum(age)}, give or take 10 (Tanaka 2001, from the age alone); the ranges are that "
            f"much wider. A measured maximum is better."
        )

    @property
    def hearts(self) -> Mapping[PaceName, HeartRange]:
        return self._hearts[0]

    @property
    def heart_words(self) -> str:
        return self._hearts[1]

    @cached_property
    def outlook(self) -> Predictions | None:
        runs = self.evidence.runs
        return predictions(runs, self.over, self.evidence.weekly, units=self.units) if runs else None

    @cached_property
    def told(self) -> list[Told]:
        """Every formula that applies, the one used first."""
        outlook = self.outlook
        if outlook is None:
            return []
        return sorted((_told(one, outlook.chosen) for one in outlook.given), key=lambda one: not one.used)

    @cached_property
    def goal(self) -> Duration | None:
        goal = self.evidence.goal
        return goal[1] if goal and goal[0] == self.over else None

    @cached_property
    def judged(self) -> Judgement | None:
        outlook = self.outlook
        if outlook is None or self.goal is None:
            return None
        try:
            return judge_goal(self.goal, outlook, self.evidence.weekly, units=self.units)
        except ResultError as error:
            return Judgement("unknown", str(error), ())

    @cached_property
    def picture(self) -> Chart | None:
        if self.outlook is None or not self.outlook.given:
            return None
        ordered = sorted(self.outlook.given, key=lambda one: one is not self.outlook.chosen)  # type: ignore[union-attr]
        bars = [charts.Prediction(SHORT[p.formula], p.low.ms, p.time.ms, p.high.ms) for p in ordered]
        return charts.prediction_spread(bars, goal_ms=self.goal.ms if self.goal else None)

    @cached_property
    def history(self) -> list[Kept]:
        """Every result, newest first."""
        base = self.evidence.base
        return [
            Kept(
                one,
                distance_name(Distance(one.distance_mm), self.units),
                why_it_does_not_count(one, self.evidence),
                base is not None and one.pk == base.pk,
            )
            for one in self.evidence.athlete.results.all()
        ]


SHORT = {
    "vickers_two": "Vickers & Vertosick, 2 races",
    "vickers_one": "Vickers & Vertosick, 1 race",
    "daniels_gilbert": "Daniels & Gilbert",
    "riegel": "Riegel",
    "own_result": "Own result",
}


def _told(one: Prediction, chosen: Prediction | None) -> Told:
    between = f"{show_estimate(one.low)} to {show_estimate(one.high)}"
    return Told(
        one.title, show_estimate(one.time), between, one.detail, one.caution, one.valid, one is chosen
    )


def distances_of(evidence: Evidence) -> list[tuple[str, Distance]]:
    """What can be predicted, by key in the address: the goal race first, then the usual distances."""
    usual = [("5k", FIVE_K), ("10k", TEN_K), ("half", HALF_MARATHON), ("marathon", MARATHON)]
    race = evidence.schedule.race_entry.race if evidence.schedule and evidence.schedule.race_entry else None
    if race is None:
        return [*usual[3:], *usual[:3]]
    over = Distance(race.distance_mm)
    same = next((key for key, distance in usual if distance == over), "race")
    return [(same, over), *(one for one in usual if one[1] != over)]


def fitness_of(athlete: Athlete, over: str = "") -> Fitness:
    """`over` is a key of `distances_of`; anything else means the goal race, or the marathon without one."""
    evidence = evidence_of([athlete])[athlete.pk]
    choices = distances_of(evidence)
    return Fitness(evidence, dict(choices).get(over, choices[0][1] if choices else MARATHON))
