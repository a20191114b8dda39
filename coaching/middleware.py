"""Headers on every answer, and when a device was last seen."""

from __future__ import annotations

import time
from collections.abc import Callable

from django.http import HttpRequest, HttpResponseBase
from django.utils.cache import patch_cache_control

# Nothing here asks for the camera, the place or the microphone; passkeys only from our own pages.
PERMISSIONS = ", ".join(
    [f"{name}=()" for name in ("camera", "geolocation", "microphone", "payment", "usb", "display-capture")]
    + [f"publickey-credentials-{what}=(self)" for what in ("create", "get")]
)
SEEN_EVERY_S = 600


def manners(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    def middleware(request: HttpRequest) -> HttpResponseBase:
        response = get_response(request)
        response.setdefault("Permissions-Policy", PERMISSIONS)
        if request.user.is_authenticated:
            if not response.has_header("Cache-Control"):
                patch_cache_control(response, private=True, no_cache=True)
            # Kept in the session, so that a busy device writes once in ten minutes.
            if time.time() - request.session.get("seen", 0) > SEEN_EVERY_S:
                request.session["seen"] = int(time.time())
        return response

    return middleware
