"""The address by which a mailed message is answered: it shows that message and a form, and nothing else.

Signed, not stored. It ends after 14 days, and with its answer (one a message, which a constraint keeps). It signs
nobody in. GET shows, POST answers.
"""

from __future__ import annotations

from datetime import timedelta

from django.core import signing
from django.db.models import Q

from coaching.addresses import absolute
from plans.models import Message

LASTS = timedelta(days=14)
SALT = "coaching.answer"


def address_of(message: Message) -> str:
    return absolute("answer", token=signing.TimestampSigner(salt=SALT).sign(str(message.key)))


def message_of(token: str) -> Message | None:
    """The coach's message, if the link is whole and young, and neither was answered nor lost its reader."""
    try:
        key = signing.TimestampSigner(salt=SALT).unsign(token, max_age=LASTS)
    except signing.BadSignature:
        return None
    live = Q(
        key=key,
        by_coach=True,
        answer__isnull=True,
        athlete__left_on__isnull=True,
        athlete__user__isnull=False,
    )
    return Message.objects.filter(live).select_related("athlete__user", "session").first()
