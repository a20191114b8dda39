"""Distance, duration and pace as exact values, read from what people type and printed as they expect.

Law of this file: amounts are whole millimetres and whole milliseconds, a pace is one over the other and is
never stored as a rounded number. Rounding happens once, in the functions that show.
The international mile is 1609.344 m exactly (5280 ft of 0.3048 m).
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final, Literal

Units = Literal["km", "mi"]
Number = int | float | Decimal | Fraction

MM_PER_KM: Final = 1_000_000
MM_PER_MILE: Final = 1_609_344


class UnitError(ValueError):
    """What was typed is not an amount; the message says what was given and what is possible."""


def _exact(number: Number) -> Fraction:
    """The number as it is written: 0.1 is a tenth, not the nearest binary fraction."""
    return Fraction(str(number)) if isinstance(number, float) else Fraction(number)


def _half_up(number: Fraction) -> int:
    """The nearest whole number, halves upwards, so that equal inputs round alike everywhere."""
    return (2 * number.numerator + number.denominator) // (2 * number.denominator)


@dataclass(frozen=True, order=True, slots=True)
class Distance:
    """A length in whole millimetres, never negative."""

    mm: int

    def __post_init__(self) -> None:
        if self.mm < 0:
            raise UnitError(f"A distance can't be negative, and {self.mm} mm was given.")

    @classmethod
    def from_m(cls, metres: Number) -> "Distance":
        return cls(_half_up(_exact(metres) * 1000))

    @classmethod
    def from_km(cls, km: Number) -> "Distance":
        return cls(_half_up(_exact(km) * MM_PER_KM))

    @classmethod
    def from_miles(cls, miles: Number) -> "Distance":
        return cls(_half_up(_exact(miles) * MM_PER_MILE))

    @property
    def m(self) -> Fraction:
        return Fraction(self.mm, 1000)

    @property
    def km(self) -> Fraction:
        return Fraction(self.mm, MM_PER_KM)

    @property
    def miles(self) -> Fraction:
        return Fraction(self.mm, MM_PER_MILE)

    def __add__(self, other: "Distance") -> "Distance":
        return Distance(self.mm + other.mm)


@dataclass(frozen=True, order=True, slots=True)
class Duration:
    """A time span in whole milliseconds, never negative."""

    ms: int

    def __post_init__(self) -> None:
        if self.ms < 0:
            raise UnitError(f"A time can't be negative, and {self.ms} ms was given.")

    @classmethod
    def from_s(cls, seconds: Number) -> "Duration":
        return cls(_half_up(_exact(seconds) * 1000))

    @classmethod
    def from_min(cls, minutes: Number) -> "Duration":
        return cls(_half_up(_exact(minutes) * 60_000))

    @property
    def s(self) -> Fraction:
        return Fraction(self.ms, 1000)

    @property
    def min(self) -> Fraction:
        return Fraction(self.ms, 60_000)

    def __add__(self, other: "Duration") -> "Duration":
        return Duration(self.ms + other.ms)


@dataclass(frozen=True, eq=False, slots=True)
class Pace:
    """A distance in a duration. Neither may be zero.

    Compared by speed: `a < b` means a is the slower one, `max()` of paces is the fastest, and 1 km in 5:00
    equals 2 km in 10:00.
    """

    distance: Distance
    duration: Duration

    def __post_init__(self) -> None:
        if self.distance.mm == 0 or self.duration.ms == 0:
            raise UnitError("A pace needs a distance and a time above zero.")

    @classmethod
    def from_s_per_km(cls, seconds: Number) -> "Pace":
        """Kept to a millisecond in 10 km, so that a marathon at this pace is right to 5 ms."""
        return cls(Distance(10 * MM_PER_KM), Duration.from_s(10 * _exact(seconds)))

    @classmethod
    def from_s_per_mile(cls, seconds: Number) -> "Pace":
        return cls(Distance(10 * MM_PER_MILE), Duration.from_s(10 * _exact(seconds)))

    @property
    def s_per_km(self) -> Fraction:
        return Fraction(self.duration.ms * 1000, self.distance.mm)

    @property
    def s_per_mile(self) -> Fraction:
        return Fraction(self.duration.ms * MM_PER_MILE, self.distance.mm * 1000)

    def time_for(self, distance: Distance) -> Duration:
        return Duration(_half_up(Fraction(self.duration.ms * distance.mm, self.distance.mm)))

    def distance_in(self, duration: Duration) -> Distance:
        return Distance(_half_up(Fraction(self.distance.mm * duration.ms, self.duration.ms)))

    def _against(self, other: "Pace") -> int:
        """Above zero when self is faster; integers only, so that equal speeds are equal."""
        return self.distance.mm * other.duration.ms - other.distance.mm * self.duration.ms

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Pace) and self._against(other) == 0

    def __hash__(self) -> int:
        return hash(self.s_per_km)

    def __lt__(self, other: "Pace") -> bool:
        return self._against(other) < 0

    def __le__(self, other: "Pace") -> bool:
        return self._against(other) <= 0

    def __gt__(self, other: "Pace") -> bool:
        return self._against(other) > 0

    def __ge__(self, other: "Pace") -> bool:
        return self._against(other) >= 0


MILE: Final = Distance(MM_PER_MILE)
FIVE_K: Final = Distance(5_000_000)
TEN_K: Final = Distance(10_000_000)
HALF_MARATHON: Final = Distance(21_097_500)
MARATHON: Final = Distance(42_195_000)

# Above these an entry is a slip of the finger: no single run or result of this trade reaches them.
LONGEST_ENTRY: Final = Distance.from_km(1000)
LONGEST_TIME: Final = Duration.from_min(100 * 60)

_NAMED: Final = {
    "mile": MILE,
    "one mile": MILE,
    "5k": FIVE_K,
    "10k": TEN_K,
    "hm": HALF_MARATHON,
    "half": HALF_MARATHON,
    "half marathon": HALF_MARATHON,
    "half-marathon": HALF_MARATHON,
    "marathon": MARATHON,
}
_MM: Final = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1000),
    **dict.fromkeys(("km", "k", "kms", "kilometre", "kilometres", "kilometer", "kilometers"), MM_PER_KM),
    **dict.fromkeys(("mi", "mile", "miles"), MM_PER_MILE),
}
_AMOUNT: Final = re.compile(r"([0-9]{1,9}(?:[.,][0-9]{1,9})?)\s*([a-z]*)\.?")
_GROUPED: Final = re.compile(r"([1-9][0-9]{0,2})[.,]([0-9]{3})")


def _plain(text: str) -> str:
    """Lower case, single spaces, and one spelling for the marks that keyboards vary."""
    for mark, usual in (("’", "'"), ("′", "'"), ("‘", "'"), ("”", '"'), ("″", '"'), ("“", '"'), ("''", '"')):
        text = text.replace(mark, usual)
    return " ".join(text.lower().split())


def _quoted(text: str) -> str:
    """What was given, in quotes, short enough to stand in a sentence."""
    text = " ".join(text.split())
    return f"“{text[:40]}…”" if len(text) > 40 else f"“{text}”"


def parse_distance(text: str, units: Units = "km") -> Distance:
    """Read `10 km`, `5,5 km`, `13.1 mi`, `800 m`, `1,500 m`, `half marathon`; a bare number is in `units`.

    A comma is a decimal mark, except in metres before three digits, where 1,500 m is fifteen hundred.
    Raises UnitError for anything else, for zero and for more than 1000 km.
    """
    plain = _plain(text)
    if plain in _NAMED:
        return _NAMED[plain]
    match = _AMOUNT.fullmatch(plain)
    if match is None or (match[2] and match[2] not in _MM):
        raise UnitError(f"{_quoted(text)} is not a distance. Write it like 10 km, 800 m or 6.2 mi.")
    number, unit = match[1], match[2] or units
    if _MM[unit] == 1000 and (grouped := _GROUPED.fullmatch(number)):
        number = grouped[1] + grouped[2]
    distance = Distance(_half_up(Fraction(number.replace(",", ".")) * _MM[unit]))
    if distance.mm == 0:
        raise UnitError(f"{_quoted(text)} is no distance at all. Give one above zero, like 5 km.")
    if distance > LONGEST_ENTRY:
        raise UnitError(
            f"{_quoted(text)} is over 1000 km. Is the unit right? 800 m and 10 km are both possible."
        )
    return distance


_CLOCK: Final = re.compile(r"(?:([0-9]{1,4}):)?([0-9]{1,4}):([0-9]{2})(?:[.,]([0-9]{1,3}))?")
_PRIMES: Final = re.compile(r"""([0-9]{1,4})'\s*(?:([0-9]{1,2})(?:[.,]([0-9]{1,3}))?"?)?""")
_SPOKEN: Final = re.compile(
    r"(?:([0-9]{1,3}(?:[.,][0-9]{1,3})?)\s*(?:h|hr|hrs|hour|hours)\b\.?)?\s*"
    r"(?:([0-9]{1,4}(?:[.,][0-9]{1,3})?)\s*(?:m|min|mins|minute|minutes)\b\.?)?\s*"
    r"(?:([0-9]{1,5}(?:[.,][0-9]{1,3})?)\s*(?:s|sec|secs|second|seconds)\b\.?)?"
)
_HOURS_MINUTES: Final = re.compile(r"([0-9]{1,2})\s*h\s*([0-9]{2})")


