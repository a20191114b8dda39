"""Tables about what is run."""

from plans.models.handout import Handout, HandoutBatch
from plans.models.job import Job
from plans.models.limits import GuardRails
from plans.models.log import OUTCOMES, REASONS, Log
from plans.models.proposal import Change, Proposal
from plans.models.schedule import (
    Race,
    RaceEntry,
    Schedule,
    ScheduleVersion,
    ScheduleWeek,
    Session,
    SessionIssue,
    version_before,
)
from plans.models.template import ROLES, WEEK_KINDS, Template, TemplateVersion

__all__ = [
    "OUTCOMES",
    "REASONS",
    "ROLES",
    "WEEK_KINDS",
    "Change",
    "GuardRails",
    "Handout",
    "HandoutBatch",
    "Job",
    "Log",
    "Proposal",
    "Race",
    "RaceEntry",
    "Schedule",
    "ScheduleVersion",
    "ScheduleWeek",
    "Session",
    "SessionIssue",
    "Template",
    "TemplateVersion",
    "version_before",
]
