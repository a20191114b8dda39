"""The library of named sessions: each entry is understood, makes sense and has a sentence for the athlete."""

import pytest

from plans.training.intensity import role_of
from plans.training.measuring import measure
from plans.training.named_sessions import NamedSessionError, named_sessions, read_named_sessions
from plans.training.shorthand import parse, write
from tests.training.session_cards import exact_card

ENTRY = {"name": "Hills", "steps": "8 x 30 s hill, jog back", "purpose": "Strength."}


def test_the_library_has_something_for_every_kind_of_day():
    library = named_sessions()
    assert len(library) >= 25
    assert {role_of(entry.steps) for entry in library} == {"easy", "long", "quality"}


@pytest.mark.parametrize("entry", named_sessions(), ids=lambda entry: entry.name)
def test_an_entry_is_sound(entry):
    assert parse(write(entry.steps)) == entry.steps
    assert entry.purpose.endswith(".")
    total = measure(entry.steps, exact_card)
    assert 20 * 60 <= total.total_s[0] <= total.total_s[1] <= 3 * 3600
    if role_of(entry.steps) == "quality":
        assert 240 <= total.hard_s[0] <= total.hard_s[1] <= 40 * 60


@pytest.mark.parametrize(
    ("entries", "message"),
    [
        (
            [{**ENTRY, "steps": "8 x 30 s hil"}],
            "“Hills”: “hil” is not a word I know here. Did you mean “hill”",
        ),
        ([ENTRY, {**ENTRY, "name": "hills"}], "“hills” stands twice"),
        ([{"name": "Hills"}], "Entry 1 needs a name, steps and a purpose"),
        ([{**ENTRY, "purpose": "x" * 201}], "too long"),
    ],
)
def test_a_broken_entry_is_named(entries, message):
    with pytest.raises(NamedSessionError, match=message):
        read_named_sessions(entries)
