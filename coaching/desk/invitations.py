"""Invite athletes: one a line, a link and a printable code each. A link works once and ends after 14 days."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from athletes.models import Athlete, Coach, CoachAthlete, Practice
from coaching import mailing
from coaching.access import CoachRequest, athlete_for, coach_only, invitation_for, invitations_for
from coaching.addresses import absolute, hash_of, new_nonce, secret_of
from coaching.doors.second import qr
from coaching.models import Invitation
from coaching.models.sharing import INVITED_FOR

MOST_AT_ONCE = 60


@dataclass(frozen=True)
class Line:
    name: str
    email: str


class InviteForm(forms.Form):
    people = forms.CharField(
        label="Whom do you invite?",
        max_length=MOST_AT_ONCE * 200,
        help_text="One a line: a name, and after a comma the mail address if the link should go there.",
        widget=forms.Textarea(attrs={"rows": 4, "placeholder": "Rosa Lind\nPer Sandal, per@example.org"}),
        error_messages={"required": "Write at least one name."},
    )
    on_paper = forms.BooleanField(label="Without a link: they get their plan on paper only", required=False)

    def clean_people(self) -> list[Line]:
        lines = [line.strip() for line in self.cleaned_data["people"].splitlines() if line.strip()]
        if len(lines) > MOST_AT_ONCE:
            raise ValidationError(f"These are {len(lines)} lines; at most {MOST_AT_ONCE} at once.")
        return [self.line(number, line) for number, line in enumerate(lines, start=1)]

    def line(self, number: int, text: str) -> Line:
        name, _, email = (part.strip() for part in text.partition(","))
        if not name or len(name) > 80:
            raise ValidationError(
                f"Line {number} needs a name of at most 80 letters before the comma: “{text[:40]}”."
            )
        if email:
            try:
                validate_email(email)
            except ValidationError:
                raise ValidationError(f"Line {number}: “{email[:60]}” is not a whole mail address.") from None
        return Line(name, email.lower())


@coach_only
def invitations(request: CoachRequest) -> HttpResponse:
    form = InviteForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        made = [
            add(request.coach, line, form.cleaned_data["on_paper"]) for line in form.cleaned_data["people"]
        ]
        return told(request, [one for one in made if one])
    today = timezone.now()
    mine = Athlete.objects.for_user(request.user)
    context = {
        "form": form,
        "open": invitations_for(request.user).filter(used_at=None, expires__gt=today),
        "joining": mine.exclude(joining="").filter(left_on=None),
        "without": mine.filter(user=None, left_on=None).exclude(
            invitations__used_at=None, invitations__expires__gt=today
        ),
    }
    return render(request, "desk/invitations.html", context, status=422 if form.errors else 200)


def told(request: CoachRequest, made: list[Invitation]) -> HttpResponse:
    if len(made) == 1:
        return redirect("invitation", pk=made[0].pk)
    if made:
        messages.success(
            request, f"{len(made)} invitations are made. Print the codes, or open one for its link."
        )
    else:
        messages.success(request, "They are on your roster now.")
    return redirect("invitations")


@transaction.atomic
def add(coach: Coach, line: Line, on_paper: bool) -> Invitation | None:
    """A new athlete of this coach, and an invitation unless paper is all they want."""
    practice = Practice.get()
    athlete = Athlete.objects.create(name=line.name, units=practice.units, time_zone=practice.time_zone)
    CoachAthlete.objects.create(coach=coach, athlete=athlete, since=timezone.now().date())
    return None if on_paper else invite(coach, athlete, line.email)


@transaction.atomic
def invite(coach: Coach, athlete: Athlete, email: str = "") -> Invitation:
    """A new link; one that was open before no longer works."""
    now, nonce = timezone.now(), new_nonce()
    Invitation.objects.filter(athlete=athlete, used_at=None).delete()
    made = Invitation.objects.create(
        athlete=athlete,
        coach=coach,
        nonce=nonce,
        token_hash=hash_of(secret_of("invitation", nonce)),
        made_at=now,
        expires=now + INVITED_FOR,
    )
    if email:
        values = {"invitation": made.pk, "coach_name": str(coach), "name": athlete.name}
        mailing.post("invitation", email, values, useful_for=INVITED_FOR)
    return made


def address_of(invitation: Invitation) -> str:
    """Empty when the server's key has changed since."""
    token = secret_of("invitation", invitation.nonce)
    return absolute("join", token=token) if hash_of(token) == invitation.token_hash else ""


@never_cache
@coach_only
def invitation(request: CoachRequest, pk: int) -> HttpResponse:
    one = invitation_for(request.user, pk)
    return render(request, "desk/invitation.html", {"invitation": one, "cards": cards([one])})


@never_cache
@coach_only
def printed(request: CoachRequest) -> HttpResponse:
    """All open ones on paper, to be cut apart."""
    waiting = invitations_for(request.user).filter(used_at=None, expires__gt=timezone.now())
    return render(request, "desk/invitation.html", {"cards": cards(list(waiting))})


def cards(ones: list[Invitation]) -> list[dict[str, Any]]:
    found = []
    for one in ones:
        address = address_of(one) if one.is_open else ""
        found.append({"invitation": one, "address": address, "picture": qr(address) if address else ""})
    return found


@require_POST
@coach_only
def again(request: CoachRequest, pk: int) -> HttpResponse:
    """A link for somebody on the roster who has none, or whose link has ended."""
    athlete = athlete_for(request.user, pk)
    if athlete.user_id:
        messages.info(
            request, f"{athlete.name} has an account. They sign in, or ask for a link by mail at the door."
        )
        return redirect("invitations")
    return redirect("invitation", pk=invite(request.coach, athlete).pk)


@require_POST
@coach_only
def withdraw(request: CoachRequest, pk: int) -> HttpResponse:
    one = invitation_for(request.user, pk)
    if one.used_at is None:
        one.delete()
        messages.success(request, f"The invitation of {one.athlete.name} no longer works.")
    return redirect("invitations")
