"""Every shipped template, fitted to several weeks of free days: nothing missed, nothing changed."""

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path

import pytest

from athletes.running.paces import PaceCard
from plans.training.fitting import fit
from plans.training.fitting_types import CannotFit, FitAthlete, FitRace
from plans.training.guardrails import Rails
from plans.training.replanning import rebalance
from plans.training.schedule import RUNS, Inputs, Log, Week
from plans.training.template_file import read_template
from tests.training.planning import done_until, missed
from tests.training.published_card import CARD
from tests.training.shipped import sessions_of

LIBRARY = sorted(Path("plans/library").glob("*.yaml"))
TODAY = date(2026, 1, 5)
FREE = {
    3: (0, 90, 0, 90, 0, 0, 240),
    4: (0, 90, 0, 90, 0, 90, 240),
    5: (0, 90, 90, 90, 0, 120, 240),
    6: (60, 90, 90, 90, 0, 120, 240),
    7: (90, 90, 90, 90, 90, 120, 240),
}


def fitted(path: Path, days: int) -> Inputs | None:
    """The template as a signed schedule for someone who runs what its first week asks for."""
    template = read_template(path.read_text())
    race = None
    if template.race_mm:
        race = FitRace(TODAY + timedelta(days=7 * len(template.weeks) - 1), template.race_mm)
    weekly, longest = template.from_week_mm or 30_000_000, template.from_long_mm or 12_000_000
    athlete = FitAthlete(weekly, longest, FREE[days], CARD)
    try:
        made = fit(template, athlete, race, Rails(), TODAY)
    except CannotFit:
        return None
    first = made.weeks[0].first_day
    weeks = tuple(Week(first + timedelta(days=7 * n), w.kind) for n, w in enumerate(made.weeks))
    race_day = race.day if race else None
    return Inputs(
        weeks, sessions_of(made.sessions, CARD), TODAY, weekly_mm=weekly, longest_mm=longest, race_day=race_day,
        race_mm=template.race_mm or 0, minimum_long_mm=template.least_long_mm,
    )  # fmt: skip


@pytest.mark.parametrize("days", sorted(FREE))
@pytest.mark.parametrize("path", LIBRARY, ids=lambda p: p.stem)
def test_nothing_missed_nothing_changed(path, days):
    inputs = fitted(path, days)
    if inputs is None:
        pytest.skip("this template does not fit so few days")
    length = 7 * len(inputs.weeks)
    for n in (0, 3, length // 3, length // 2, length - 5):
        now = TODAY + timedelta(days=n)
        full = tuple(
            Log(s.day, s.key, "done", s.mm, s.s) for s in inputs.plan if s.day < now and s.role in RUNS
        )
        low = tuple(
            Log(s.day, s.key, "done", s.low_mm or s.mm, s.low_s or s.s)
            for s in inputs.plan
            if s.day < now and s.role in RUNS
        )
        slow = tuple(replace(x, mm=x.mm * 85 // 100) if _timed(inputs, x.key) else x for x in full)
        for logs in (full, low, slow):
            result = rebalance(replace(inputs, logs=logs, today=now))
            assert result.departures == ()
            assert result.verdicts == ()


def _timed(inputs, key):
    return next(s for s in inputs.plan if s.key == key).written_in == "time"


def test_the_card_of_these_tests_is_a_card():
    assert isinstance(CARD, PaceCard)
    assert CARD.ranges["easy"].mid.s_per_km > Fraction(300)


@pytest.mark.parametrize("days", [4, 5, 6])
@pytest.mark.parametrize("path", LIBRARY, ids=lambda p: p.stem)
def test_one_easy_or_quality_run_missed_changes_nothing(path, days):
    """Four days and more: no single run that stays missed is worth a line, wherever it stands in the season.

    The quality of the peak week is left out: the taper is measured from that week.
    """
    inputs = fitted(path, days)
    if inputs is None:
        pytest.skip("this template does not fit so few days")
    proposed = {}
    for session in inputs.plan:
        peak = inputs.weeks[(session.day - TODAY).days // 7].kind == "peak"
        if session.role == "easy" or (session.role == "quality" and not peak):
            role = "E" if session.role == "easy" else "Q"
            then = missed(inputs, session.day, why="tired", roles=role)
            changes = rebalance(done_until(then, session.day + timedelta(days=1))).changes
            if changes:
                proposed[str(session.day)] = [c.reason.sentence for c in changes]
    assert proposed == {}
