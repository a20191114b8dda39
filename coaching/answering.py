"""The address by which a mailed message is answered: it shows that message and a form, and nothing else.

Signed, not stored. It ends after 14 days, with its answer (one a message, which a constraint keeps), and when the
reader's mail address is no longer the one it went to. It signs nobody in. GET shows, POST answers.
"""

from __future__ import annotations

from datetime import timedelta

from django.core import signing
from django.db.models import Q
from django.utils.crypto import salted_hmac

from coaching.addresses import absolute
from plans.models import Message

LASTS = timedelta(days=14)
SALT = "coaching.answer"


def address_of(message: Message) -> str:
    user = message.athlete.user
    signed = f"{message.key}.{_mark(user.email if user else '')}"
    return absolute("answer", token=signing.TimestampSigner(salt=SALT).sign(signed))


def _mark(email: str) -> str:
    return salted_hmac(SALT, email, algorithm="sha256").hexdigest()[:16]


def message_of(token: str) -> Message | None:
    """The coach's message, if the link is whole and young, and neither was answered nor lost its reader."""
    try:
        key, _, mark = signing.TimestampSigner(salt=SALT).unsign(token, max_age=LASTS).partition(".")
    except signing.BadSignature:
        return None
    live = Q(
        key=key,
        by_coach=True,
        answer__isnull=True,
        athlete__left_on__isnull=True,
        athlete__user__is_active=True,
    )
    message = Message.objects.filter(live).select_related("athlete__user", "session").first()
    if message is None or message.athlete.user is None or mark != _mark(message.athlete.user.email):
        return None
    return message
