"""That a mail address is its owner's: a link goes there and comes back. Until then no mail with content goes there.

The link signs nobody in. GET shows a button, so that a mail scanner confirms nothing; POST confirms. It is bound to
the address: once that is another, the link to the former one has no effect. A new address takes the old one's place in
the same way: not before a link that went there has come back.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.core import signing
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac
from django.views.decorators.cache import never_cache

from athletes.models import User
from coaching import mailing
from coaching.access import SignedIn, account_only
from coaching.addresses import absolute
from coaching.doors import throttle
from coaching.doors.account import needs_no_old

LASTS = timedelta(days=7)
SALT, NEW = "coaching.confirm", "coaching.new_address"


def confirming_address(user: User) -> str:
    return absolute("confirm", token=signing.dumps([user.pk, user.email], salt=SALT))


def owner_of(token: str) -> User | None:
    try:
        pk, email = signing.loads(token, salt=SALT, max_age=LASTS)
    except (signing.BadSignature, ValueError):
        return None
    return User.objects.filter(pk=pk, email=email, is_active=True).first()


def mark_confirmed(user: User) -> None:
    User.objects.filter(pk=user.pk, email=user.email, confirmed_at=None).update(confirmed_at=timezone.now())


@never_cache
def confirm(request: HttpRequest, token: str) -> HttpResponse:
    user = owner_of(token)
    if user is None:
        return render(request, "doors/spent_link.html", status=410)
    if request.method == "POST":
        mark_confirmed(user)
        user.refresh_from_db()
    return render(request, "doors/confirm.html", {"who": user})


class AddressForm(forms.Form):
    """`password` is asked for where the address is confirmed: whoever has the mail can set a new one."""

    email = forms.EmailField(
        label="Your mail address",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
        error_messages={"invalid": "That is not a whole mail address; one looks like name@example.org."},
    )
    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Your password, so that nobody else changes your address."},
    )

    def __init__(self, *args: Any, request: SignedIn, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request, self.user = request, request.user
        if self.user.confirmed_at is None or needs_no_old(request):
            del self.fields["password"]
        if self.user.confirmed_at is not None:
            self.fields["email"].label = "Your new mail address"

    def clean_email(self) -> str:
        email = str(self.cleaned_data["email"]).strip().lower()
        if self.user.confirmed_at is not None and email == self.user.email:
            raise forms.ValidationError("That is your address already.")
        return email

    def clean_password(self) -> str:
        if not self.user.check_password(self.cleaned_data["password"]):
            throttle.count(self.request, "password", self.user.email)
            raise forms.ValidationError("That is not your password.")
        return ""


@never_cache
@account_only
def address(request: SignedIn) -> HttpResponse:
    """One's own address: whether it is confirmed; the link once more, or another address, which counts once its link
    came back."""
    user, count = request.user, (request, "confirm", str(request.user.pk))
    slow = request.method == "POST" and (
        throttle.too_many(*count) or throttle.too_many(request, "password", user.email)
    )
    known = {"email": request.POST.get("email", "" if user.confirmed_at else user.email)}
    form = AddressForm(None if slow else request.POST or None, request=request, initial=known)
    if request.method == "POST" and not slow and form.is_valid():
        throttle.count(*count)
        send_to(user, email := form.cleaned_data["email"])
        way = "A link is" if email == user.email else "If it can be used here, a link is"
        messages.success(request, f"{way} on its way to {email}.")
        return redirect("address")
    context = {"form": form, "who": user, "days": LASTS.days, "throttled": throttle.WAIT if slow else ""}
    return render(request, "doors/address.html", context, status=422 if form.errors or slow else 200)


@transaction.atomic
def send_to(user: User, email: str) -> None:
    """The link to the address, or to the one that is to take its place. Nothing goes to another account's, and who
    asked is not told: that an address has an account here is nobody's business."""
    if email == user.email:
        mailing.post("confirm", email, {}, user=user, useful_for=LASTS)
    elif _free(email):
        mailing.post("new_address", email, {}, user=user, useful_for=LASTS)


def _mark(user: User) -> str:
    """A link to a new address ends when the address, or the password, is another than when it was asked for."""
    state = f"{user.email} {user.confirmed_at} {user.password}"
    return salted_hmac(NEW, state, algorithm="sha256").hexdigest()[:32]


def new_address_link(user: User, email: str) -> str:
    return absolute("new-address", token=signing.dumps([user.pk, email, _mark(user)], salt=NEW))


@never_cache
def new_address(request: HttpRequest, token: str) -> HttpResponse:
    """GET: a button, if the link is still good. POST: from now on this is the address. Signs nobody in."""
    with transaction.atomic():
        try:
            pk, email, mark = signing.loads(token, salt=NEW, max_age=LASTS)
        except (signing.BadSignature, ValueError):
            return render(request, "doors/spent_link.html", status=410)
        # Two presses at once: the second waits here and finds the link spent.
        user = User.objects.select_for_update().filter(pk=pk, is_active=True).first()
        if user is None or not constant_time_compare(_mark(user), mark) or not _free(email):
            return render(request, "doors/spent_link.html", status=410)
        if request.method == "POST":
            change_address(user, email)
            return render(request, "doors/confirm.html", {"who": user})
    return render(request, "doors/new_address.html", {"who": user, "email": email})


def _free(email: str) -> bool:
    return not User.objects.filter(email=email).exists()


def change_address(user: User, email: str) -> None:
    """Sign-in and letters go by the new address; the old one is told, if it was its owner's."""
    old, confirmed = user.email, user.confirmed_at is not None
    user.email, user.confirmed_at = email, timezone.now()
    user.save(update_fields=["email", "confirmed_at"])
    if confirmed:
        mailing.post("address_changed", old, {}, user=user)
