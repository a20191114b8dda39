"""That a mail address is its owner's: a link goes there and comes back. Until then no mail with content goes there.

The link signs nobody in. GET shows a button, so that a mail scanner confirms nothing; POST confirms. It is bound to
the address: once that is corrected, the link to the wrong one has no effect.
"""

from __future__ import annotations

from datetime import timedelta

from django import forms
from django.contrib import messages
from django.core import signing
from django.db import IntegrityError, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from athletes.models import User
from coaching import mailing
from coaching.access import SignedIn, account_only
from coaching.addresses import absolute
from coaching.doors import throttle

LASTS = timedelta(days=7)
SALT = "coaching.confirm"


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
    email = forms.EmailField(
        label="Your mail address",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
        error_messages={"invalid": "That is not a whole mail address; one looks like name@example.org."},
    )


@account_only
def address(request: SignedIn) -> HttpResponse:
    """One's own address: whether it is confirmed; the link once more, or, as long as it is not, another address."""
    user = request.user
    if user.confirmed_at is not None:
        return render(request, "doors/address.html", {"who": user})
    form = AddressForm(request.POST or None, initial={"email": user.email})
    if request.method == "POST" and throttle.too_many(request, "confirm", str(user.pk)):
        form.add_error(None, throttle.WAIT)
    elif request.method == "POST" and form.is_valid() and send_to(request, user, form):
        return redirect("address")
    context = {"form": form, "who": User.objects.get(pk=user.pk), "days": LASTS.days}
    return render(request, "doors/address.html", context, status=422 if form.errors else 200)


def send_to(request: SignedIn, user: User, form: AddressForm) -> bool:
    """Correct the address if it was a slip, and send the link there."""
    email = form.cleaned_data["email"].strip().lower()
    throttle.count(request, "confirm", str(user.pk))
    try:
        with transaction.atomic():
            if email != user.email:
                user.email = email
                user.save(update_fields=["email"])
            mailing.post("confirm", email, {}, user=user, useful_for=LASTS)
    except IntegrityError:
        form.add_error("email", "Another account here has this address.")
        return False
    messages.success(request, f"A link is on its way to {email}.")
    return True
