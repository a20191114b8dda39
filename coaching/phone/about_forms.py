"""What an athlete says about themself: asked at joining, changed on the profile."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from athletes.models import DAY_FIELDS, UNITS, WEEKDAYS, Athlete
from athletes.running.units import Distance, Units
from coaching.doors.zones import zone_choices
from coaching.fields import DistanceField, day_input
from coaching.health_questions import HealthQuestions
from plans.assigning import age_on

OF_AGE, YOUNGEST, OLDEST = 18, 8, 105
MOST_MINUTES = 480
MOST_WEEK, MOST_RUN = Distance.from_km(320), Distance.from_km(250)


class BirthForm(forms.Form):
    """Birth date, and under 18 who agreed. Mix in."""

    born = forms.DateField(label="Born on", widget=day_input(), help_text="For heart rates and age groups.")
    guardian = forms.CharField(
        label="If you are under 18: which parent or guardian agrees?",
        required=False,
        max_length=80,
        help_text="Their name. They read these questions with you, and a clinician's advice comes before hard training.",
    )

    def clean_born(self) -> date:
        born: date = self.cleaned_data["born"]
        age = age_on(born, self.athlete.today())  # type: ignore[attr-defined]
        if not YOUNGEST <= age <= OLDEST:
            raise forms.ValidationError(f"That makes you {age} years old. Is the year right?")
        return born

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        born = data.get("born")
        if born and age_on(born, self.athlete.today()) < OF_AGE and not data.get("guardian"):  # type: ignore[attr-defined]
            self.add_error(
                "guardian", "Under 18 a parent or guardian agrees first. Ask them, and write their name."
            )
        return data


class HealthForm(HealthQuestions, BirthForm):
    def __init__(self, *args: Any, athlete: Athlete, **kwargs: Any) -> None:
        self.athlete = athlete
        newest = athlete.screenings.first()
        known = (
            {f"health_{name}": "yes" if yes else "no" for name, yes in newest.answers.items()}
            if newest
            else {}
        )
        kwargs["initial"] = {"born": athlete.born, "guardian": athlete.guardian, **known}
        super().__init__(*args, **kwargs)
        self.add_questions(True)


class RunningForm(forms.Form):
    weekly = DistanceField(
        label="In a usual week", help_text="The last four weeks or so, added up and shared out."
    )
    longest = DistanceField(label="Longest run", help_text="In the last four weeks.")
    goal_words = forms.CharField(
        label="What do you train for?",
        required=False,
        max_length=200,
        help_text="A race and its day, a time you hope for, or simply to run well.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, *args: Any, athlete: Athlete, **kwargs: Any) -> None:
        kwargs["initial"] = {
            "weekly": Distance(athlete.declared_weekly_mm) if athlete.declared_weekly_mm else None,
            "longest": Distance(athlete.declared_longest_mm) if athlete.declared_longest_mm else None,
            "goal_words": athlete.goal_words,
        }
        super().__init__(*args, **kwargs)
        units: Units = "mi" if athlete.units == "mi" else "km"
        for name in ("weekly", "longest"):
            self.fields[name].units = units  # type: ignore[attr-defined]
            self.fields[
                name
            ].help_text += f" In {'miles' if units == 'mi' else 'km'}; 0 if you don't run yet."

    def clean_weekly(self) -> Distance:
        return self._within(self.cleaned_data["weekly"], MOST_WEEK, "a week")

    def clean_longest(self) -> Distance:
        return self._within(self.cleaned_data["longest"], MOST_RUN, "one run")

    def _within(self, distance: Distance, most: Distance, what: str) -> Distance:
        if distance > most:
            raise forms.ValidationError(
                f"That is more than {round(most.km)} km in {what}. Is the unit right?"
            )
        return distance

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        weekly, longest = data.get("weekly"), data.get("longest")
        if weekly is not None and longest is not None and longest.mm > weekly.mm * 4:
            self.add_error(
                "longest", "One run is longer than four usual weeks together. Is one of the two a slip?"
            )
        return data


class DaysForm(forms.Form):
    """Minutes free on each weekday; 0 where there is no time."""

    def __init__(self, *args: Any, athlete: Athlete, **kwargs: Any) -> None:
        today = athlete.today()
        now = athlete.availabilities.filter(valid_from__lte=today).last() or athlete.availabilities.first()
        kwargs["initial"] = dict(zip(DAY_FIELDS, now.minutes(), strict=True)) if now else {}
        super().__init__(*args, **kwargs)
        for name, label in zip(DAY_FIELDS, WEEKDAYS, strict=True):
            self.fields[name] = forms.IntegerField(
                label=label,
                min_value=0,
                max_value=MOST_MINUTES,
                error_messages={
                    "required": "Minutes, or 0.",
                    "invalid": "Whole minutes, like 60.",
                    "min_value": "0 for a day that is not free; minutes can't be negative.",
                    "max_value": f"At most {MOST_MINUTES} minutes.",
                },
            )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and not any(data.values()):
            self.add_error(
                None, "No day is free. Give at least one day its minutes; an easy run takes 30 to 60."
            )
        return data

    @property
    def minutes(self) -> tuple[int, ...]:
        return tuple(self.cleaned_data[name] for name in DAY_FIELDS)


class AboutForm(BirthForm):
    name = forms.CharField(label="Name", max_length=80)
    units = forms.ChoiceField(label="Units", choices=UNITS, widget=forms.RadioSelect)
    time_zone = forms.ChoiceField(label="Time zone", help_text="Decides when a day begins for you.")
    week_starts = forms.TypedChoiceField(
        label="My training week begins on",
        required=False,
        coerce=int,
        empty_value=None,
        choices=[("", "the day of the practice"), *enumerate(WEEKDAYS)],
        help_text="Counts from your next schedule on.",
    )
    resting_rate = forms.IntegerField(
        label="Resting heart rate",
        required=False,
        min_value=25,
        max_value=110,
        help_text="Beats a minute, on waking.",
    )
    maximum_rate = forms.IntegerField(
        label="Highest heart rate",
        required=False,
        min_value=100,
        max_value=230,
        help_text="Measured, not estimated.",
    )
    goal_words = forms.CharField(
        label="What do you train for?",
        required=False,
        max_length=200,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    auto_small = forms.BooleanField(
        label="Apply small changes by themselves and tell me",
        required=False,
        help_text="What counts as small your coach has set. Everything else waits for your coach.",
    )
    wants_mail = forms.BooleanField(
        label="Mail me when my coach wrote, or when my week is ready",
        required=False,
        help_text="The mail says that something is there, never what. Sign-in links come anyway.",
    )
    field_order = ("name", "units", "time_zone", "week_starts", "born", "guardian")
    KEPT = (*field_order, "resting_rate", "maximum_rate", "goal_words", "auto_small", "wants_mail")

    def __init__(self, *args: Any, athlete: Athlete, **kwargs: Any) -> None:
        self.athlete = athlete
        kwargs["initial"] = {name: getattr(athlete, name) for name in self.KEPT}
        super().__init__(*args, **kwargs)
        self.fields["time_zone"].choices = zone_choices(athlete.time_zone)  # type: ignore[attr-defined]
        if athlete.born is None:
            self.fields["born"].required = False

    def clean_born(self) -> Any:
        return super().clean_born() if self.cleaned_data["born"] else None

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        low, high = data.get("resting_rate"), data.get("maximum_rate")
        if low and high and high - low < 40:
            self.add_error(
                "maximum_rate", "The highest heart rate lies at least 40 beats over the resting one."
            )
        return data

    def keep(self) -> None:
        for name in self.KEPT:
            setattr(self.athlete, name, self.cleaned_data[name])
        self.athlete.save(update_fields=list(self.KEPT))