def _clock(hours: str | None, minutes: str, seconds: str | None, part: str | None, text: str) -> Fraction:
    """Seconds of a clock time. Only the first field may pass 59: 75:10 is fine, 4:75 is a slip."""
    too_big = int(seconds or 0) > 59 or (hours is not None and int(minutes) > 59)
    if too_big:
        raise UnitError(
            f"{_quoted(text)} has 60 or more where 0 to 59 belongs. Write it like 45:10 or 3:45:10."
        )
    whole = int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds or 0)
    return whole + Fraction(f"0.{part or 0}")


def _seconds(text: str) -> Fraction | None:
    """Seconds in any of the spellings of a time, or None when it is none of them."""
    plain = _plain(text)
    if match := _CLOCK.fullmatch(plain):
        return _clock(match[1], match[2], match[3], match[4], text)
    if match := _PRIMES.fullmatch(plain):
        return _clock(None, match[1], match[2], match[3], text)
    if match := _HOURS_MINUTES.fullmatch(plain):
        return _clock(match[1], match[2], None, None, text)
    if plain and (match := _SPOKEN.fullmatch(re.sub(r"(?<=[a-z])(?=[0-9])", " ", plain))):
        parts = [Fraction(part.replace(",", ".")) if part else Fraction(0) for part in match.groups()]
        return parts[0] * 3600 + parts[1] * 60 + parts[2]
    return None


