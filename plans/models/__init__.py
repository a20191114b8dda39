"""Tables about what is run."""

from plans.models.assigning import Assignment, AssignmentRow
from plans.models.card_proposal import CardProposal
from plans.models.draft import SeasonDraft
from plans.models.group_session import Attendance, GroupSession
from plans.models.handout import Handout, HandoutBatch
from plans.models.job import Job
from plans.models.limits import GuardRails
from plans.models.log import OUTCOMES, REASONS, Log, LogFile
from plans.models.messages import Message, Receipt, Sending
from plans.models.proposal import Change, Proposal
from plans.models.raceday import RaceCourse, RacePlan, RaceReport
from plans.models.schedule import (
    Race,
    RaceEntry,
    Schedule,
    SchedulePart,
    ScheduleVersion,
    ScheduleWeek,
    Session,
    SessionIssue,
    version_before,
)
from plans.models.template import ROLES, WEEK_KINDS, NamedSession, Template, TemplateVersion

__all__ = [
    "OUTCOMES",
    "REASONS",
    "ROLES",
    "WEEK_KINDS",
    "Assignment",
    "AssignmentRow",
    "Attendance",
    "CardProposal",
    "Change",
    "GroupSession",
    "GuardRails",
    "Handout",
    "HandoutBatch",
    "Job",
    "Log",
    "LogFile",
    "Message",
    "NamedSession",
    "Proposal",
    "Race",
    "RaceCourse",
    "RaceEntry",
    "RacePlan",
    "RaceReport",
    "Receipt",
    "Schedule",
    "SchedulePart",
    "ScheduleVersion",
    "ScheduleWeek",
    "SeasonDraft",
    "Sending",
    "Session",
    "SessionIssue",
    "Template",
    "TemplateVersion",
    "version_before",
]
