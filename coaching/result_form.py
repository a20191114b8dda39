"""A race result or time trial as it is typed, on the desk and on the phone."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from athletes.models import Athlete, Result, User
from athletes.running.performance import LONGEST, SHORTEST, ResultError
from athletes.running.performance import Result as Run
from athletes.running.predictions import best_result
from athletes.running.units import Units
from coaching.fields import DistanceField, TimeField, day_input
from plans.recarding import Outcome
from plans.results import Duplicate, add_result

OLDEST = timedelta(days=50 * 365)  # an older day is a slip of the pen
TWICE = "This result is here already: the same day, distance and time."


class ResultForm(forms.Form):
    """Cleans to `run`, a result somebody could have run."""

    distance = DistanceField(label="Distance", help_text="Like 10 km, half-marathon or 3 mi.")
    time = TimeField(label="Time", help_text="Like 48:30, or 1:52:10 with hours.")
    day = forms.DateField(label="Run on", widget=day_input())
    name = forms.CharField(label="Race or time trial", max_length=80, required=False)

    def __init__(self, *args: Any, athlete: Athlete, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.athlete = athlete
        units: Units = "mi" if athlete.units == "mi" else "km"
        self.fields["distance"].units = units  # type: ignore[attr-defined]
        self.fields["day"].widget.attrs["max"] = athlete.today().isoformat()
        self.run: Run | None = None

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        today = self.athlete.today()
        if day > today:
            raise ValidationError("A result lies in the past; this day is still to come.")
        if day < today - OLDEST or (self.athlete.born and day < self.athlete.born):
            raise ValidationError(f"Nobody's paces come from {day.year}. Is the year right?")
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        distance, time = data.get("distance"), data.get("time")
        if distance is None or time is None:
            return data
        try:
            self.run = Run(distance, time, data.get("day"))
        except ResultError as error:
            self.add_error("time" if SHORTEST <= distance <= LONGEST else "distance", str(error))
        return data

    def keep(self, by: User) -> tuple[Result, Outcome] | None:
        """Store it and propose the card it gives; None, and an error on the form, when it is there already."""
        if self.run is None:
            return None
        try:
            return add_result(self.athlete, self.run, self.cleaned_data["name"], by=by)
        except Duplicate:
            self.add_error(None, TWICE)
            return None

    @property
    def outside(self) -> bool:
        """Possible, but outside what the formulas cover: kept in the history only."""
        return self.run is not None and best_result([self.run]) is None
