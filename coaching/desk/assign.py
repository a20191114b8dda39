"""Assign a template to an athlete: what is known of them, the fitted schedule, and the press that issues it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from athletes.carding import as_run, compute_card, counting_results, store_card
from athletes.models import DAY_FIELDS, WEEKDAYS, Athlete, Availability, Coach, PaceCard, Result
from athletes.running import paces
from athletes.running.paces import CardError
from athletes.running.performance import ResultError
from athletes.running.units import Distance, Duration, Units
from athletes.screening import Health, health_of, keep, standing
from coaching.access import CoachRequest, athlete_for, coach_only, template_for
from coaching.desk.fitted_by_hand import Edits, Line, Opened, lines_by_week, press, read_edits, write_edits
from coaching.desk.known import known, known_race
from coaching.fields import DistanceField, TimeField, day_input
from coaching.health_questions import HealthQuestions, check_signature
from plans.assigning import Aim, change_by_hand, enter_tune_ups, issue_first, later_free, preview
from plans.models import TemplateVersion
from plans.training.fitting_by_hand import ByHand, Place
from plans.training.fitting_types import CannotFit, FitRace, Fitted, FittedWeek
from plans.training.template import Template as Plan

MOST_MINUTES = 480
WHERE = {"race": "race_day", "start": "start", "availability": "mon", "athlete": "signed"}
MOST_RACES = 3
WAY = ("name", "day", "distance")


class AssignForm(HealthQuestions):
    """Race, free days and present running of one athlete, for one template."""

    hand_is_damaged = False

    race_name = forms.CharField(label="Race", max_length=40)
    race_day = forms.DateField(label="Race day", widget=day_input())
    goal_time = TimeField(label="Goal time", required=False, help_text="Like 3:45:00 or 48:30.")
    start = forms.DateField(label="First day", widget=day_input())
    weekly = DistanceField(label="Usual week", help_text="What the athlete runs in a week now.")
    longest = DistanceField(label="Longest run", help_text="Of the past 30 days.")
    result_distance = DistanceField(
        label="Result over", required=False, help_text="Like 10 km or half-marathon."
    )
    result_time = TimeField(label="Result time", required=False)
    result_day = forms.DateField(label="Run on", required=False, widget=day_input())
    joining = forms.BooleanField(
        label="Joins a plan that is under way",
        required=False,
        help_text="The weeks gone are not made up; otherwise base weeks are left out.",
    )
    hand = forms.CharField(required=False, max_length=60_000, widget=forms.HiddenInput)
    signed = forms.CharField(
        label="Signed by",
        required=False,
        max_length=80,
        help_text="Your own name, if you decide otherwise after a clinician's word.",
    )

    def __init__(
        self, *args: Any, athlete: Athlete, plan: Plan, coach: Coach, health: Health, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.athlete, self.plan, self.coach, self.health = athlete, plan, coach, health
        self.add_questions(not health.asked)
        for n in range(1, MOST_RACES + 1):
            self.fields[f"way_name_{n}"] = forms.CharField(label="Race", required=False, max_length=80)
            self.fields[f"way_day_{n}"] = forms.DateField(label="Day", required=False, widget=day_input())
            self.fields[f"way_distance_{n}"] = DistanceField(label="Distance", required=False)
        for name in () if plan.race_mm else ("race_name", "race_day", "goal_time", "joining"):
            del self.fields[name]
        if plan.race_mm:
            del self.fields["start"]
        units: Units = "mi" if athlete.units == "mi" else "km"
        for field in self.fields.values():
            if isinstance(field, DistanceField):
                field.units = units
        for name, label in zip(DAY_FIELDS, WEEKDAYS, strict=True):
            self.fields[name] = forms.IntegerField(
                label=label[:3],
                min_value=0,
                max_value=MOST_MINUTES,
                error_messages={
                    "invalid": "Whole minutes, like 60.",
                    "min_value": "0 for a day that is not free; minutes can't be negative.",
                    "max_value": f"At most {MOST_MINUTES} minutes.",
                },
            )

    @property
    def first_fields(self) -> list[Any]:
        return [self[name] for name in ("race_name", "race_day", "goal_time", "start") if name in self.fields]

    @property
    def ways(self) -> list[list[Any]]:
        return [[self[f"way_{part}_{n}"] for part in WAY] for n in range(1, MOST_RACES + 1)]

    @property
    def days(self) -> list[Any]:
        return [self[name] for name in DAY_FIELDS]

    @property
    def minutes(self) -> tuple[int, ...]:
        return tuple(self.cleaned_data[name] for name in DAY_FIELDS)

    def clean_result_day(self) -> Any:
        day = self.cleaned_data["result_day"]
        if day and day > self.athlete.today():
            raise forms.ValidationError("A result lies in the past; this day is still to come.")
        return day

    def clean_hand(self) -> Edits:
        try:
            return read_edits(self.cleaned_data["hand"])
        except forms.ValidationError as error:
            self.add_error(None, error)
            self.hand_is_damaged = True
            return {}

    def clean_signed(self) -> str:
        return check_signature(self.cleaned_data["signed"], self.coach)

    @property
    def health_now(self) -> Health:
        """What was answered here, or what stands; signed if the coach signs."""
        signed = self.cleaned_data.get("signed", "")
        if self.asking:
            return health_of(self.answers(), signed)
        return replace(self.health, signed_by=signed or self.health.signed_by)

    @property
    def tune_ups(self) -> tuple[FitRace, ...]:
        data = self.cleaned_data
        rows: list[list[Any]] = [
            [data.get(f"way_{part}_{n}") for part in WAY] for n in range(1, MOST_RACES + 1)
        ]
        return tuple(FitRace(day, distance.mm, name) for name, day, distance in rows if name)

    def _check_ways(self, data: dict[str, Any]) -> None:
        for n in range(1, MOST_RACES + 1):
            names = [f"way_{part}_{n}" for part in WAY]
            if any(data.get(name) for name in names):
                for name in names:
                    if not data.get(name) and name not in self.errors:
                        self.add_error(name, "A race needs its name, its day and its distance.")
            day = data.get(f"way_day_{n}")
            if day and day <= self.athlete.today():
                self.add_error(f"way_day_{n}", "This day has gone; races on the way lie ahead.")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self._check_ways(data)
        if not any(data.get(name) for name in DAY_FIELDS) and not any(n in self.errors for n in DAY_FIELDS):
            self.add_error("mon", "No day is free: give at least one day its minutes.")
        parts = [data.get(n) for n in ("result_distance", "result_time", "result_day")]
        names = ("result_distance", "result_time", "result_day")
        if any(parts) and not all(parts):
            for name in names:
                if not data.get(name) and name not in self.errors:
                    self.add_error(name, "A result needs its distance, its time and its day.")
        elif (
            not any(parts)
            and not any(n in self.errors for n in names)
            and not counting_results(self.athlete, self.athlete.today())
        ):
            self.add_error("result_distance", "Paces come from a result of the past year; there is none yet.")
        return data

    @property
    def new_result(self) -> Result | None:
        data = self.cleaned_data
        if not data.get("result_distance"):
            return None
        return Result(
            athlete=self.athlete,
            day=data["result_day"],
            distance_mm=data["result_distance"].mm,
            time_ms=data["result_time"].ms,
        )

    @property
    def goal(self) -> tuple[Distance, Duration] | None:
        time = self.cleaned_data.get("goal_time")
        return (Distance(self.plan.race_mm), time) if time and self.plan.race_mm else None

    @property
    def aim(self) -> Aim:
        data = self.cleaned_data
        goal = data.get("goal_time")
        return Aim(
            race_name=data.get("race_name", ""),
            race_day=data.get("race_day"),
            race_mm=self.plan.race_mm or 0,
            goal_ms=goal.ms if goal else None,
            start=data.get("start"),
        )


@dataclass(frozen=True)
class Shown:
    """A fitted schedule as the page shows it, with what was changed by hand."""

    hand: ByHand
    card: paces.PaceCard
    weeks: list[tuple[FittedWeek, list[Line]]]
    edits: str = ""
    opened: Opened | None = None
    changed: bool = False

    @property
    def fitted(self) -> Fitted:
        return self.hand.fitted


@coach_only
def assign(request: CoachRequest, pk: int) -> HttpResponse:
    """GET shows the form with what is known; POST shows the fitted schedule, and issues it when asked to."""
    template = template_for(request.user, pk)
    wanted = request.GET.get("athlete", "")
    athlete = athlete_for(request.user, int(wanted) if wanted.isdecimal() else 0)
    version = template.latest
    plan = version.plan
    health = standing(athlete, timezone.now())
    form = AssignForm(
        request.POST or None,
        athlete=athlete,
        plan=plan,
        coach=request.coach,
        health=health,
        initial={**known(athlete), **known_race(athlete, plan)},
    )
    shown = try_fit(form, athlete, version) if request.method == "POST" and form.is_valid() else None
    if shown and request.POST.get("do") == "issue" and not shown.opened and not shown.changed:
        issue(request, form, athlete, version, shown)
        messages.success(request, f"{template.name} is issued to {athlete.name}.")
        return redirect("athlete", pk=athlete.pk)
    context = {
        "template": template,
        "plan": plan,
        "athlete": athlete,
        "form": form,
        "shown": shown,
        "later": later_free(athlete, athlete.today()),
    }
    wrong = form.errors or (shown and shown.opened and shown.opened.wrong)
    return render(request, "desk/assign.html", context, status=422 if wrong else 200)


def try_fit(form: AssignForm, athlete: Athlete, version: TemplateVersion) -> Shown | None:
    """Fit as typed, nothing stored; what stands in the way becomes an error at its field."""
    today = athlete.today()
    athlete.declared_weekly_mm = form.cleaned_data["weekly"].mm
    athlete.declared_longest_mm = form.cleaned_data["longest"].mm
    results = counting_results(athlete, today)
    if new := form.new_result:
        results = [new, *results]
        try:
            as_run(new)
        except ResultError as error:
            form.add_error("result_time", str(error))
            return None
    try:
        card = compute_card(athlete, results, form.goal)
    except CardError as error:
        form.add_error("result_distance", str(error))
        return None
    except ResultError as error:
        form.add_error("goal_time", str(error))
        return None
    try:
        fitted = preview(
            athlete,
            version,
            form.aim,
            card,
            form.minutes,
            today,
            health=form.health_now,
            tune_ups=form.tune_ups,
            joining=form.cleaned_data.get("joining", False),
        )
    except CannotFit as error:
        form.add_error(WHERE.get(error.place), error.sentence)
        return None
    return with_hand(form, fitted, card, athlete, version)


def with_hand(
    form: AssignForm, fitted: Fitted, card: paces.PaceCard, athlete: Athlete, version: TemplateVersion
) -> Shown:
    """The schedule with what the coach changes in it, this press and before."""
    today, aim = athlete.today(), form.aim
    pressed = press(form.data, fitted, form.cleaned_data["hand"], max(today, aim.start or today))
    # With what an earlier schedule held and this one lacks, so that it is told.
    edits = {**form.cleaned_data["hand"], **pressed.edits}
    edits = {
        place: edit for place, edit in edits.items() if place in pressed.edits or not held(fitted, place)
    }
    hand = change_by_hand(fitted, edits, athlete, version, aim, card, form.minutes, today)
    weeks = lines_by_week(hand, pressed.opened, athlete.units)
    return Shown(hand, card, weeks, write_edits(pressed.edits), pressed.opened, pressed.changed)


def held(fitted: Fitted, place: Place) -> bool:
    return any((s.template_key, s.repeat) == place for s in fitted.sessions)


@transaction.atomic
def issue(
    request: CoachRequest, form: AssignForm, athlete: Athlete, version: TemplateVersion, shown: Shown
) -> None:
    """Store what was typed and issue the schedule, all or nothing."""
    today = athlete.today()
    athlete.save(update_fields=["declared_weekly_mm", "declared_longest_mm"])
    result = form.new_result
    if result:
        result.save()
    Availability.objects.update_or_create(
        athlete=athlete, valid_from=today, defaults=dict(zip(DAY_FIELDS, form.minutes, strict=True))
    )
    if form.asking or form.cleaned_data["signed"]:
        health = form.health_now
        last = athlete.screenings.first()
        answers = form.answers() if form.asking or last is None else last.answers
        keep(athlete, answers, health.signed_by, timezone.now())
    enter_tune_ups(athlete, form.tune_ups)
    card: PaceCard = store_card(athlete, shown.card, result or athlete.results.first(), today)
    issue_first(
        athlete,
        version,
        form.aim,
        shown.fitted,
        card,
        by=request.user,
        hand=shown.hand,
        coach=request.coach,
    )
