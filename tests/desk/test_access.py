"""Every address has a declared access, taken from the URL configuration; each is tried by six kinds of people."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

# Open to everybody, on purpose.
PUBLIC = {"home", "sign-in", "sign-out", "health", "privacy"}
# Open to whoever holds the secret in the address, or to the passkey ceremony that finds out who it is.
BY_SECRET = {"sign-in-link", "join", "feed"}
PUBLIC |= BY_SECRET | {"ask-link"}
PASSKEYS = {
    "credential-registration-begin",
    "credential-registration-complete",
    "credential-authentication-begin",
    "credential-authentication-complete",
    "js-i18n-catalog",
}


def addresses() -> list[URLPattern]:
    return [pattern for pattern in get_resolver().url_patterns if isinstance(pattern, URLPattern)]


def test_the_only_addresses_below_another_are_the_passkey_ceremony() -> None:
    below = [p for p in get_resolver().url_patterns if isinstance(p, URLResolver)]
    assert {one.name for resolver in below for one in resolver.url_patterns} == PASSKEYS


def test_every_address_declares_who_may_see_it() -> None:
    undeclared = [p.name for p in addresses() if not hasattr(p.callback, "access") and p.name not in PUBLIC]
    assert undeclared == []
    assert all(p.name for p in addresses())


@pytest.mark.django_db
def test_nobody_gets_in_without_signing_in() -> None:
    client = Client()
    for pattern in addresses():
        if pattern.name in PUBLIC:
            continue
        values = {
            key: uuid4() if "uuid" in type(c).__name__.lower() else 1
            for key, c in pattern.pattern.converters.items()
        }
        answer = client.get(reverse(str(pattern.name), kwargs=values))
        # A page that only takes POST may say so; nothing of it is shown.
        assert answer.status_code in (302, 405), pattern.name
        if answer.status_code == 302:
            assert answer["Location"].startswith("/sign-in/"), pattern.name
