"""One's own account: password, passkeys, codes, and the devices that are signed in."""

from __future__ import annotations

import hashlib

from django import forms
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import PasswordChangeForm, SetPasswordForm
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST
from django_otp.plugins.otp_totp.models import TOTPDevice
from django_otp_webauthn.models import WebAuthnCredential

from athletes.models import Athlete, Coach
from coaching import mailing
from coaching.access import SignedIn, account_only
from coaching.doors import throttle
from coaching.doors.signing_in import came_by_link
from coaching.models import DeviceSession


def short_key(session: DeviceSession) -> str:
    """Names a session on a page without giving away its key."""
    return hashlib.sha256(session.session_key.encode()).hexdigest()[:20]


@account_only
def account(request: SignedIn) -> HttpResponse:
    now = timezone.now()
    sessions = DeviceSession.objects.filter(user=request.user, expire_date__gt=now)
    context = {
        "sessions": [(s, short_key(s), s.session_key == request.session.session_key) for s in sessions],
        "passkeys": WebAuthnCredential.objects.filter(user=request.user).count(),
        "codes": TOTPDevice.objects.filter(user=request.user, confirmed=True).exists(),
        "coach": Coach.objects.filter(user=request.user).first(),
        "athlete": Athlete.objects.filter(user=request.user).first(),
    }
    return render(request, "doors/account.html", context)


def needs_no_old(request: SignedIn) -> bool:
    """Whoever has no password yet, or just came by a link from their own mail, need not know the old one."""
    return not request.user.has_usable_password() or came_by_link(request)


@never_cache
@account_only
def password(request: SignedIn) -> HttpResponse:
    kind: type[forms.Form] = SetPasswordForm if needs_no_old(request) else PasswordChangeForm
    throttled = request.method == "POST" and throttle.too_many(request, "password", request.user.email)
    form = kind(request.user, None if throttled else request.POST or None)  # type: ignore[arg-type]
    if request.method == "POST" and not throttled:
        if form.is_valid():
            save_password(request, form)
            messages.success(request, "Your password is changed. Every other device is signed out.")
            return redirect("account")
        if "old_password" in form.errors:
            throttle.count(request, "password", request.user.email)
    context = {
        "form": form,
        "throttled": throttle.WAIT if throttled else "",
        "by_link": needs_no_old(request),
    }
    return render(request, "doors/password.html", context, status=422 if form.errors or throttled else 200)


def save_password(request: SignedIn, form: forms.Form) -> None:
    with transaction.atomic():
        form.save()  # type: ignore[attr-defined]
        update_session_auth_hash(request, request.user)
        request.session.pop("by_link", None)
        end_others(request)
        mailing.post("password_changed", request.user.email, {}, user=request.user)


def end_others(request: SignedIn) -> int:
    mine = DeviceSession.objects.filter(user=request.user).exclude(pk=request.session.session_key)
    return mine.delete()[0]


@require_POST
@account_only
def end_session(request: SignedIn, key: str) -> HttpResponse:
    for session in DeviceSession.objects.filter(user=request.user):
        if short_key(session) == key:
            session.delete()
            messages.success(request, f"{session.device or 'That device'} is signed out.")
            return redirect("account")
    raise Http404


@require_POST
@account_only
def end_all(request: SignedIn) -> HttpResponse:
    ended = end_others(request)
    messages.success(request, f"Signed out elsewhere: {ended} device{'' if ended == 1 else 's'}.")
    return redirect("account")
