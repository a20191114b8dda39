"""The practice: what it is called and prints, its rules, its people, and whether it is kept safe."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from athletes.models import Athlete, Coach, Group, Practice
from coaching import backing_up, doctor, roster_lines
from coaching.access import CoachRequest, coach_only, head_only
from plans import railing
from plans.attention_rules import RULES, numbers_of


class PracticeForm(forms.ModelForm):  # type: ignore[type-arg]  # not subscriptable when it runs
    class Meta:
        model = Practice
        fields = (
            "name",
            "mark",
            "address_lines",
            "paper",
            "units",
            "week_starts",
            "time_zone",
            "handout_hour",
        )
        labels = {
            "name": "Name",
            "mark": "Mark on paper",
            "address_lines": "Address lines on handouts",
            "week_starts": "Training weeks begin on",
            "time_zone": "Time zone",
            "handout_hour": "Make next week’s handouts on Sundays at this hour",
        }
        widgets = {"address_lines": forms.Textarea(attrs={"rows": 3})}
        help_texts = {
            "mark": "Up to three letters, printed in a box before the name; empty: none.",
            "units": "For what has no athlete of its own; each athlete has theirs.",
            "week_starts": "Counts for new schedules; a running one keeps its day.",
            "time_zone": "Like Europe/Lisbon.",
            "handout_hour": "0 to 23; empty: only when you ask.",
        }

    def clean_handout_hour(self) -> int | None:
        hour = self.cleaned_data["handout_hour"]
        if hour is not None and hour > 23:
            raise forms.ValidationError("An hour of the day, from 0 to 23.")
        return hour  # type: ignore[no-any-return]


@coach_only
def practice(request: CoachRequest) -> HttpResponse:
    """Every coach reads it."""
    return show(request, None)


@head_only
def change(request: CoachRequest) -> HttpResponse:
    """The head coach's form."""
    if request.method != "POST":
        return redirect("practice")
    form = PracticeForm(request.POST, instance=Practice.get())
    if form.is_valid():
        form.save()
        messages.success(request, "The practice is changed.")
        return redirect("practice")
    return show(request, form, 422)


def show(request: CoachRequest, form: PracticeForm | None, status: int = 200) -> HttpResponse:
    one = Practice.objects.get(pk=Practice.get().pk)
    last = backing_up.last_good()
    context = {
        "one": one,
        "form": form or (PracticeForm(instance=one) if request.coach.is_head else None),
        "head": request.coach.is_head,
        "coaches": Coach.objects.filter(user__is_active=True)
        .select_related("user")
        .order_by("-is_head", "user__name"),
        "groups": Group.objects.all(),
        "athletes": Athlete.objects.for_user(request.user).filter(left_on__isnull=True).count(),
        "own_rails": len(railing.stored_for(one)),
        "rules_on": len(numbers_of(one.attention)),
        "rules": len(RULES),
        "backup": last,
        "backup_late": backing_up.is_late(),
        "findings": doctor.examine() if request.coach.is_head and "look" in request.GET else None,
    }
    return render(request, "desk/practice.html", context, status=status)


class AttentionForm(forms.Form):
    """A box and, where the rule has one, a number for each rule."""

    def __init__(self, *args: Any, stored: dict[str, int | None], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        on = numbers_of(stored)
        for rule in RULES:
            if rule.always:
                continue
            self.fields[f"on-{rule.name}"] = forms.BooleanField(
                label=rule.head, required=False, initial=rule.name in on
            )
            if rule.number is not None:
                self.fields[rule.name] = forms.IntegerField(
                    label=f"{rule.words} ({rule.unit})",
                    required=False,
                    min_value=rule.low,
                    max_value=rule.high,
                    initial=on.get(rule.name, rule.number),
                )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for rule in RULES:
            wanted = data.get(f"on-{rule.name}") and rule.number is not None and rule.name not in self.errors
            if wanted and data.get(rule.name) is None:
                self.add_error(rule.name, f"A number from {rule.low} to {rule.high}.")
        return data

    def stored(self) -> dict[str, int | None]:
        """Only what differs from the defaults."""
        found: dict[str, int | None] = {}
        for rule in RULES:
            if rule.always:
                continue
            if not self.cleaned_data[f"on-{rule.name}"]:
                found[rule.name] = None
            elif rule.number is not None and self.cleaned_data[rule.name] != rule.number:
                found[rule.name] = self.cleaned_data[rule.name]
        return found


@coach_only
def attention(request: CoachRequest) -> HttpResponse:
    """Who needs a word: the rules and their numbers. The head coach sets them."""
    if request.method == "POST" and not request.coach.is_head:
        raise Http404
    one = Practice.get()
    form = AttentionForm(request.POST or None, stored=one.attention)
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            Practice.objects.filter(pk=one.pk).update(attention=form.stored())
            roster_lines.forget()
        messages.success(request, "The roster follows these rules now.")
        return redirect("practice-attention")
    rows = [
        {
            "rule": rule,
            "on": None if rule.always else form[f"on-{rule.name}"],
            "number": form[rule.name] if rule.number is not None else None,
        }
        for rule in RULES
    ]
    context = {"form": form, "rows": rows, "head": request.coach.is_head}
    return render(request, "desk/attention.html", context, status=422 if form.errors else 200)
