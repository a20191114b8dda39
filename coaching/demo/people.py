"""The people of the demo club. All of it is invented: club, town, races, names, results."""

from __future__ import annotations

from dataclasses import dataclass

CLUB = "Harbour Lane Runners"
COACHES = [("Marta Quill", "coach@example.org", True), ("Jonah Tarn", "second.coach@example.org", False)]
PASSWORD = "low tide demo"

# Race, distance in metres, days from today (moved to that week's Sunday).
RACES = {
    "marathon": ("Saltmarsh Marathon", 42_195, 66),
    "marathon-late": ("Lantern Coast Marathon", 42_195, 87),
    "half": ("Two Piers Half", 21_097.5, 26),
    "10k": ("Quay 10K", 10_000, 12),
}
TEMPLATES = {
    "marathon": "marathon-18-weeks-5-days",
    "marathon-gentle": "marathon-18-weeks-4-days",
    "half": "half-marathon-12-weeks-4-days",
    "10k": "10k-10-weeks-4-days",
}

HOME, AWAY = "Europe/Lisbon", "America/Halifax"


@dataclass(frozen=True)
class Person:
    """One athlete. `five_k` is a time over 5 km; `free` minutes Monday to Sunday; `story` what befell them."""

    name: str
    born: int
    five_k: str
    week_km: int
    long_km: int
    race: str
    template: str
    group: str
    free: tuple[int, int, int, int, int, int, int]
    story: str = "ordinary"
    units: str = "km"
    zone: str = HOME
    goal: str = ""


FIVE = (60, 90, 0, 100, 0, 75, 240)
SIX = (60, 90, 60, 100, 0, 75, 240)
FOUR = (0, 90, 0, 100, 0, 75, 240)
EARLY = (75, 0, 90, 0, 60, 240, 90)
THREE = (0, 90, 0, 90, 0, 0, 240)

PEOPLE = (
    Person(
        "Bea Lindqvist",
        1988,
        "23:40",
        42,
        15,
        "marathon",
        "marathon",
        "Marathon A",
        FIVE,
        "athlete",
        goal="3:55:00",
    ),
    Person(
        "Amadou Keita",
        1995,
        "17:05",
        62,
        19,
        "marathon",
        "marathon",
        "Marathon A",
        SIX,
        "perfect",
        goal="2:49:00",
    ),
    Person("Ilse Varga", 1990, "21:30", 46, 16, "marathon", "marathon", "Marathon A", FIVE, "shin"),
    Person("Ines Calder", 1984, "22:10", 45, 16, "marathon", "marathon", "Marathon A", FIVE, "cold"),
    Person("Noor Abbas", 1992, "20:50", 48, 16, "marathon", "marathon", "Marathon A", SIX),
    Person("Rosa Lind", 1979, "24:20", 41, 15, "marathon", "marathon", "Marathon A", FIVE, units="mi"),
    Person(
        "Tobias Ekwall",
        1986,
        "27:15",
        30,
        12,
        "marathon-late",
        "marathon-gentle",
        "Marathon B",
        FOUR,
        "silent",
    ),
    Person(
        "Jonas Pike", 1975, "28:40", 28, 12, "marathon-late", "marathon-gentle", "Marathon B", FOUR, zone=AWAY
    ),
    Person("Kira Dunmore", 1993, "26:30", 30, 12, "marathon-late", "marathon-gentle", "Marathon B", FOUR),
    Person(
        "Per Sandal",
        1968,
        "29:50",
        28,
        12,
        "marathon-late",
        "marathon-gentle",
        "Marathon B",
        EARLY,
        units="mi",
    ),
    Person(
        "Uma Reyes", 1981, "31:20", 27, 11, "marathon-late", "marathon-gentle", "Marathon B", FOUR, zone=AWAY
    ),
    Person(
        "Edith Sol", 1963, "33:10", 27, 11, "marathon-late", "marathon-gentle", "Marathon B", FOUR, "busy"
    ),
    Person("Nadia Brandt", 1991, "22:50", 34, 13, "half", "half", "Half", FOUR, "too much"),
    Person("Dario Felten", 1989, "21:10", 36, 13, "half", "half", "Half", FOUR),
    Person("Greta Hollis", 1997, "25:40", 30, 11, "half", "half", "Half", FOUR, "perfect"),
    Person("Hamid Rowe", 1972, "24:50", 31, 12, "half", "half", "Half", FOUR),
    Person("Mina Thorne", 1985, "27:50", 28, 11, "half", "half", "Half", FOUR, units="mi", zone=AWAY),
    Person("Quentin Fry", 1977, "23:15", 32, 12, "half", "half", "Half", FIVE),
    Person("Tess Vane", 1999, "20:20", 36, 13, "half", "half", "Half", FOUR, "busy"),
    Person("Carys Moyle", 1994, "19:30", 28, 10, "10k", "10k", "10K", FOUR, goal="40:00"),
    Person("Finn Osei", 2001, "18:10", 32, 11, "10k", "10k", "10K", FOUR),
    Person("Leo Marsh", 1966, "30:30", 20, 8, "10k", "10k", "10K", FOUR),
    Person("Orla Finch", 1959, "38:00", 18, 7, "10k", "10k", "10K", THREE, "busy"),
    Person("Sami Holt", 1987, "25:10", 24, 9, "10k", "10k", "10K", FOUR, units="mi"),
)
