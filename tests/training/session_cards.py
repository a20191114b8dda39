"""Pace cards for tests: one without width for sums by hand, one with ranges."""

from athletes.running.paces import PaceCard, PaceRange
from athletes.running.units import Pace

EXACT = {"5K": 240, "10K": 250, "HM": 270, "MP": 300, "goal": 290, "easy": 360, "recovery": 400}
WIDE = {
    "5K": (236, 244),
    "10K": (246, 254),
    "HM": (264, 276),
    "MP": (294, 306),
    "goal": (288, 292),
    "easy": (340, 380),
    "recovery": (380, 420),
}


def _card(ranges):
    paces = {
        name: PaceRange(Pace.from_s_per_km(fast), Pace.from_s_per_km(slow))
        for name, (fast, slow) in ranges.items()
    }
    return PaceCard(paces, "by hand", "a test", 50.0)


exact_card = _card({name: (pace, pace) for name, pace in EXACT.items()})
wide_card = _card(WIDE)
no_goal_card = _card({name: ends for name, ends in WIDE.items() if name != "goal"})
