"""The forms in which an athlete says what was run, or why not."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from uuid import UUID, uuid4

from django import forms

from athletes.models import Athlete
from athletes.running.units import Distance, Duration, Pace
from coaching.fields import DistanceField, TimeField, day_input
from coaching.phone.reading import units_of
from plans.models import REASONS, Log
from plans.recording import Entry

HOWS = [
    ("done", "Done as planned"),
    ("cut", "Cut short"),
    ("other", "More, or something else"),
    ("missed", "Missed"),
]
FASTEST, SLOWEST = Pace.from_s_per_km(120), Pace.from_s_per_km(40 * 60)
FURTHEST = Distance.from_km(250)
OLDEST = timedelta(366)


class RunForm(forms.Form):
    """What was run. `entry_id` was made with the form: a double tap sends it twice."""

    entry_id = forms.UUIDField(widget=forms.HiddenInput)
    seen = forms.UUIDField(widget=forms.HiddenInput, required=False)
    day = forms.DateField(label="Run on", widget=day_input())
    distance = DistanceField(label="Distance", required=False)
    moving = TimeField(label="Time", required=False, help_text="Like 45:10 or 1:20:00.")
    effort = forms.TypedChoiceField(
        label="Effort",
        required=False,
        coerce=int,
        empty_value=None,
        choices=[(n, str(n)) for n in range(11)],
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Effort is a whole number from 0 to 10."},
    )
    note = forms.CharField(
        label="A word to your coach", required=False, max_length=400, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, athlete: Athlete, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.athlete = athlete
        units = units_of(athlete)
        distance = self.fields["distance"]
        assert isinstance(distance, DistanceField)
        distance.units = units
        distance.help_text = f"Like {'5.2 mi' if units == 'mi' else '8.4 km'}."
        self.fields["day"].widget.attrs["max"] = athlete.today().isoformat()

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        today = self.athlete.today()
        if day > today:
            raise forms.ValidationError("This day is still to come.")
        if day < today - OLDEST:
            raise forms.ValidationError("That is more than a year ago.")
        return day

    def clean_distance(self) -> Any:
        distance: Distance | None = self.cleaned_data["distance"]
        if distance and distance > FURTHEST:
            raise forms.ValidationError("That is further than 250 km in one run. Is the unit right?")
        return distance

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "entry_id" in self.errors:  # a form without its number could never be saved: give it a new one
            self.data = {**self.data.dict(), "entry_id": str(uuid4())}  # type: ignore[attr-defined]
            self.add_error(None, "The page had lost this entry's number. It has a new one: save again.")
        distance: Distance | None = data.get("distance")
        time: Duration | None = data.get("moving")
        if distance and time and not SLOWEST <= Pace(distance, time) <= FASTEST:
            self.add_error(
                "moving",
                "Distance and time don't go together: nobody runs like that. A time like 1:20:00 has hours.",
            )
        return data

    def entry(self, outcome: str) -> Entry:
        data = self.cleaned_data
        missed = outcome == "missed"
        distance, moving = data.get("distance"), data.get("moving")
        reason = data.get("reason", "") if outcome in ("missed", "cut") else ""
        return Entry(
            entry_id=data["entry_id"],
            day=data["day"],
            outcome=outcome,
            distance_mm=distance.mm if distance and not missed else None,
            moving_s=round(moving.s) if moving and not missed else None,
            effort=None if missed else data.get("effort"),
            reason=reason,
            note=data.get("note", ""),
            severe=bool(data.get("severe")) and reason in ("ill", "pain"),
            seen=data.get("seen"),
        )


class LogForm(RunForm):
    """What became of a planned session. `seen` is the entry that stood when the form was made."""

    outcome = forms.ChoiceField(label="How did it go?", choices=HOWS, widget=forms.RadioSelect)
    reason = forms.ChoiceField(label="Why?", choices=REASONS, required=False, widget=forms.RadioSelect)
    severe = forms.BooleanField(
        label="With a fever, chest symptoms, or pain that changes how I run", required=False
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        outcome = data.get("outcome")
        if outcome == "missed" and not data.get("reason") and "reason" not in self.errors:
            self.add_error("reason", "Say why, so that your coach can plan around it.")
        amounts = ("distance", "moving")
        if outcome in ("cut", "other") and not any(data.get(a) or a in self.errors for a in amounts):
            self.add_error("distance", "Say how far or how long it was.")
        return data


class ExtraForm(RunForm):
    """A run that is not in the plan."""

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not data.get("distance") and "distance" not in self.errors:
            self.add_error("distance", "Say how far it was.")
        return data


def values_of(log: Log) -> dict[str, Any]:
    """What an entry said, to be corrected."""
    return {
        "seen": log.pk,
        "day": log.day,
        "outcome": log.outcome,
        "reason": log.reason,
        "distance": Distance(log.distance_mm) if log.distance_mm else None,
        "moving": Duration(log.moving_s * 1000) if log.moving_s else None,
        "effort": log.effort,
        "note": log.note,
    }


def fresh(day: date, seen: UUID | None = None) -> dict[str, Any]:
    return {"entry_id": uuid4(), "seen": seen, "day": day, "outcome": "done"}
