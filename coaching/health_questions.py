"""The health questions as fields of a form: yes or no each, and a coach's signature where one is needed."""

from __future__ import annotations

from typing import Any

from django import forms

from athletes import screening
from athletes.models import Coach

YES_NO = [("no", "no"), ("yes", "yes")]


class HealthQuestions(forms.Form):
    """Mix into a form. Answers are asked for when `ask` is true; nothing is ticked beforehand."""

    def add_questions(self, ask: bool) -> None:
        self.asking = ask
        for name, words in screening.QUESTIONS if ask else ():
            self.fields[f"health_{name}"] = forms.ChoiceField(
                label=words,
                choices=YES_NO,
                widget=forms.RadioSelect,
                error_messages={"required": "Answer with yes or no."},
            )

    @property
    def questions(self) -> list[Any]:
        return [self[f"health_{name}"] for name, _ in screening.QUESTIONS] if self.asking else []

    def answers(self) -> dict[str, bool]:
        return {name: self.cleaned_data.get(f"health_{name}") == "yes" for name, _ in screening.QUESTIONS}


def check_signature(typed: str, coach: Coach) -> str:
    """A coach signs with the own name. Raises ValidationError."""
    name = " ".join(typed.split())
    if name and name.casefold() != str(coach).casefold():
        raise forms.ValidationError(f"Sign with your own name: {coach}.")
    return str(coach) if name else ""
