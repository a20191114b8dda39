"""Full addresses for mail, codes and the calendar; and secret ones, of which only a hash is stored.

A secret is made from a random `nonce` in the row and the server's key: it can be shown again to its owner, while
the database alone gives it to nobody.
"""

from __future__ import annotations

import base64
import hashlib
import secrets
from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils.crypto import salted_hmac


def absolute(name: str, **kwargs: Any) -> str:
    """The address as people type it. A worker's thread doesn't know the sub-path; PUBLIC_URL does."""
    path = reverse(name, kwargs=kwargs or None)
    below = settings.FORCE_SCRIPT_NAME or ""
    if below and not path.startswith(f"{below}/"):
        path = below + path
    return f"{settings.PUBLIC_ORIGIN}{path}"


def new_nonce() -> str:
    return secrets.token_hex(16)


def secret_of(purpose: str, nonce: str) -> str:
    """256 bits as 43 characters."""
    digest = salted_hmac(f"coaching.{purpose}", nonce, algorithm="sha256").digest()
    return base64.urlsafe_b64encode(digest).rstrip(b"=").decode()


def hash_of(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
