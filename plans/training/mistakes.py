"""What is said when a line of shorthand can't be understood: where, why, and what might be meant."""

from __future__ import annotations

import difflib
import re
from functools import lru_cache

from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from plans.training import words


class ShorthandError(ValueError):
    """A line that can't be read as a session.

    `message` is a sentence, `position` and `length` say which characters of `text` it is about (0-based,
    the end of the text when something is missing), `suggestion` is what to write, or empty.
    """

    def __init__(self, message: str, text: str, position: int, suggestion: str = "", length: int = 1) -> None:
        self.message = message
        self.text = text
        self.position = max(0, min(position, len(text)))
        self.suggestion = suggestion
        self.length = max(1, min(length, max(1, len(text) - self.position)))
        super().__init__(message)

    @property
    def marker(self) -> str:
        """Two lines for a fixed-width font: the text, and carets under what is wrong."""
        plain = re.sub(r"\s", " ", self.text)
        return f"{plain}\n{' ' * self.position}{'^' * self.length}"

    def __str__(self) -> str:
        hint = f" {self.suggestion}" if self.suggestion else ""
        return f"{self.message}{hint}\n{self.marker}"


_PACES = "Possible paces: 5K, 10K, HM, MP, goal, 4:30/km, effort 7, easy."
_WORD = re.compile(r"[^\W\d_][^\W\d_'’-]*")
_PACE_ASKED = re.compile(r"(?:@|\bat|\bin|\bfrom)(?:.*-)?$", re.IGNORECASE)
_BARE_TIME = re.compile(
    r"(?:@|\bat|\bin)\s*([0-9]{1,2}:[0-9]{2}(?:\s?[-–]\s?[0-9]{1,2}:[0-9]{2})?)$", re.IGNORECASE
)


@lru_cache(maxsize=1)
def _vocabulary() -> dict[str, str]:
    return {word.lower(): word for word in words.all_words() if len(word) > 1}


def _near(word: str) -> str:
    typed = word.lower()
    found = difflib.get_close_matches(typed, _vocabulary(), n=1, cutoff=0.72)
    if not found and len(typed) > 2:  # letters in the wrong order
        found = [known for known in _vocabulary() if sorted(known) == sorted(typed)]
    return _vocabulary()[found[0]] if found else ""


def explained(error: UnexpectedInput, text: str) -> ShorthandError:
    """The parser's complaint in a coach's words."""
    at_end = isinstance(error, UnexpectedToken) and error.token.type == "$END"
    position = len(text.rstrip()) if at_end else (error.pos_in_stream or 0)
    before = text[:position].rstrip()
    if at_end:
        return _unfinished(before, text)
    word = _WORD.match(text, position)
    length = len(word[0]) if word else 1
    if isinstance(error, UnexpectedToken) and error.token.type != "FREE_WORDS":
        length = len(str(error.token))
    found = text[position : position + length]
    if unit := re.search(r"(?:@|\bat|\bin|\bfrom)\s*((?!(?:5|10)\s?k)[0-9.]+\s?k)$", before, re.IGNORECASE):
        return ShorthandError(f"“{unit[1]}” is not a pace I know.", text, unit.start(1), _PACES, len(unit[1]))
    if bare := _BARE_TIME.search(before):
        return _bare_time(bare, text)
    if _PACE_ASKED.search(before):
        return ShorthandError(f"“{found}” is not a pace I know.", text, position, _PACES, length)
    if race := re.search(r"\b(?:5|10)$", before) if found.upper() == "K" else None:
        hint = f"A race pace comes after “@”: @ {race[0]}K."
        return ShorthandError(
            f"“{race[0]}K” does not fit here.", text, race.start(), hint, position + 1 - race.start()
        )
    if hint := _how(before, found):
        return ShorthandError(f"“{found}” does not fit here.", text, position, hint, length)
    if word and (isinstance(error, UnexpectedCharacters) or word[0].lower() not in _vocabulary()):
        near = _near(word[0])
        hint = f"Did you mean “{near}”?" if near and near.lower() != word[0].lower() else _NOTE
        return ShorthandError(f"“{word[0]}” is not a word I know here.", text, position, hint, len(word[0]))
    return ShorthandError(f"“{found}” does not fit here.", text, position, _APART, length)


_NOTE = "Words for the athlete go to the end: “note: on grass”. Or keep the line as free text."
_APART = "Separate the parts with “;”, or keep the line as free text."


def _bare_time(bare: re.Match[str], text: str) -> ShorthandError:
    hint = f"Write {bare[1]}/km or {bare[1]}/mi."
    message = f"Is {bare[1]} the pace per km or per mile?"
    return ShorthandError(message, text, bare.start(1), hint, len(bare[1]))


def _how(before: str, found: str) -> str:
    """What usually mends a word or sign in a place where it can't stand."""
    if re.fullmatch(words.pattern(words.SPELLINGS["TIMES"]), found, re.IGNORECASE):
        return "Put repeats within repeats in brackets: 2 x (4 x 400 m @ 5K, 200 m jog)."
    if found.startswith("@") and before.endswith(")"):
        return "Put the pace inside the brackets, with each piece."
    if found[:1] in ("(", ")"):
        return "Brackets hold what is repeated: 3 x (2 min @ HM, 1 min @ 10K)."
    return ""


def _unfinished(before: str, text: str) -> ShorthandError:
    end = len(before)
    if not before:
        return ShorthandError("Nothing is written here.", text, 0, "For a day off, write “rest”.")
    if before.count("(") > before.count(")"):
        return ShorthandError("A bracket is not closed.", text, before.rindex("("), "Add “)”.")
    if offset := re.search(r"([-+–−])\s?([0-9]{1,3})\s*(?:s|sec)?$", before):
        hint = f"Write {offset[1]}{offset[2]} s/km or s/mi."
        return ShorthandError(
            "Seconds for each km or for each mile?", text, offset.start(), hint, len(offset[0])
        )
    if bare := _BARE_TIME.search(before):
        return _bare_time(bare, text)
    if re.search(r"(?:@|\bat|\bin|\bfrom)$|(?:@|\bat)\s*[0-9.:-]+\s*\w*$", before, re.IGNORECASE):
        asked = re.search(r"(?:@|\bat|\bin|\bfrom)[^@]*$", before, re.IGNORECASE)
        start = asked.start() if asked else end
        return ShorthandError("A pace is missing or not one I know.", text, start, _PACES, end - start)
    return ShorthandError("The line stops too early: something should follow.", text, end, "", 1)
