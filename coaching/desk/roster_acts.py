"""What is done with the athletes ticked on the roster, and reasons that are put off with a note."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from athletes.models import Athlete, Practice
from athletes.running.units import Distance, Units, show_distance
from coaching import roster_lines
from coaching.access import CoachRequest, athlete_for, coach_only
from coaching.desk import to_many
from coaching.desk.athlete import TimeOffForm
from coaching.desk.roster import is_key, rows_of
from coaching.models import RosterLine, Snooze
from coaching.spreadsheets import as_csv
from plans import recording
from plans.attention_rules import NAMES, RULES
from plans.handouts import start_batch, with_week
from plans.models import Template
from plans.reading import week_of

RULE_CHOICES = [(rule.name, rule.head) for rule in RULES if not rule.always]


def ticked(request: CoachRequest) -> list[Athlete]:
    keys = [int(key) for key in request.POST.getlist("athlete") if is_key(key)]
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True, pk__in=keys)
    return list(mine.select_related("roster_line").prefetch_related("groups"))


@require_POST
@coach_only
def act(request: CoachRequest) -> HttpResponse:
    """Handouts, time off, a template, a message or a file for the ticked ones."""
    chosen = ticked(request)
    if not chosen:
        messages.error(request, "Tick at least one athlete first.")
        return redirect("roster")
    what = request.POST.get("act", "")
    if what == "handouts":
        return handouts(request, chosen)
    if what == "time-off":
        return time_off(request, chosen)
    if what == "assign":
        query = urlencode([("athlete", one.pk) for one in chosen])
        templates = Template.objects.filter(archived=False)
        context = {"chosen": chosen, "templates": templates, "query": query}
        return render(request, "desk/roster_assign.html", context)
    if what == "export":
        return export(request, chosen)
    if what == "message":
        return to_many.begin(request, chosen)
    messages.error(request, "Choose what to do with them.")
    return redirect("roster")


def handouts(request: CoachRequest, chosen: list[Athlete]) -> HttpResponse:
    """Next week's."""
    first_day = week_of(timezone.localdate(), Practice.get().week_starts) + timedelta(7)
    athletes = with_week(Athlete.objects.filter(pk__in=[one.pk for one in chosen]), first_day)
    if not athletes:
        messages.error(request, "None of them has a schedule for next week.")
        return redirect("roster")
    return redirect("handout-batch", pk=start_batch(request.coach, athletes, first_day, None).pk)


def time_off(request: CoachRequest, chosen: list[Athlete]) -> HttpResponse:
    """The same days off for all of them: asked first, then written and re-balanced."""
    sent = "first_day" in request.POST
    form = TimeOffForm(request.POST if sent else None)
    if sent and form.is_valid():
        data = form.cleaned_data
        with transaction.atomic():
            for one in chosen:
                recording.take_time_off(
                    one, data["first_day"], data["last_day"], data["minutes"], data["kind"]
                )
        messages.success(
            request,
            f"{len(chosen)} athlete{'s have' if len(chosen) != 1 else ' has'} these days noted. "
            "What follows from it waits among the proposals.",
        )
        return redirect("roster")
    context = {"form": form, "chosen": chosen}
    return render(request, "desk/roster_time_off.html", context, status=422 if form.errors else 200)


def export(request: CoachRequest, chosen: list[Athlete]) -> HttpResponse:
    roster_lines.bring_up_to_date(Athlete.objects.filter(pk__in=[one.pk for one in chosen]))
    rows: list[list[object]] = [
        [
            "Name",
            "Groups",
            "Race",
            "Race day",
            "Run this week",
            "Planned this week",
            "Longest run",
            "Why",
            "Last log",
        ]
    ]
    fresh = Athlete.objects.filter(pk__in=[one.pk for one in chosen])
    for row in rows_of(list(fresh.select_related("roster_line").prefetch_related("groups")), request.coach):
        units: Units = "mi" if row.athlete.units == "mi" else "km"
        far = [show_distance(Distance(row.values[k]), units) for k in ("run_mm", "planned_mm", "longest_mm")]
        why = "; ".join(f"{word['head']}: {word['words']}" for word in row.words)
        said = [row.athlete.name, row.groups, row.values["race"], row.values.get("race_day"), *far, why]
        rows.append([*said, row.values.get("last_log")])
    return as_csv(rows, f"roster-{timezone.localdate()}")


class SnoozeForm(forms.Form):
    rule = forms.ChoiceField(label="Reason", choices=RULE_CHOICES)
    days = forms.TypedChoiceField(
        label="Not again for",
        coerce=int,
        choices=[(3, "3 days"), (7, "a week"), (14, "two weeks"), (28, "four weeks")],
        initial=7,
    )
    note = forms.CharField(label="Why, in a few words", max_length=200, required=False)


@coach_only
def snooze(request: CoachRequest, pk: int) -> HttpResponse:
    """GET the reasons of one athlete; POST puts one off, with a note."""
    one = athlete_for(request.user, pk)
    roster_lines.bring_up_to_date(Athlete.objects.filter(pk=one.pk))
    line = RosterLine.objects.filter(athlete=one).first()
    words = line.values["words"] if line else []
    first = next((word["rule"] for word in words if not NAMES[word["rule"]].always), "")
    form = SnoozeForm(request.POST or None, initial={"rule": first, "days": 7})
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        until = one.today() + timedelta(data["days"])
        with transaction.atomic():
            Snooze.objects.update_or_create(
                athlete=one,
                rule=data["rule"],
                defaults={"until": until, "note": data["note"], "by_name": str(request.user)[:80]},
            )
            roster_lines.forget([one.pk])
        head = NAMES[data["rule"]].head
        messages.success(request, f"“{head}” of {one.name} is quiet until {until.day} {until:%B}.")
        return redirect("roster")
    context: dict[str, Any] = {
        "athlete": one,
        "form": form,
        "words": words,
        "quiet": [
            (NAMES[s.rule].head, s) for s in one.snoozes.filter(until__gt=one.today()) if s.rule in NAMES
        ],
    }
    return render(request, "desk/snooze.html", context, status=422 if form.errors else 200)


@require_POST
@coach_only
def wake(request: CoachRequest, pk: int) -> HttpResponse:
    """Show a reason again."""
    one = athlete_for(request.user, pk)
    Snooze.objects.filter(athlete=one, rule=request.POST.get("rule", "")[:20]).delete()
    roster_lines.forget([one.pk])
    return redirect("snooze", pk=pk)
