"""The invitation: GET shows it, POST spends it and signs the athlete in on this phone. The steps come after."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.db import IntegrityError, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from athletes.models import UNITS, Athlete, Practice, User
from coaching import mailing
from coaching.addresses import hash_of
from coaching.doors import throttle
from coaching.doors.signing_in import let_in, note_link
from coaching.doors.zones import zone_choices
from coaching.models import Invitation


class JoinForm(forms.Form):
    name = forms.CharField(
        label="Your name", max_length=80, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    email = forms.EmailField(
        label="Your mail address",
        max_length=254,
        help_text="Sign-in links go there; and, once you have confirmed it, that your coach wrote. You can switch that off.",
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
        error_messages={"invalid": "That is not a whole mail address; one looks like name@example.org."},
    )
    units = forms.ChoiceField(label="Units", choices=UNITS, widget=forms.RadioSelect)
    time_zone = forms.ChoiceField(
        label="Where you live (time zone)", help_text="Decides when a day begins for you."
    )
    agreed = forms.BooleanField(
        label="I have read this and agree",
        error_messages={"required": "Without your agreement nothing can be kept, and there is no plan."},
    )

    def __init__(self, *args: Any, user: User | None, athlete: Athlete, **kwargs: Any) -> None:
        practice = Practice.get()
        kwargs.setdefault(
            "initial", {"name": athlete.name, "units": athlete.units, "time_zone": athlete.time_zone}
        )
        super().__init__(*args, **kwargs)
        zones = self.fields["time_zone"]
        assert isinstance(zones, forms.ChoiceField)
        zones.choices = zone_choices(practice.time_zone, athlete.time_zone)
        self.user = user
        if user is not None:  # a coach who runs too, or an athlete who came back: the account is there
            del self.fields["email"]

    def clean_email(self) -> str:
        email = str(self.cleaned_data["email"]).strip().lower()
        if User.objects.filter(email=email).exists():
            raise forms.ValidationError(
                "This address has an account here. Sign in with it first, then open the invitation once more."
            )
        return email


@never_cache
def join(request: HttpRequest, token: str) -> HttpResponse:
    invitation = (
        Invitation.objects.select_related("athlete", "coach__user").filter(token_hash=hash_of(token)).first()
    )
    if invitation is None:
        return render(request, "doors/no_invitation.html", {"why": "unknown"}, status=404)
    if invitation.used_at or invitation.athlete.user_id:
        return render(request, "doors/no_invitation.html", {"why": "used"}, status=410)
    if not invitation.is_open:
        return render(request, "doors/no_invitation.html", {"why": "expired"}, status=410)
    user = request.user if isinstance(request.user, User) or request.user.is_authenticated else None
    if user is not None and Athlete.objects.filter(user=user.pk).exists():
        return render(request, "doors/no_invitation.html", {"why": "other", "who": user}, status=409)
    return answer(request, invitation, User.objects.get(pk=user.pk) if user else None)


def answer(request: HttpRequest, invitation: Invitation, user: User | None) -> HttpResponse:
    form = JoinForm(request.POST or None, user=user, athlete=invitation.athlete)
    if request.method == "POST" and throttle.too_many(request, "join", ""):
        form.add_error(None, throttle.WAIT)
    elif request.method == "POST":
        throttle.count(request, "join", "")
        if form.is_valid():
            try:
                joined = spend(invitation, form, user)
            except IntegrityError:
                form.add_error(
                    "email", "This address has got an account here meanwhile. Sign in with it first."
                )
            else:
                if joined is None:
                    return render(request, "doors/no_invitation.html", {"why": "used"}, status=410)
                if user is None:
                    let_in(request, joined)
                    note_link(request)
                messages.success(
                    request, "Welcome. You are signed in on this phone. A few questions, and you are done."
                )
                return redirect("welcome", step="health")
    context = {"form": form, "invitation": invitation, "practice_name": Practice.get().name}
    return render(request, "doors/join.html", context, status=422 if form.errors else 200)


@transaction.atomic
def spend(invitation: Invitation, form: JoinForm, user: User | None) -> User | None:
    """Use the invitation, once; None if another phone was quicker."""
    data, now = form.cleaned_data, timezone.now()
    open_ones = Invitation.objects.filter(pk=invitation.pk, used_at=None, expires__gt=now)
    if open_ones.update(used_at=now) != 1:
        return None
    if user is None:
        user = User.objects.create_user(data["email"], None, data["name"])
        mailing.post("welcome", user.email, {}, user=user)
    taken = Athlete.objects.filter(pk=invitation.athlete_id, user=None).update(
        user=user,
        name=data["name"],
        units=data["units"],
        time_zone=data["time_zone"],
        consent_at=now,
        joining="health",
        left_on=None,
    )
    if not taken:
        transaction.set_rollback(True)
        return None
    # The other links for the same person are spent with this one.
    Invitation.objects.filter(athlete=invitation.athlete_id, used_at=None).update(used_at=now)
    return user
