"""Tables about people. See `model.md` in the team's documents for the identities."""

from athletes.models.fitness import PaceCard, Result
from athletes.models.health import HealthNote, NoteReading, Screening
from athletes.models.people import (
    DAY_FIELDS,
    UNITS,
    WEEKDAYS,
    Athlete,
    Availability,
    Coach,
    CoachAthlete,
    Group,
    Membership,
    Practice,
    TimeOff,
    User,
)
from athletes.models.words import DeskNote

__all__ = [
    "DAY_FIELDS",
    "UNITS",
    "WEEKDAYS",
    "Athlete",
    "Availability",
    "Coach",
    "CoachAthlete",
    "DeskNote",
    "Group",
    "HealthNote",
    "Membership",
    "NoteReading",
    "PaceCard",
    "Practice",
    "Result",
    "Screening",
    "TimeOff",
    "User",
]
