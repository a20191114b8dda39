"""What is typed about a race: its day's plan, its course, its splits."""

from __future__ import annotations

import hashlib
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from athletes.models import User
from athletes.running.heat import HeatError
from athletes.running.tracks import TrackError
from athletes.running.units import Distance, Duration
from coaching.fields import TimeField
from coaching.uploads import MOST_BYTES
from plans import racing
from plans.models import RaceEntry
from plans.racing import RaceDay
from plans.recarding import Outcome
from plans.training.raceday import LONGEST_TARGET, SHAPES, SHORTEST_TARGET, Mark, RaceDayError, make_plan
from plans.training.raceday_advice import weather


class PlanForm(forms.Form):
    """A coach's choices for one entry. An empty target means: as proposed."""

    target = TimeField(label="Target", required=False, help_text="Like 3:45:00; empty for what is proposed.")
    shape = forms.ChoiceField(
        label="Shape",
        choices=[(one.key, f"{one.title}: {one.words}") for one in SHAPES],
        widget=forms.RadioSelect,
    )
    air = forms.FloatField(label="Air, °C", required=False)
    humidity = forms.FloatField(label="Humidity, %", required=False)
    wbgt = forms.FloatField(label="or WBGT, °C", required=False, help_text="If it is measured or forecast.")
    words = forms.CharField(
        label="A word for the day", required=False, max_length=400, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, day: RaceDay, **kwargs: Any) -> None:
        self.day, row = day, day.row
        initial: dict[str, Any] = {"shape": "even"}
        if row:
            initial = {name: getattr(row, name) for name in ("shape", "air", "humidity", "wbgt", "words")}
            initial["target"] = Duration(row.target_ms) if row.target_ms else None
        kwargs["initial"] = initial
        super().__init__(*args, **kwargs)

    def clean_target(self) -> Duration | None:
        target: Duration | None = self.cleaned_data["target"]
        if target is None:
            return None
        if not SHORTEST_TARGET <= target <= LONGEST_TARGET:
            raise ValidationError("A target from 3 minutes to 12 hours is possible.")
        distance = Distance(self.day.race.distance_mm)
        # Faster than 2:05 a km nobody runs a kilometre.
        if target.s / distance.km < 125:
            raise ValidationError("Nobody runs that fast. Are hours and minutes right?")
        try:
            make_plan(target, distance)
        except RaceDayError as error:
            raise ValidationError(str(error)) from error
        return target

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        given = {name: data.get(name) for name in ("wbgt", "air", "humidity")}
        if not self.errors and any(v is not None for v in given.values()):
            try:
                if weather(Duration(3_600_000), **given) is None:
                    self.add_error("air", "With the humidity the air temperature is needed too.")
            except HeatError as error:
                humid = given["air"] is not None and -20 <= given["air"] <= 50
                self.add_error(
                    "wbgt" if given["wbgt"] is not None else "humidity" if humid else "air", str(error)
                )
        return data

    def keep(self, by: User) -> None:
        data = self.cleaned_data
        target = data["target"]
        racing.choose(
            self.day.entry,
            by=by,
            target_ms=target.ms if target else None,
            **{name: data[name] for name in ("shape", "air", "humidity", "wbgt", "words")},
        )


class CourseForm(forms.Form):
    file = forms.FileField(label="Course file (GPX)", max_length=200, help_text="Up to 10 MB.")

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise ValidationError("A course has less than 10 MB.")
        return file


class SplitsForm(forms.Form):
    """Splits typed, or from a recorded run."""

    splits = forms.CharField(
        label="Splits",
        required=False,
        max_length=4000,
        help_text="A line each: 5 km 24:50, half 1:45:10, finish 3:31:22. The finish alone is enough.",
        widget=forms.Textarea(attrs={"rows": 6}),
    )
    file = forms.FileField(label="or the recorded run (GPX)", required=False, max_length=200)

    def __init__(self, *args: Any, entry: RaceEntry, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.entry = entry
        self.marks: tuple[Mark, ...] = ()
        self.sha256 = ""

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.errors:
            return data
        distance, text, file = Distance(self.entry.race.distance_mm), data.get("splits", ""), data.get("file")
        if self.entry.race.day > self.entry.athlete.today():
            self.add_error(None, "The race is still to come.")
            return data
        from_file = file if file and not text.strip() else None
        try:
            if from_file is not None:
                if from_file.size > MOST_BYTES:
                    raise RaceDayError("A recorded run has less than 10 MB.")
                content = from_file.read()
                self.marks = racing.read_marks(content, distance)
                self.sha256 = hashlib.sha256(content).hexdigest()
            else:
                self.marks = racing.typed_marks(text, distance, racing.units_of(self.entry.athlete))
        except (RaceDayError, TrackError) as error:
            self.add_error("splits" if from_file is None else "file", str(error))
        return data

    def keep(self, by: User) -> Outcome | None:
        source = "file" if self.sha256 else "typed"
        return racing.report(self.entry, self.marks, source, by=by, sha256=self.sha256)