def parse_duration(text: str) -> Duration:
    """Read `3:45:10`, `45:10`, `19:57.3`, `4'50"`, `1 h 30`, `45 min`, `90 s`.

    Two fields are minutes and seconds. Raises UnitError for a bare number, for anything else, for zero and
    for more than 100 hours.
    """
    seconds = _seconds(text)
    if seconds is None:
        if re.fullmatch(r"[0-9]+([.,][0-9]+)?", text.strip()):
            raise UnitError(
                f"{_quoted(text)} could be minutes or hours. Write 45:10, 3:45:10, 45 min or 90 s."
            )
        raise UnitError(f"{_quoted(text)} is not a time. Write it like 45:10, 3:45:10, 45 min or 90 s.")
    duration = Duration(_half_up(seconds * 1000))
    if duration.ms == 0:
        raise UnitError(f"{_quoted(text)} is no time at all. Give one above zero, like 45:10.")
    if duration > LONGEST_TIME:
        raise UnitError(f"{_quoted(text)} is over 100 hours. Write hours, minutes and seconds like 3:45:10.")
    return duration


_PER: Final = re.compile(r"(.+?)\s*(?:min(?:utes)?)?\s*(?:/|per)\s*([a-z]+)\.?")
_SPEED: Final = re.compile(r"([0-9]{1,3}(?:[.,][0-9]{1,3})?)\s*(km/h|kmh|kph|mph|mi/h)")


def parse_pace(text: str, units: Units = "km") -> Pace:
    """Read `4:50/km`, `7:45/mi`, `4'50"`, `4:50 per km`, `12.5 km/h`, `7.5 mph`; a bare time is per `units`.

    Raises UnitError for anything else and for what no runner does (faster than 1:30, slower than 40:00 per km).
    """
    plain = _plain(text)
    how = "Write it like 4:50/km, 7:45/mi or 12 km/h."
    if speed := _SPEED.fullmatch(plain):
        unit = "mi" if speed[2] in ("mph", "mi/h") else "km"
        number = Fraction(speed[1].replace(",", "."))
        seconds = 3600 / number if number else None
    else:
        per = _PER.fullmatch(plain)
        unit = per[2] if per else units
        seconds = _seconds(per[1] if per else plain)
    if seconds is None or _MM.get(unit, 0) < MM_PER_KM:
        raise UnitError(f"{_quoted(text)} is not a pace. {how}")
    per_km = seconds * MM_PER_KM / _MM[unit]
    if not 90 <= per_km <= 2400:
        raise UnitError(f"{_quoted(text)} is no running pace: 1:30 to 40:00 per km is possible. {how}")
    return Pace.from_s_per_mile(seconds) if _MM[unit] == MM_PER_MILE else Pace.from_s_per_km(seconds)


def _decimals(number: Fraction, places: int) -> str:
    """A number to so many places, halves upwards, without idle zeros: 5.5, 10, 21.1."""
    scaled = _half_up(number * 10**places)
    text = f"{scaled // 10**places}.{scaled % 10**places:0{places}d}"
    return text.rstrip("0").rstrip(".")


def show_distance(distance: Distance, units: Units) -> str:
    """`10 km`, `21.1 km`, `6.2 mi`: two places at most. Below a kilometre or a mile: `800 m`.

    In miles a short distance keeps metres only when it is whole hundreds, as repeats on a track are; a
    half-mile stays `0.5 mi`.
    """
    metres = _half_up(distance.m)
    if units == "mi":
        track = distance.mm < MM_PER_MILE and distance.mm % 100_000 == 0 and distance.mm > 0
        return f"{metres} m" if track else f"{_decimals(distance.miles, 2)} mi"
    return f"{metres} m" if 0 < metres < 1000 else f"{_decimals(distance.km, 2)} km"


def show_duration(duration: Duration, decimals: int = 0) -> str:
    """`3:45:10`, `45:10`, `0:48`; with `decimals` (0 to 3) also `19:57.3`. Rounded once, so never 3:60."""
    scale = 10**decimals
    total = _half_up(duration.s * scale)
    whole, part = divmod(total, scale)
    hours, minutes, seconds = whole // 3600, whole // 60 % 60, whole % 60
    text = f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"
    return f"{text}.{part:0{decimals}d}" if decimals else text


def show_pace(pace: Pace, units: Units) -> str:
    """`4:50/km` or `7:45/mi`, to the second."""
    seconds = pace.s_per_mile if units == "mi" else pace.s_per_km
    return f"{show_duration(Duration.from_s(seconds))}/{units}"
