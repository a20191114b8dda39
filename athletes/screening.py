"""The health questions before a first plan: what is asked, what stands, and who signed for a yes.

Asked on disease, symptoms and injury as in Riebe et al. 2015 (Med Sci Sports Exerc 47:2473), in our own words;
pregnancy after ACOG Committee Opinion 804. A yes is not a diagnosis: it says that a clinician comes first. Only
yes or no is kept, no story.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from athletes.models import Athlete, Screening

HOLDS_FOR = timedelta(days=365)
"""Asked again after a year (common practice, no source)."""

QUESTIONS: tuple[tuple[str, str], ...] = (
    (
        "disease",
        "Has a doctor ever told you of a heart condition, diabetes or another metabolic disease, or kidney disease?",
    ),
    (
        "symptoms",
        "Do you get pressure or pain in the chest, fainting or near-fainting, a racing or stumbling heart, or more"
        " breathlessness than the effort explains?",
    ),
    ("legs", "Do your ankles swell, or do your calves hurt when you walk?"),
    (
        "injury",
        "Have you a pain that changes your stride, hurts at rest or at night, or has lasted more than ten days?",
    ),
    ("advice", "Has a doctor advised you not to run, or to run only under supervision?"),
    ("pregnant", "Are you pregnant?"),
)

CLINICIAN_FIRST = "A yes to a health question: a clinician comes first, or a coach signs for it by name."


@dataclass(frozen=True)
class Health:
    """What stands of the questions. `signed_by` is empty unless a coach decided otherwise by name."""

    asked: bool = False
    any_yes: bool = False
    pregnant: bool = False
    signed_by: str = ""

    @property
    def no_plan_reason(self) -> str:
        return CLINICIAN_FIRST if self.any_yes and not self.pregnant else ""


def health_of(answers: Mapping[str, object], signed_by: str = "") -> Health:
    yes = {name for name, answer in answers.items() if answer is True}
    return Health(True, bool(yes), "pregnant" in yes, signed_by)


def standing(athlete: Athlete, now: datetime) -> Health:
    """The newest answers, if they are not too old to count."""
    newest = athlete.screenings.filter(at__gte=now - HOLDS_FOR).first()
    return health_of(newest.answers, newest.cleared_by_name) if newest else Health()


def keep(athlete: Athlete, answers: Mapping[str, bool], signed_by: str, at: datetime) -> Screening:
    return Screening.objects.create(
        athlete=athlete,
        at=at,
        answers={name: bool(answers.get(name)) for name, _ in QUESTIONS},
        cleared_by_name=signed_by[:80],
    )
