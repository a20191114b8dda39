"""Coaches and whose athletes: dated rows. A colleague can cover a holiday, from one day to another."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from athletes.models import Athlete, Coach, CoachAthlete, User
from coaching.access import CoachRequest, coach_athlete_for, coach_for, coach_only, head_only
from coaching.fields import day_input


class CoverForm(forms.Form):
    """Some athletes, or all of one coach's, for another coach."""

    coach = forms.ModelChoiceField(
        Coach.objects.filter(user__is_active=True).select_related("user"), label="This coach"
    )
    whose = forms.ModelChoiceField(
        Coach.objects.filter(user__is_active=True).select_related("user"),
        label="coaches all athletes of",
        required=False,
        empty_label="nobody",
    )
    athlete = forms.ModelMultipleChoiceField(
        Athlete.objects.filter(left_on__isnull=True),
        label="and these athletes",
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    since = forms.DateField(label="From", widget=day_input())
    until = forms.DateField(
        label="To", required=False, widget=day_input(), help_text="Empty: until it is ended."
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        since, until = data.get("since"), data.get("until")
        if since and until and until < since:
            self.add_error("until", "It ends before it begins.")
        if not self.errors and not data["whose"] and not data["athlete"]:
            self.add_error("athlete", "Choose a coach whose athletes these are, or at least one athlete.")
        if not self.errors and data["whose"] == data["coach"]:
            self.add_error("whose", "That is the same coach.")
        return data


class CoachForm(forms.Form):
    name = forms.CharField(label="Name", max_length=80)
    email = forms.EmailField(label="Mail address")

    def clean_email(self) -> str:
        email: str = self.cleaned_data["email"].strip().lower()
        if there := Coach.objects.filter(user__email=email).select_related("user").first():
            left = "" if there.user.is_active else " Their account is closed: open it again, above."
            raise forms.ValidationError(f"There is a coach with this address already.{left}")
        return email


def in_force(today: date) -> Q:
    return Q(until__isnull=True) | Q(until__gte=today)


@coach_only
def colleagues(request: CoachRequest) -> HttpResponse:
    """Who coaches whom. Every coach reads their own rows, a head coach all."""
    return show(request)


def show(
    request: CoachRequest, cover: CoverForm | None = None, new: CoachForm | None = None, status: int = 200
) -> HttpResponse:
    today = timezone.now().date()
    rows = CoachAthlete.objects.filter(in_force(today), athlete__left_on__isnull=True)
    if not request.coach.is_head:
        rows = rows.filter(athlete__in=Athlete.objects.for_user(request.user))
    by_coach: dict[int, list[CoachAthlete]] = {}
    for row in rows.select_related("athlete").order_by("athlete__name", "since"):
        by_coach.setdefault(row.coach_id, []).append(row)
    coaches = Coach.objects.select_related("user").order_by("-user__is_active", "-is_head", "user__name")
    context = {
        "head": request.coach.is_head,
        "me": request.coach,
        "coaches": [(coach, by_coach.get(coach.pk, [])) for coach in coaches],
        "cover": cover or CoverForm(initial={"since": today}),
        "new": new or CoachForm(),
        "today": today,
    }
    return render(request, "desk/colleagues.html", context, status=status)


@require_POST
@head_only
def cover(request: CoachRequest) -> HttpResponse:
    form = CoverForm(request.POST)
    if not form.is_valid():
        return show(request, cover=form, status=422)
    data = form.cleaned_data
    today = timezone.now().date()
    athletes = {one.pk for one in data["athlete"]}
    if data["whose"]:
        mine = CoachAthlete.objects.filter(in_force(data["since"]), coach=data["whose"])
        athletes |= set(mine.filter(athlete__left_on__isnull=True).values_list("athlete_id", flat=True))
    with transaction.atomic():
        has = CoachAthlete.objects.filter(coach=data["coach"], athlete__in=athletes)
        has = has.filter(in_force(data["until"] or today), since__lte=data["since"])
        wanted = athletes - set(has.values_list("athlete_id", flat=True))
        open_later = CoachAthlete.objects.filter(coach=data["coach"], athlete__in=wanted, until__isnull=True)
        if data["until"] is None:
            # One open row an athlete: it begins earlier now.
            earlier = set(open_later.values_list("athlete_id", flat=True))
            open_later.update(since=data["since"])
            wanted -= earlier
        CoachAthlete.objects.bulk_create(
            CoachAthlete(coach=data["coach"], athlete_id=pk, since=data["since"], until=data["until"])
            for pk in sorted(wanted)
        )
    many = len(athletes)
    until = f" until {data['until']:%-d %B}" if data["until"] else ""
    messages.success(
        request,
        f"{data['coach']} coaches {many} athlete{'s' * (many != 1)} from {data['since']:%-d %B}{until}.",
    )
    return redirect("colleagues")


@require_POST
@head_only
def end(request: CoachRequest, pk: int) -> HttpResponse:
    """From now on this coach no longer sees this athlete. Somebody always must, so the last one stays."""
    row = coach_athlete_for(request.user, pk)
    today = timezone.now().date()
    others = CoachAthlete.objects.filter(in_force(today), athlete=row.athlete, since__lte=today).exclude(
        pk=pk
    )
    if not others.exists():
        messages.error(
            request, f"{row.athlete} would have no coach then. Give them another first, or end the coaching."
        )
        return redirect("colleagues")
    if row.since >= today:
        row.delete()
    else:
        row.until = today - timedelta(1)
        row.save(update_fields=["until"])
    messages.success(request, f"{row.coach} no longer coaches {row.athlete}.")
    return redirect("colleagues")


@require_POST
@head_only
def add(request: CoachRequest) -> HttpResponse:
    """A new coach. They come in by a link to their address (at sign-in, `a link by mail`) and set up the rest."""
    form = CoachForm(request.POST)
    if not form.is_valid():
        return show(request, new=form, status=422)
    email, name = form.cleaned_data["email"], form.cleaned_data["name"].strip()
    with transaction.atomic():
        user = User.objects.filter(email=email).first() or User.objects.create_user(email, None, name)
        coach = Coach.objects.create(user=user)
    messages.success(
        request,
        f"{coach} is a coach here now. At sign-in they ask for a link to {email}; nobody sets a password for them.",
    )
    return redirect("colleagues")


@require_POST
@head_only
def leave(request: CoachRequest, pk: int) -> HttpResponse:
    """A coach leaves the practice: signed out everywhere, no athletes any more. What they wrote keeps their name."""
    coach, today = coach_for(request.user, pk), timezone.now().date()
    rows = CoachAthlete.objects.filter(in_force(today), coach=coach, athlete__left_on__isnull=True)
    others = CoachAthlete.objects.filter(in_force(today), since__lte=today, coach__user__is_active=True)
    with transaction.atomic():
        heads = _heads()  # two who close each other's account at once would leave a practice without one
        alone = rows.exclude(athlete__in=others.exclude(coach=coach).values("athlete")).count()
        if coach == request.coach:
            messages.error(request, "You can't close your own account here. Another head coach can.")
        elif request.coach not in heads:
            messages.error(request, "You are no longer a head coach.")
        elif alone:
            many = f"{alone} athlete{'s' * (alone != 1)}"
            messages.error(request, f"{many} of {coach} would have no coach then. Hand over first.")
        else:
            CoachAthlete.objects.filter(coach=coach, since__gte=today).delete()
            CoachAthlete.objects.filter(in_force(today), coach=coach).update(until=today - timedelta(1))
            _close(coach)
            messages.success(
                request, f"{coach} has left. They can't sign in any more; what they wrote stays."
            )
    return redirect("colleagues")


def _heads() -> list[Coach]:
    """The head coaches who can sign in, locked until the transaction ends."""
    return list(Coach.objects.select_for_update(of=("self",)).filter(is_head=True, user__is_active=True))


def _close(coach: Coach) -> None:
    """Close the account. Somebody who runs here, too, keeps it as an athlete; the coach gets an empty one."""
    coach.is_head = False
    if Athlete.objects.filter(user=coach.user).exists():
        coach.user = User.objects.create_user(f"left-{coach.pk}@localhost", None, coach.user.name)
    coach.user.is_active = False
    coach.user.save(update_fields=["is_active"])
    coach.save(update_fields=["is_head", "user"])


@require_POST
@head_only
def come_back(request: CoachRequest, pk: int) -> HttpResponse:
    """A closed account is opened again, without athletes."""
    coach = coach_for(request.user, pk)
    if not coach.user.is_active and coach.user.email.endswith("@localhost"):
        messages.error(request, f"{coach} stayed as an athlete: add them as a new coach, with their address.")
    else:
        User.objects.filter(pk=coach.user_id).update(is_active=True)
        messages.success(request, f"{coach} can sign in again. Give them athletes below.")
    return redirect("colleagues")


@require_POST
@head_only
def head(request: CoachRequest, pk: int) -> HttpResponse:
    """Make somebody a head coach, or no longer one. The last one stays: a practice without is locked."""
    coach = coach_for(request.user, pk)
    with transaction.atomic():
        heads = _heads()
        if coach.is_head and heads == [coach]:
            messages.error(request, f"{coach} is the only head coach. Make another one first.")
        elif not coach.user.is_active:
            messages.error(request, f"{coach} has left.")
        else:
            coach.is_head = not coach.is_head
            coach.save(update_fields=["is_head"])
            messages.success(request, f"{coach} is {'now' if coach.is_head else 'no longer'} a head coach.")
    return redirect("colleagues")
