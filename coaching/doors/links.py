"""One-time links by mail: for athletes without a password, and for whoever forgot theirs.

GET shows a button and spends nothing, so that a mail scanner can't; POST spends the link.
"""

from __future__ import annotations

from datetime import timedelta

from django import forms
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from sesame.utils import get_token, get_user

from athletes.models import User
from coaching import mailing
from coaching.addresses import absolute
from coaching.doors import throttle
from coaching.doors.confirming import mark_confirmed
from coaching.doors.signing_in import let_in

MAIL, FIRST = "mail", "first"
LASTS = {MAIL: timedelta(minutes=30), FIRST: timedelta(days=1)}


def address_for(user: User, scope: str = MAIL) -> str:
    """A link that lets this person in once. `first` is the command's, for the first head coach."""
    return absolute("sign-in-link", scope=scope, token=get_token(user, scope=scope))


class AskForm(forms.Form):
    email = forms.EmailField(
        label="Your mail address",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
        error_messages={"invalid": "That is not a whole mail address; one looks like name@example.org."},
    )


def ask(request: HttpRequest) -> HttpResponse:
    """Ask for a link. The answer is the same whether the address has an account or not."""
    form = AskForm(request.POST or None)
    asked = False
    if request.method == "POST" and form.is_valid():
        email = form.cleaned_data["email"].strip().lower()
        if throttle.too_many(request, "link", email):
            form.add_error(None, throttle.WAIT)
        else:
            throttle.count(request, "link", email)
            send_link(email)
            asked = True
    context = {"form": form, "asked": asked, "minutes": LASTS[MAIL].seconds // 60}
    return render(request, "doors/ask_link.html", context, status=422 if form.errors else 200)


def send_link(email: str) -> None:
    with transaction.atomic():
        user = User.objects.filter(email=email, is_active=True).first()
        if user:
            mailing.post("sign_in", user.email, {}, user=user, useful_for=LASTS[MAIL])


@never_cache
def link(request: HttpRequest, scope: str, token: str) -> HttpResponse:
    """GET: a button, if the link is still good. POST: in."""
    lasts = LASTS.get(scope)
    if lasts is None:
        return render(request, "doors/spent_link.html", status=404)
    with transaction.atomic():
        user = get_user(token, scope=scope, max_age=lasts, update_last_login=False)
        if isinstance(user, User) and request.method == "POST":
            # Two presses at once: the second waits here and finds the link spent.
            User.objects.select_for_update().get(pk=user.pk)
            user = get_user(token, scope=scope, max_age=lasts, update_last_login=False)
            if isinstance(user, User):
                let_in(request, user, by_link=True)
                if scope == MAIL:  # it went to their address and came back
                    mark_confirmed(user)
                return redirect("account" if scope == FIRST else "home")
    if not isinstance(user, User):
        return render(request, "doors/spent_link.html", status=410)
    return render(request, "doors/link.html", {"name": user.name})
