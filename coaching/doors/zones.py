"""Time zones by their names, those of cities; the practice's own first."""

from __future__ import annotations

from functools import lru_cache
from zoneinfo import available_timezones

REGIONS = (
    "Africa",
    "America",
    "Antarctica",
    "Arctic",
    "Asia",
    "Atlantic",
    "Australia",
    "Europe",
    "Indian",
    "Pacific",
)


@lru_cache(maxsize=1)
def _cities() -> tuple[tuple[str, list[tuple[str, str]]], ...]:
    found: dict[str, list[tuple[str, str]]] = {region: [] for region in REGIONS}
    for name in sorted(available_timezones()):
        region, _, city = name.partition("/")
        if region in found and city:
            found[region].append((name, city.replace("_", " ").replace("/", ", ")))
    return tuple(found.items())


def zone_choices(*first: str) -> list[tuple[str, str] | tuple[str, list[tuple[str, str]]]]:
    """`first` on top, then every city by region."""
    top = [(name, name.replace("_", " ")) for name in dict.fromkeys(first) if name in available_timezones()]
    return [*top, ("UTC", "UTC"), *((region, list(cities)) for region, cities in _cities())]
