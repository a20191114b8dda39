"""Tables of the site itself: invitations, sign-in, mail, the calendar feed."""

from coaching.models.backup import BackupRun
from coaching.models.desk import Phrase, RosterLine, Snooze, SundayRound
from coaching.models.doors import Attempt, DeviceSession
from coaching.models.mail import Delivery
from coaching.models.sharing import Erasure, Feed, FeedEvent, Invitation

__all__ = [
    "Attempt",
    "BackupRun",
    "Delivery",
    "DeviceSession",
    "Erasure",
    "Feed",
    "FeedEvent",
    "Invitation",
    "Phrase",
    "RosterLine",
    "Snooze",
    "SundayRound",
]
