"""The profile: what is known about me, my free days, my calendar, what is kept and who read it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import logout
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from athletes.models import DAY_FIELDS, WEEKDAYS, Athlete, NoteReading, User
from coaching import privacy
from coaching.access import AthleteRequest, athlete_only
from coaching.addresses import absolute, hash_of, new_nonce, secret_of
from coaching.models import Feed
from coaching.phone.about_forms import AboutForm, DaysForm
from plans import pausing
from plans.freeing import set_free_days


@require_GET
@athlete_only
def profile(request: AthleteRequest) -> HttpResponse:
    athlete = request.athlete
    free = athlete.availabilities.filter(valid_from__lte=athlete.today()).last()
    week = (
        [(label[:3], getattr(free, name)) for name, label in zip(DAY_FIELDS, WEEKDAYS, strict=True)]
        if free
        else []
    )
    today = athlete.today()
    context = {
        "athlete": athlete,
        "week": week,
        "feed": Feed.objects.filter(athlete=athlete).first(),
        "coaches": athlete.coaches.filter(
            coachathlete__until=None, coachathlete__since__lte=today
        ).distinct(),
        "readings": NoteReading.objects.filter(note__athlete=athlete).count(),
    }
    return render(request, "phone/profile/profile.html", context)


@athlete_only
def about(request: AthleteRequest) -> HttpResponse:
    form = AboutForm(request.POST or None, athlete=request.athlete)
    if request.method == "POST" and form.is_valid():
        form.keep()
        messages.success(request, "Kept.")
        return redirect("profile")
    return render(request, "phone/profile/about.html", {"form": form}, status=422 if form.errors else 200)


@athlete_only
def days(request: AthleteRequest) -> HttpResponse:
    form = DaysForm(request.POST or None, athlete=request.athlete)
    if request.method == "POST" and form.is_valid():
        if set_free_days(request.athlete, form.minutes, request.athlete.today()):
            messages.success(
                request, "Kept, from today on. If it changes the days ahead, your coach sees it now."
            )
        else:
            messages.info(request, "Your free days were these already.")
        return redirect("profile")
    return render(request, "phone/profile/days.html", {"form": form}, status=422 if form.errors else 200)


class FeedForm(forms.Form):
    begins = forms.TimeField(
        label="A run begins at",
        required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text="Leave it empty for entries that fill the day without an hour.",
        error_messages={"invalid": "A time of day, like 07:00."},
    )


@athlete_only
def calendar(request: AthleteRequest) -> HttpResponse:
    """The secret address of the calendar: make it, renew it, choose all-day or an hour."""
    feed = Feed.objects.filter(athlete=request.athlete).first()
    form = FeedForm(request.POST or None, initial={"begins": feed.begins if feed else None})
    if request.method == "POST" and form.is_valid():
        if feed is None or request.POST.get("do") == "renew":
            renew(request.athlete)
        if request.POST.get("do") != "renew":
            Feed.objects.filter(athlete=request.athlete).update(begins=form.cleaned_data["begins"])
        messages.success(
            request, "Kept. Calendars fetch it anew by themselves, most of them within some hours."
        )
        return redirect("my-calendar")
    return render(
        request,
        "phone/profile/calendar.html",
        {"form": form, "feed": feed, "address": address_of(feed) if feed else ""},
        status=422 if form.errors else 200,
    )


def renew(athlete: Athlete) -> Feed:
    """A new secret address; the one before is gone at once."""
    nonce = new_nonce()
    values = {"nonce": nonce, "token_hash": hash_of(secret_of("feed", nonce)), "made_at": timezone.now()}
    return Feed.objects.update_or_create(athlete=athlete, defaults=values)[0]


def address_of(feed: Feed) -> str:
    """Empty when the server's key has changed since: then only a new address helps."""
    token = secret_of("feed", feed.nonce)
    return absolute("feed", token=token) if hash_of(token) == feed.token_hash else ""


class SureForm(forms.Form):
    """Typed, so that it can't happen by a slip of the thumb."""

    word = forms.CharField(max_length=80, widget=forms.TextInput(attrs={"autocomplete": "off"}))

    def __init__(self, *args: Any, expected: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.expected = expected
        self.fields["word"].label = f"Type {expected} to confirm"
        self.fields["word"].error_messages["required"] = f"Type {expected} if you mean it."

    def clean_word(self) -> str:
        word = " ".join(self.cleaned_data["word"].split())
        if word.casefold() != self.expected.casefold():
            raise forms.ValidationError(f"That is not “{self.expected}”. Nothing was done.")
        return word


@athlete_only
def my_data(request: AthleteRequest) -> HttpResponse:
    return data_page(request)


def data_page(
    request: AthleteRequest, leaving: SureForm | None = None, erasing: SureForm | None = None
) -> HttpResponse:
    athlete = request.athlete
    context = {
        "athlete": athlete,
        "readings": NoteReading.objects.filter(note__athlete=athlete).select_related("note")[:100],
        "leaving": leaving or SureForm(expected="leave", prefix="leave"),
        "erasing": erasing or SureForm(expected="erase me", prefix="erase"),
    }
    return render(request, "phone/profile/data.html", context, status=422 if leaving or erasing else 200)


@require_GET
@athlete_only
def my_export(request: AthleteRequest) -> HttpResponse:
    return privacy.as_download(request.athlete)


@require_POST
@athlete_only
def leave(request: AthleteRequest) -> HttpResponse:
    form = SureForm(request.POST, expected="leave", prefix="leave")
    if not form.is_valid():
        return data_page(request, leaving=form)
    pausing.leave(request.athlete, request.athlete.today())
    messages.success(
        request, "Your schedule has ended, and your coach sees that you left. You can still erase everything."
    )
    return redirect("my-data")


@require_POST
@athlete_only
def erase_me(request: AthleteRequest) -> HttpResponse:
    form = SureForm(request.POST, expected="erase me", prefix="erase")
    if not form.is_valid():
        return data_page(request, erasing=form)
    with transaction.atomic():
        privacy.erase(request.athlete, by_name="the athlete")
    if not User.objects.filter(pk=request.user.pk).exists():
        logout(request)
    return render(request, "doors/erased.html")
