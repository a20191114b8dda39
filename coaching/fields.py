"""Form fields that read what people type, by the running core's own parsers, and keep what was typed."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from athletes.running.units import (
    Distance,
    Duration,
    UnitError,
    Units,
    parse_distance,
    parse_duration,
    show_distance,
    show_duration,
)

LONGEST_TYPED = 40


def too_long(text: str) -> None:
    if len(text) > LONGEST_TYPED:
        raise ValidationError(f"That is {len(text)} characters; at most {LONGEST_TYPED} fit here.")


class DistanceField(forms.CharField):
    """`10 km`, `6.2 mi`, `half-marathon`; a bare number is in the form's units. Cleans to Distance, or None."""

    def __init__(self, *, units: Units = "km", **kwargs: Any) -> None:
        super().__init__(max_length=LONGEST_TYPED, **kwargs)
        self.units: Units = units

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return None
        too_long(text)
        try:
            return parse_distance(text, self.units)
        except UnitError as error:
            raise ValidationError(str(error)) from error

    def prepare_value(self, value: Any) -> Any:
        return show_distance(value, self.units) if isinstance(value, Distance) else value

    def run_validators(self, value: Any) -> None:
        """The parser was the validator; CharField's own count characters."""

    def validate(self, value: Any) -> None:
        if value is None and self.required:
            raise ValidationError(self.error_messages["required"], code="required")


class TimeField(forms.CharField):
    """`45:10`, `3:45:10`, `45 min`. Cleans to Duration, or None."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=LONGEST_TYPED, **kwargs)

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return None
        too_long(text)
        try:
            return parse_duration(text)
        except UnitError as error:
            raise ValidationError(str(error)) from error

    def prepare_value(self, value: Any) -> Any:
        return show_duration(value) if isinstance(value, Duration) else value

    def run_validators(self, value: Any) -> None:
        """The parser was the validator; CharField's own count characters."""

    def validate(self, value: Any) -> None:
        if value is None and self.required:
            raise ValidationError(self.error_messages["required"], code="required")


def day_input() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
