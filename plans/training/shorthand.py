"""Sessions typed as coaches write them: `parse` and `write`, and what else is asked of a session.

`parse(write(session)) == session` for every tree that `parse` can give. The grammar is `shorthand.lark`, the words
are in `words.py`. Nothing but ShorthandError comes out of `parse`, whatever goes in.
"""

from __future__ import annotations

import re
from functools import lru_cache
from importlib import resources
from typing import cast

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedInput

from plans.training import words
from plans.training.amounts import Node
from plans.training.bags import read_bag
from plans.training.describing import StepLine, lines, title
from plans.training.easing import eased
from plans.training.intensity import role_of
from plans.training.levels import at_level, resolved
from plans.training.measuring import Measure, measure
from plans.training.mistakes import ShorthandError, explained
from plans.training.profile import profile
from plans.training.reading import read_line
from plans.training.sizing import resized, scaled, written_in
from plans.training.steps import Extent, Part, Session, Step, Words
from plans.training.writing import write

__all__ = [
    "LONGEST_TEXT",
    "Measure",
    "Session",
    "ShorthandError",
    "StepLine",
    "at_level",
    "eased",
    "keep_words",
    "lines",
    "measure",
    "parse",
    "profile",
    "resized",
    "resolved",
    "role_of",
    "scaled",
    "title",
    "write",
    "written_in",
]

LONGEST_TEXT = 400
_NOTE = re.compile(r"(?:^|[;,]?\s+)note:", re.IGNORECASE)


@lru_cache(maxsize=1)
def _parser() -> Lark:
    grammar = resources.files("plans.training").joinpath("shorthand.lark").read_text(encoding="utf-8")
    return Lark(
        grammar + words.terminals(), parser="lalr", propagate_positions=True, maybe_placeholders=False
    )


@lru_cache(maxsize=8192)
def parse(text: str) -> Session:
    """Read one line of shorthand, at most 400 characters.

    Raises ShorthandError, which says where and why and what might be meant.
    """
    if len(text) > LONGEST_TEXT:
        message = f"The line has {len(text)} characters; {LONGEST_TEXT} are possible."
        raise ShorthandError(message, text, LONGEST_TEXT, "Move words for the athlete to the note.", 1)
    if control := re.search(r"[\x00-\x08\x0e-\x1f\x7f]", text):
        raise ShorthandError("A character here can't be shown.", text, control.start(), "Delete it.")
    line, note = text, ""
    if found := _NOTE.search(text):
        line, note = text[: found.start()], " ".join(text[found.end() :].split())
    line = re.sub(r"[\s.]+$", "", line) if re.search(r"[^\W\d]\.\s*$", line) else line
    try:
        tree = _parser().parse(line)
    except UnexpectedInput as error:
        raise explained(error, line) from None
    return Session(_parts(tree, line), note)


def _parts(tree: Node, text: str) -> tuple[Part, ...]:
    """start: line | FREE FREE_WORDS [ "=" line ]"""
    first = tree.children[0]
    if isinstance(first, Token):
        amounts = next((c for c in tree.children if isinstance(c, Tree)), None)
        said = " ".join(str(tree.children[1]).split())
        if not said:
            raise ShorthandError("The words are missing.", text, len(text), "Try: free: as you feel = 60 min")
        return (_counted_words(said, amounts, text),)
    if _is_day_off(first, text):
        return ()
    return read_line(first, text)


def _is_day_off(line: Node, text: str) -> bool:
    """`rest`, `rest day`, `off`: the word alone is the session."""
    only = [c for c in line.children if isinstance(c, Tree)]
    if len(only) != 1 or only[0].data != "phrases":
        return False
    if any(cast(Node, phrase).data not in ("manner", "mark") for phrase in only[0].children):
        return False
    bag = read_bag(only[0], text)
    return bag.manners == [("rest",)] and bag.marks.keys() <= {"FILLER"}


def _counted_words(said: str, amounts: Node | None, text: str) -> Words:
    kept: dict[str, Extent] = {}
    for part in read_line(amounts, text) if amounts else ():
        hard = isinstance(part, Step) and part.manners == ("hard",)
        if (
            not isinstance(part, Step)
            or not isinstance(part.extent, Extent)
            or not (hard or not part.manners)
        ):
            where = amounts.meta.start_pos if amounts else 0
            hint = "Try: free: as you feel = 60 min, 20 min hard"
            raise ShorthandError("After “=” stand amounts only.", text, where, hint, len(text) - where)
        kept[("hard_" if hard else "") + ("distance" if part.extent.is_distance else "time")] = part.extent
    return Words(said, **kept)


def keep_words(
    text: str,
    *,
    distance: Extent | None = None,
    time: Extent | None = None,
    hard_distance: Extent | None = None,
    hard_time: Extent | None = None,
) -> Session:
    """A session kept as the coach's free text, counting with the amounts the coach gives.

    `text` is trimmed to what can be written again: one line, no "=", no "note:".
    """
    said = " ".join(re.sub(r"=|note:", " ", text, flags=re.IGNORECASE).split())
    return Session((Words(said or "free", distance, time, hard_distance, hard_time),))
