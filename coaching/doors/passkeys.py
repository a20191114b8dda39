"""Passkeys: made on the account page, used at the door or as a coach's second step. The library does the ceremony."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST
from django.views.i18n import JavaScriptCatalog
from django_otp_webauthn import exceptions, views
from django_otp_webauthn.helpers import WebAuthnHelper
from django_otp_webauthn.models import WebAuthnCredential

from athletes.models import Coach, Practice, User
from coaching.access import SignedIn, account_only
from coaching.doors.devices import device_words


class Helper(WebAuthnHelper):  # type: ignore[misc]
    def get_relying_party_name(self) -> str:
        return Practice.get().name

    def get_allowed_origins(self) -> list[str]:
        """PUBLIC_URL's; on localhost the port that is open, since no other machine can claim that name."""
        if settings.OTP_WEBAUTHN_RP_ID == "localhost" and self.request.get_host().startswith("localhost"):
            return [f"{self.request.scheme}://{self.request.get_host()}"]
        return list(settings.OTP_WEBAUTHN_ALLOWED_ORIGINS)

    def get_credential_display_name(self, user: User) -> str:
        return f"{user.name} ({user.email})" if user.name else user.email


class ReadsJson:
    """A body that is no JSON object is a malformed request, not a fault of ours."""

    def _parse_request_data(self, request: Any) -> Any:
        try:
            data = super()._parse_request_data(request)  # type: ignore[misc]
        except (ValueError, RecursionError) as error:  # no UTF-8, a number too long, brackets too deep
            raise exceptions.MalformedRequest() from error
        if not hasattr(data, "get"):
            raise exceptions.MalformedRequest()
        return data


class MayAdd:
    def user_is_mfa_enrolled(self, user: User) -> bool:
        """A coach shows the second step before a new one is made; an athlete's passkey is only another way in."""
        return Coach.objects.filter(user=user).exists() and super().user_is_mfa_enrolled(user)  # type: ignore[misc]


class BeginAdding(ReadsJson, MayAdd, views.BeginCredentialRegistrationView):  # type: ignore[misc]
    pass


class CompleteAdding(ReadsJson, MayAdd, views.CompleteCredentialRegistrationView):  # type: ignore[misc]
    pass


class BeginUsing(ReadsJson, views.BeginCredentialAuthenticationView):  # type: ignore[misc]
    pass


class CompleteUsing(ReadsJson, views.CompleteCredentialAuthenticationView):  # type: ignore[misc]
    def complete_auth(self, device: WebAuthnCredential) -> Any:
        user = super().complete_auth(device)
        self.request.session["device"] = device_words(self.request.headers.get("User-Agent", ""))
        return user


words = JavaScriptCatalog.as_view(packages=["django_otp_webauthn"])


@account_only
def passkeys(request: SignedIn) -> HttpResponse:
    """Those there are, and a button for another. Needs JavaScript, as every passkey does."""
    mine = WebAuthnCredential.objects.filter(user=request.user).order_by("created_at")
    return render(request, "doors/passkeys.html", {"passkeys": mine})


@require_POST
@account_only
def remove(request: SignedIn, pk: int) -> HttpResponse:
    one = get_object_or_404(WebAuthnCredential, pk=pk, user=request.user)
    one.delete()
    messages.success(
        request, "Removed. Delete it on the device too, so that it is not offered there any more."
    )
    return redirect("passkeys")
