"""Mail: a row in the transaction that caused it, sent by a job. What it said is not kept once it is sent.

Sent at least once: no mail server can tell after a power cut whether it had taken a letter. A second copy has the same
Message-ID as the first (RFC 5322, 3.6.4), so that it can be known for one.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.crypto import salted_hmac

from athletes.models import Practice, User
from coaching.addresses import absolute, secret_of
from coaching.models import Delivery, Invitation
from plans.jobs import GIVE_UP_AFTER, carries, enqueue
from plans.models import Job

TOO_LATE = "It would have come too late to be of use."


def post(
    kind: str,
    to: str,
    values: dict[str, Any],
    *,
    user: User | None = None,
    useful_for: timedelta | None = None,
) -> Delivery:
    """Write one message to be sent. Call inside the transaction that causes it.

    `kind` names three templates: mail/<kind>.subject.txt, mail/<kind>.txt and mail/<kind>.html.
    """
    now = timezone.now()
    row = Delivery.objects.create(
        kind=kind,
        to=to,
        user=user,
        values=values,
        made_at=now,
        useless_after=now + useful_for if useful_for else None,
    )
    enqueue("mail", str(row.pk))
    return row


@carries("mail")
def carry(job: Job) -> None:
    row = Delivery.objects.select_related("user").filter(pk=int(job.key), state="waiting").first()
    if row is None:
        return
    if row.useless_after and timezone.now() > row.useless_after:
        _close(row, "failed", TOO_LATE)
        return
    try:
        message = compose(row)
        row.subject = message.subject[:150]
        message.send()
    except Exception as error:
        row.error = f"{type(error).__name__}: {error}"[:300]
        if job.attempts >= GIVE_UP_AFTER:
            _close(row, "failed", row.error)
        else:
            row.save(update_fields=["error", "subject"])
        raise
    _close(row, "sent", "")


def _close(row: Delivery, state: str, error: str) -> None:
    row.state, row.error, row.values = state, error, {}
    row.sent_at = timezone.now() if state == "sent" else None
    row.save(update_fields=["state", "error", "values", "sent_at", "subject"])


def compose(row: Delivery) -> EmailMultiAlternatives:
    """Fill the three templates. A one-time link is made here, so that it is never stored."""
    from coaching.doors.confirming import confirming_address, new_address_link
    from coaching.doors.links import address_for
    from coaching.message_mail import link_of

    # RFC 3834: no machine answers what a machine sent.
    headers = {"Message-ID": message_id(row), "Auto-Submitted": "auto-generated"}
    values = {"practice": Practice.get(), "user": row.user, "public_url": settings.PUBLIC_URL, **row.values}
    if row.kind == "sign_in" and row.user:
        values["link"] = address_for(row.user)
    elif row.kind in ("welcome", "confirm") and row.user:
        values["link"] = confirming_address(row.user)
    elif row.kind == "new_address" and row.user:
        values["link"] = new_address_link(row.user, row.to)
    elif row.kind == "message":
        values["link"] = link_of(row.values)
    elif row.kind == "invitation":
        values["link"] = invitation_link(row.values["invitation"])
    subject = " ".join(render_to_string(f"mail/{row.kind}.subject.txt", values).split())
    message = EmailMultiAlternatives(
        subject, render_to_string(f"mail/{row.kind}.txt", values), to=[row.to], headers=headers
    )
    message.attach_alternative(render_to_string(f"mail/{row.kind}.html", values), "text/html")
    return message


def message_id(row: Delivery) -> str:
    """The same for the same row, however often it is sent."""
    mark = salted_hmac(
        "coaching.mail", f"{row.pk} {row.made_at.timestamp()}", algorithm="sha256"
    ).hexdigest()[:32]
    return f"<{mark}@{urlsplit(settings.PUBLIC_URL).hostname}>"


def invitation_link(pk: int) -> str:
    """Made when the letter is, and stored nowhere. One that was withdrawn since has none."""
    nonce = Invitation.objects.get(pk=pk).nonce
    return absolute("join", token=secret_of("invitation", nonce))
