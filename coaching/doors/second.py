"""The second step, for coaches: a passkey, a one-time code from an app, or a code from the paper."""

from __future__ import annotations

import base64
import binascii
from typing import Any

import django_otp
import segno
from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice
from django_otp_webauthn.models import WebAuthnCredential

from athletes.models import User
from coaching.access import SignedIn, account_only, signed_in_only
from coaching.doors import throttle
from coaching.doors.signing_in import safe_next

ON_PAPER = 8


class CodeForm(forms.Form):
    code = forms.CharField(
        label="Code",
        max_length=20,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "inputmode": "text", "spellcheck": "false"}
        ),
        error_messages={
            "required": "Type the six digits the app shows now, or one of the codes on your paper."
        },
    )

    def clean_code(self) -> str:
        return "".join(self.cleaned_data["code"].split()).lower()


def check(user: User, code: str) -> Any:
    """The device that takes this code, or None. Six digits are the app's, everything else is from the paper."""
    model = TOTPDevice if code.isdigit() and len(code) == 6 else StaticDevice
    with transaction.atomic():
        for device in model.objects.devices_for_user(user, confirmed=True).select_for_update():
            if device.verify_token(code):
                return device
    return None


@never_cache
@signed_in_only
def second_step(request: SignedIn) -> HttpResponse:
    """Asked of a coach after the password or the link."""
    going = safe_next(request, request.POST.get("next") or request.GET.get("next"))
    if request.user.is_verified():  # type: ignore[attr-defined]
        return redirect(going or "home")
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if throttle.too_many(request, "code", request.user.email):
            form.add_error(None, throttle.WAIT)
        elif device := check(request.user, form.cleaned_data["code"]):
            django_otp.login(request, device)
            request.session.cycle_key()
            return redirect(going or "home")
        else:
            throttle.count(request, "code", request.user.email)
            form.add_error("code", "This code doesn't fit. The app shows a new one every half minute.")
    context = {
        "form": form,
        "next": going,
        "has_codes": TOTPDevice.objects.filter(user=request.user, confirmed=True).exists(),
        "has_passkey": WebAuthnCredential.objects.filter(user=request.user, confirmed=True).exists(),
    }
    return render(request, "doors/second.html", context, status=422 if form.errors else 200)


@never_cache
@account_only
def codes(request: SignedIn) -> HttpResponse:
    """Set up an app for one-time codes: begin, scan, confirm with the first code; then the paper is shown once."""
    mine = TOTPDevice.objects.filter(user=request.user)
    device = mine.filter(confirmed=True).first() or mine.first()
    form = CodeForm(request.POST if request.POST.get("do") == "confirm" else None)
    if request.method == "POST" and request.POST.get("do") == "begin":
        if device is None:
            TOTPDevice.objects.create(user=request.user, name="app", confirmed=False)
        return redirect("codes")
    if device and not device.confirmed and form.is_bound and form.is_valid():
        if device.verify_token(form.cleaned_data["code"]):
            device.confirmed = True
            device.save(update_fields=["confirmed"])
            django_otp.login(request, device)
            return render(request, "doors/paper.html", {"codes": new_paper(request.user)})
        form.add_error(
            "code", "This code doesn't fit. Check that the device's clock is right, and take the next one."
        )
    context = {
        "form": form,
        "device": device,
        "left": StaticToken.objects.filter(device__user=request.user).count(),
    }
    if device and not device.confirmed:
        context |= {"picture": qr(device.config_url), "key": key_of(device)}
    return render(request, "doors/codes.html", context, status=422 if form.errors else 200)


def new_paper(user: User) -> list[str]:
    """Eight codes for the day the phone is lost; those before no longer count."""
    StaticDevice.objects.filter(user=user).delete()
    device = StaticDevice.objects.create(user=user, name="paper")
    made = [StaticToken.random_token() for _ in range(ON_PAPER)]
    StaticToken.objects.bulk_create(StaticToken(device=device, token=token) for token in made)
    return made


@require_POST
@account_only
def paper(request: SignedIn) -> HttpResponse:
    return render(request, "doors/paper.html", {"codes": new_paper(request.user)})


@require_POST
@account_only
def remove_codes(request: SignedIn) -> HttpResponse:
    TOTPDevice.objects.filter(user=request.user).delete()
    StaticDevice.objects.filter(user=request.user).delete()
    messages.success(request, "One-time codes are off.")
    return redirect("account")


def key_of(device: TOTPDevice) -> str:
    """The key in the letters an app wants when it can't scan, in fours."""
    text = base64.b32encode(binascii.unhexlify(device.key)).decode().rstrip("=")
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))


def qr(text: str) -> SafeString:
    """A code to scan, as SVG that the content policy lets through; black on white in dark mode too."""
    code = segno.make(text, error="m", micro=False)
    return mark_safe(
        code.svg_inline(
            scale=5, border=4, light="#fff", dark="#000", omitsize=True, svgclass="qr", lineclass=None
        )
    )
