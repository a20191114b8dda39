"""The words of the shorthand: every spelling a coach may type, in one table, in English.

Law of this file: the grammar (`shorthand.lark`) names terminals, this table spells them, and nothing else
does. Another language is another SPELLINGS and another set of the words that are printed. Matching ignores
case and never stops inside a word. Spellings that end up in the tree (MANNERS, RACES, ACTIVITIES) are listed
under the name the tree uses.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from plans.training.steps import Manner, RaceName, Unit

UNITS: Final[dict[Unit, tuple[str, ...]]] = {
    "km": ("km", "kms", "k", "kilometre", "kilometres", "kilometer", "kilometers"),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "mi": ("mi", "mile", "miles"),
    "min": ("min", "mins", "minute", "minutes", "'", "′", "’"),
    "s": ("s", "sec", "secs", "second", "seconds", '"', "″", "”", "''"),
    "h": ("h", "hr", "hrs", "hour", "hours"),
}

MANNERS: Final[dict[Manner, tuple[str, ...]]] = {
    "easy": ("easy", "easily", "gentle", "relaxed"),
    "recovery": ("recovery",),
    "long": ("long run", "long"),
    "warm-up": ("warm-up", "warm up", "warmup", "warming up", "WU"),
    "cool-down": ("cool-down", "cool down", "cooldown", "warm-down", "warm down", "CD"),
    "steady": ("steady", "moderate"),
    "tempo": ("tempo", "threshold"),
    "hard": ("hard", "strong"),
    "fast": ("fast", "quick", "on"),
    "strides": ("strides", "stride"),
    "hill": ("hill", "hills", "uphill", "uphills", "hill sprints", "hill sprint"),
    "trial": ("time trial", "time-trial"),
    "drills": ("drills", "running drills"),
    "float": ("float", "floating"),
    "jog": ("jog", "jogging", "jogged"),
    "walk": ("walk", "walking", "walked"),
    "rest": ("rest", "standing", "stand", "off"),
}

RACES: Final[dict[RaceName, tuple[str, ...]]] = {
    "HM": ("HM", "HMP", "half-marathon pace", "half marathon pace", "half pace", "half-marathon effort"),
    "MP": ("MP", "marathon pace", "marathon effort"),
    "goal": ("goal pace", "goal", "race pace", "race effort"),
}

ACTIVITIES: Final[dict[str, tuple[str, ...]]] = {
    "bike": ("bike", "biking", "cycling", "cycle", "spinning"),
    "swim": ("swim", "swimming"),
    "rowing": ("rowing", "row"),
    "elliptical": ("elliptical", "cross-trainer", "cross trainer"),
    "pool running": ("pool running", "pool run", "aqua jogging", "aqua jog"),
    "hiking": ("hiking", "hike"),
    "skiing": ("skiing", "ski"),
    "yoga": ("yoga",),
    "core": ("core",),
    "gym": ("gym", "weights"),
    "mobility": ("mobility", "stretching"),
}
STRENGTH_ACTIVITIES: Final = ("core", "gym", "mobility", "yoga")

SPELLINGS: Final[dict[str, tuple[str, ...]]] = {
    "TIMES": ("x", "×", "*", "by", "times", "sets of", "repeats of", "reps of"),
    "DASH": ("-", "–", "—", "‑", "−", "to"),
    "AT": ("@", "at", "in"),
    "PLUS": ("+", "plus", "and"),
    "THEN": ("then", "followed by"),
    "WITH": ("with", "w/", "w", "including", "incl", "incl.", "containing"),
    "OR": ("or",),
    "PER": ("/", "per", "a"),
    "EACH": ("every", "each", "per", "a"),
    "FROM": ("from",),
    "START": ("start at", "start in", "start with", "starting at", "start from", "start", "starting"),
    "LAST": ("last", "the last", "final", "finish with", "finishing with"),
    "FASTER": ("faster", "quicker"),
    "SLOWER": ("slower",),
    "EQUAL": ("equal", "same", "equally long"),
    "BACK": ("back down", "back"),
    "LADDER": ("ladder", "pyramid"),
    "PROGRESSION": ("progression run", "progression", "progressive", "progressively"),
    "PACE": ("pace",),
    "EFFORT": ("effort", "RPE"),
    "HEART": ("heart rate", "HR", "max HR", "maximum heart rate", "of max HR", "of maximum heart rate"),
    "BPM": ("bpm", "beats"),
    "PERCENT": ("%", "per cent", "percent"),
    "RACE": ("tune-up race", "tune up race", "race"),
    "HALF": ("half-marathon", "half marathon", "half"),
    "MARATHON": ("marathon",),
    "STRENGTH": ("strength training", "strength"),
    "CROSS": ("cross-training", "cross training", "cross-train", "cross train"),
    "NOTE": ("note:",),
    "FREE": ("free:", "words:"),
    # Words that carry nothing here: "8 km easy run", "6 x 400 m of hills", "2 min jog between sets".
    "FILLER": (
        "running", "run", "of", "the", "full", "between sets", "between reps", "in between", "between",
        "repeats", "reps", "day", "continuous", "getting", "after each", "recoveries", "distance", ":",
    ),
}  # fmt: skip

# How a manner reads to an athlete, as a description of the running: "3 min hard", "8 km easy".
MANNER_WORDS: Final[dict[Manner, str]] = {
    "easy": "easy",
    "recovery": "very easy",
    "long": "easy",
    "warm-up": "easy, warm-up",
    "cool-down": "easy, cool-down",
    "steady": "steady",
    "tempo": "tempo",
    "hard": "hard",
    "fast": "fast",
    "strides": "strides: quick and relaxed, never a sprint",
    "hill": "uphill, strong",
    "trial": "time trial: as fast as you can hold",
    "drills": "running drills",
    "float": "float: steady, not resting",
    "jog": "jog",
    "walk": "walk",
    "rest": "stand or walk about",
}
RACE_WORDS: Final[dict[RaceName, str]] = {
    "5K": "5K pace",
    "10K": "10K pace",
    "HM": "half-marathon pace",
    "MP": "marathon pace",
    "goal": "goal pace",
}
SHORT_RACE_WORDS: Final[dict[RaceName, str]] = {
    "5K": "5K",
    "10K": "10K",
    "HM": "half-marathon",
    "MP": "marathon",
    "goal": "goal",
}


def pattern(spellings: Iterable[str]) -> str:
    """A regular expression for any of the spellings, the longest first, never ending inside a word."""
    parts = []
    for spelling in sorted(spellings, key=lambda s: (-len(s), s)):
        text = re.escape(spelling).replace(r"\ ", r"\s+").replace("/", r"\/")
        parts.append(text + r"(?![^\W\d_])" if spelling[-1].isalpha() else text)
    return "(?:" + "|".join(parts) + ")"


def _lookup(table: dict[str, tuple[str, ...]]) -> dict[str, str]:
    return {" ".join(s.lower().split()): name for name, spellings in table.items() for s in spellings}


UNIT_OF: Final = _lookup({str(k): v for k, v in UNITS.items()})
MANNER_OF: Final = _lookup({str(k): v for k, v in MANNERS.items()})
RACE_OF: Final = _lookup({str(k): v for k, v in RACES.items()})
ACTIVITY_OF: Final = _lookup(ACTIVITIES)


def all_words() -> list[str]:
    """Every spelling that is a word, for suggestions."""
    tables: list[dict[str, tuple[str, ...]]] = [
        {str(k): v for k, v in table.items()} for table in (UNITS, MANNERS, RACES, ACTIVITIES, SPELLINGS)
    ]
    found = {s for table in tables for group in table.values() for s in group if s[0].isalpha()}
    return sorted(found - {"on"})


def terminals() -> str:
    """The grammar's words as lark terminals; a higher number is tried first where two could match."""
    units = {f"UNIT_{name.upper()}": spellings for name, spellings in UNITS.items()}
    words = {
        **SPELLINGS,
        **units,
        "RACE_PACE.3": tuple(s for spellings in RACES.values() for s in spellings),
        "ACTIVITY.2": tuple(s for spellings in ACTIVITIES.values() for s in spellings),
    }
    lines = [f"{name}: /{pattern(spellings)}/i" for name, spellings in words.items()]
    # "1 min on, 1 min off": "on" says how only where nothing follows it, not in "easy on trails".
    manner = pattern(s for spellings in MANNERS.values() for s in spellings if s != "on")
    lines.append(rf"MANNER.2: /(?:{manner}|on(?=\s*(?:[,;\/)]|$)))/i")
    # A race by its length is a pace only where a pace is asked for: "5K" after "@", never "5 km".
    lines.append(r"SHORT_RACE.4: /(?:5|10)\s?k(?![a-z])/i")
    # "off 2 min jog", "r 2 min": a recovery, where a number follows.
    lines.append(r"PAUSE.6: /(?:off|r|rec)(?=\s*[0-9])/i")
    # One word of the grammar, so that "MP + 6 strides" is not begun as "MP + 6 s".
    seconds, per = pattern(UNITS["s"]), pattern(SPELLINGS["PER"])
    length = pattern((*UNITS["km"], *UNITS["mi"]))
    lines.append(rf"OFFSET.5: /[-+–−]\s?[0-9]{{1,3}}\s*{seconds}?\s*{per}\s*{length}/i")
    return "\n".join(lines) + "\n"
