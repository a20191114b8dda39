"""What must always hold of the shorthand: it reads back what it writes, and never fails but in its own words."""

import string

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from plans.training.mistakes import ShorthandError
from plans.training.shorthand import LONGEST_TEXT, parse, write
from plans.training.words import all_words
from tests.training.session_trees import sessions


def reads_back(session):
    text = write(session)
    if len(text) > LONGEST_TEXT:
        return  # too long a line for a board
    assert parse(text) == session, text


class TestRoundTrip:
    @given(sessions)
    @settings(max_examples=400, deadline=None)
    def test_a_written_tree_reads_back(self, session):
        reads_back(session)

    @pytest.mark.long
    @given(sessions)
    @settings(max_examples=10_000, deadline=None)
    def test_ten_thousand_trees_read_back(self, session):
        reads_back(session)


pieces = st.sampled_from(
    [*all_words(), *string.punctuation, "6", "x", "3", "12.5", "1:30", "@", "5K", "HM", "\u00d7", "400"]
)
typed = st.one_of(
    st.text(max_size=60),
    st.text(string.ascii_letters + string.digits + " @;:,.()+-'\"/%", max_size=80),
    st.lists(pieces, max_size=20).map(" ".join),
    st.lists(pieces, max_size=20).map("".join),
)


def read_or_refused(text):
    try:
        return parse(text)
    except ShorthandError as error:
        return error


def only_its_own_error(text):
    """Anything else that is raised fails the test; what is refused is refused with a place in the text."""
    found = read_or_refused(text)
    if not isinstance(found, ShorthandError):
        assert parse(write(found)) == found
        return
    assert found.message
    assert 0 <= found.position <= len(text)
    assert 1 <= found.length <= max(1, len(text) - found.position)
    assert found.marker.splitlines()[-1].endswith("^" * found.length)


class TestAnyText:
    @given(typed)
    @settings(max_examples=600, deadline=None)
    @example("\x00")
    @example("1" * 400)
    @example("(" * 399)
    @example("6 x (" * 60 + "1 km" + ")" * 60)
    @example("note:")
    @example("free: = 3 km")
    @example("0:00 min easy")
    @example("\u0666 km easy")
    def test_nothing_else_is_raised(self, text):
        only_its_own_error(text)

    @pytest.mark.long
    @given(typed)
    @settings(max_examples=20_000, deadline=None)
    def test_nothing_else_is_raised_in_twenty_thousand(self, text):
        only_its_own_error(text)

    def test_a_longer_line_is_refused_with_its_length(self):
        with pytest.raises(ShorthandError) as caught:
            parse("8 km easy; " * 40)
        assert caught.value.message == "The line has 440 characters; 400 are possible."
        assert caught.value.position == 400
