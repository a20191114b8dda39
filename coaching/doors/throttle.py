"""How often somebody may try a door, counted for the account and for the address they come from.

A table of our own of some fifty lines: the ready-made library (django-axes) has one limit for account and address
alike, so that a club behind one connection locks itself out; it keeps browsers and paths of everybody who failed;
and it knows passwords only, while here mailed links and codes are counted too. The address is the connection's:
`serve` lets waitress take it from X-Forwarded-For when TRUSTED_PROXIES says how many proxies wrote it.
"""

from __future__ import annotations

from datetime import timedelta
from ipaddress import IPv6Address, ip_address

from django.http import HttpRequest
from django.utils import timezone
from django.utils.crypto import salted_hmac

from coaching.models import Attempt

WINDOW = timedelta(minutes=15)
# Kind: (tries an account, tries an address) in the window. Common practice, no source.
LIMITS = {
    "password": (8, 40),
    "link": (3, 20),
    "code": (8, 40),
    "join": (20, 40),
    "answer": (6, 40),
    "confirm": (3, 20),
}
WAIT = "Too many tries. Wait a quarter of an hour, or use another way in."


def _network(address: str) -> str:
    """The address; of IPv6 the first 64 bits: below them every connection chooses its own (RFC 4291, 2.5.4)."""
    try:
        read = ip_address(address)
    except ValueError:
        return address
    if not isinstance(read, IPv6Address):
        return address
    return str(read.ipv4_mapped or IPv6Address(int(read) >> 64 << 64))


def _subjects(request: HttpRequest, account: str) -> dict[str, str]:
    named = {"account": account.strip().lower(), "address": _network(request.META.get("REMOTE_ADDR", ""))}
    return {
        what: salted_hmac("coaching.attempt", f"{what}:{value}", algorithm="sha256").hexdigest()
        for what, value in named.items()
        if value
    }


def too_many(request: HttpRequest, kind: str, account: str) -> bool:
    limits = dict(zip(("account", "address"), LIMITS[kind], strict=True))
    since = timezone.now() - WINDOW
    return any(
        Attempt.objects.filter(kind=kind, subject=subject, at__gte=since).count() >= limits[what]
        for what, subject in _subjects(request, account).items()
    )


def count(request: HttpRequest, kind: str, account: str) -> None:
    now = timezone.now()
    Attempt.objects.bulk_create(
        Attempt(kind=kind, subject=subject, at=now) for subject in _subjects(request, account).values()
    )


def forgive(request: HttpRequest, kind: str, account: str) -> None:
    """After a success the account's slips no longer count; the address's still do."""
    Attempt.objects.filter(kind=kind, subject=_subjects(request, account).get("account", "")).delete()
