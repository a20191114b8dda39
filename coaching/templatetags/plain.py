"""Formats for templates: amounts in the reader's units, days in words. Nothing is decided here."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django import template

from athletes.running.units import Distance, Duration, Pace, show_distance, show_duration, show_pace
from plans.reading import title_of

register = template.Library()


@register.filter
def amount(mm: int | None, units: str = "km") -> str:
    """Whole millimetres as people read them: 8.1 km, 5 miles."""
    if mm is None:
        return ""
    return show_distance(Distance(mm), "mi" if units == "mi" else "km")


@register.filter
def rough(mm: int | None, units: str = "km") -> str:
    """To the whole kilometre or mile, for what is planned in whole ones or only estimated: 12 km."""
    size = 1_609_344 if units == "mi" else 1_000_000
    return "" if mm is None else f"{(mm + size // 2) // size} {units}"


@register.filter
def of(part: int, whole: int) -> tuple[int, int]:
    return part, whole


@register.filter
def amounts(pair: tuple[int, int], units: str = "km") -> str:
    """Two amounts with one unit: 8 of 61 km, to the whole kilometre or mile."""
    size = 1_609_344 if units == "mi" else 1_000_000
    part, whole = ((mm + size // 2) // size for mm in pair)
    return f"{part} of {whole} {units}"


@register.filter
def clock(seconds: int | None) -> str:
    """Whole seconds as 1:02:05 or 45:10."""
    return "" if seconds is None else show_duration(Duration(seconds * 1000))


@register.filter
def race_time(ms: int | None) -> str:
    return "" if ms is None else show_duration(Duration(ms))


@register.filter
def about(seconds: int | None) -> str:
    """A rough length of time: 35 min, 1 h 05."""
    minutes = round((seconds or 0) / 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02}"


@register.filter
def short_day(day: date | None) -> str:
    """Thu 26 November."""
    return "" if day is None else f"{day:%a} {day.day} {day:%B}"


@register.filter
def weekday(day: date) -> str:
    return f"{day:%a}"


@register.filter
def week_span(first: date) -> str:
    """30 November to 6 December."""
    last = date.fromordinal(first.toordinal() + 6)
    if first.month == last.month:
        return f"{first.day} to {last.day} {last:%B}"
    return f"{first.day} {first:%B} to {last.day} {last:%B}"


@register.filter
def titled(text: str, units: str = "km") -> str:
    """A session's short name from its shorthand."""
    return title_of(text, units)


@register.filter
def long_weekday(day: date) -> str:
    return f"{day:%A}"


@register.filter
def at_clock(moment: datetime, zone: str) -> str:
    """Wed 4 March, 18:05, by the clock of that time zone."""
    local = moment.astimezone(ZoneInfo(zone))
    return f"{short_day(local.date())}, {local:%H:%M}"


@register.filter
def climb(mm: int) -> str:
    """Metres of climb: 124 m."""
    return f"{(mm + 500) // 1000} m"


@register.filter
def pace_of(piece: Sequence[int], units: str = "km") -> str:
    """The pace of [mm, s]."""
    mm, s = piece[0], piece[1]
    if not mm or not s:
        return ""
    return show_pace(Pace(Distance(mm), Duration(s * 1000)), "mi" if units == "mi" else "km")
