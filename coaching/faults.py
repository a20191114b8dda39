"""When something breaks: a page that says so, with a number that stands in the log too."""

from __future__ import annotations

import secrets
import sys

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string

# What the database's driver raises when it is not there, is being restarted, is busy too long or its disk is full.
AWAY = (OperationalError, InterfaceError)
TRY_AGAIN_S = 10


def page(request: HttpRequest) -> HttpResponse:
    """Django's handler for an error nobody caught. Asks neither the database nor who is signed in: both may be why."""
    number = getattr(request, "fault", None) or secrets.token_hex(4)
    request.fault = number  # type: ignore[attr-defined]  # `coaching.logs` writes it beside the error
    away = isinstance(sys.exc_info()[1], AWAY)
    status = 503 if away else 500
    response: HttpResponse
    if request.headers.get("Accept", "").startswith("application/json"):
        response = JsonResponse({"error": "Not kept; send it again later.", "fault": number}, status=status)
    else:
        words = render_to_string("500.html", {"fault": number, "away": away})
        response = HttpResponse(words, status=status)
    response["Cache-Control"] = "no-store"
    if away:
        response["Retry-After"] = str(TRY_AGAIN_S)
    return response
