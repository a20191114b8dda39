"""Races on the desk: the list, a race with its course, an athlete's plan for the day, and what became of it."""

from __future__ import annotations

import hashlib
import io
from datetime import timedelta
from pathlib import Path
from typing import Any

import gpxpy
import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from athletes.models import Coach, Practice, Result
from athletes.running.units import Distance
from plans.models import CardProposal, Race, RaceCourse, RaceEntry, RacePlan, RaceReport, Template
from plans.racing import read_marks
from plans.training.raceday import RaceDayError
from tests.factories import CoachFactory, coaches, scheduled
from tests.gpx_samples import samples
from tests.running.tracks import gpx as recorded
from tests.training.test_raceday_course import gpx, line

__all__ = ["samples"]
pytestmark = pytest.mark.django_db


@pytest.fixture
def coach() -> Coach:
    return CoachFactory()


@pytest.fixture
def entry(coach: Coach) -> RaceEntry:
    schedule = scheduled()
    coaches(coach, schedule.athlete)
    assert schedule.race_entry
    return schedule.race_entry


@pytest.fixture
def desk(coach: Coach) -> Client:
    client = Client()
    client.force_login(coach.user)
    return client


def choose(desk: Client, entry: RaceEntry, **values: Any) -> Any:
    return desk.post(reverse("race-entry", args=[entry.pk]), {"shape": "even", **values})


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def gone_by(entry: RaceEntry) -> None:
    Race.objects.filter(pk=entry.race_id).update(day=timezone.localdate() - timedelta(1))


def test_it_works(desk: Client, entry: RaceEntry) -> None:
    assert "Saltmarsh Marathon" in text(desk.get("/desk/races/"))
    page = text(desk.get(reverse("race", args=[entry.race_id])))
    assert entry.athlete.name in page
    assert choose(desk, entry, target="3:45:00", shape="patient", words="Smile.").status_code == 302
    row = RacePlan.objects.get()
    assert (row.entry, row.target_ms, row.shape, row.words) == (entry, 13_500_000, "patient", "Smile.")
    page = text(desk.get(reverse("race-entry", args=[entry.pk])))
    # 3:45:00 over 42.195 km is 5:19.96 a km.
    assert "3:45:00, 5:20/km on average" in page
    assert "Patient start" in page


def test_without_a_choice_the_page_proposes_with_reasons(desk: Client, entry: RaceEntry) -> None:
    page = text(desk.get(reverse("race-entry", args=[entry.pk])))
    for said in ("What the results say", "With a reserve", "Brave", "Deaner 2015", "Drink to thirst", "flat"):
        assert said in page
    assert not RacePlan.objects.exists()


def test_heat_from_a_typed_forecast(desk: Client, entry: RaceEntry) -> None:
    choose(desk, entry, target="3:30:00", wbgt="25")
    page = text(desk.get(reverse("race-entry", args=[entry.pk])))
    # Mantzios 2022: 3 to 4 % at 25 °C: 3:36:18 to 3:38:24. The ACSM's red flag is 23 to 28 °C.
    assert "red flag" in page
    assert "becomes 3:36:18 to 3:38:24" in page
    assert "The race doctor decides" in page


def test_a_target_that_allows_for_the_heat_is_not_slowed_twice(desk: Client, entry: RaceEntry) -> None:
    RaceEntry.objects.update(goal_ms=15_000_000)
    choose(desk, entry, wbgt="25")
    page = text(desk.get(reverse("race-entry", args=[entry.pk])))
    # 4:10:00 and 3 to 4 %: 4:17:30 to 4:20:00; 10 km in 48:00 carries the goal.
    assert "4:20:00, 6:10/km on average" in page
    assert "the target allows for it, as 4:10:00 becomes 4:17:30 to 4:20:00" in page


def test_a_course_is_read_kept_and_followed(desk: Client, entry: RaceEntry) -> None:
    content = gpx(
        line(42_400, step=40, height=lambda m: 300 - m / 250 if m < 25_000 else 200 + (m - 25_000) / 200)
    )
    answer = desk.post(
        reverse("race", args=[entry.race_id]), {"file": SimpleUploadedFile("course.gpx", content)}
    )
    assert answer.status_code == 302
    course = RaceCourse.objects.get(race=entry.race_id)
    assert course.sha256 == hashlib.sha256(content).hexdigest()
    assert course.file_name == "course.gpx"
    page = text(desk.get(reverse("race-entry", args=[entry.pk])))
    assert "The file measures 42.4 km, the race is 42.2 km" in page
    assert "they fall, so they are held to it" in page


def test_what_was_done_to_a_course_is_said_when_it_is_read(desk: Client, entry: RaceEntry) -> None:
    flat = gpx(line(42_195, step=40, height=lambda m: None))
    parts = gpx(line(41_900, step=40, height=lambda m: 100 + m / 419))
    said = []
    for content in (flat, parts):
        url = reverse("race", args=[entry.race_id])
        said.append(text(desk.post(url, {"file": SimpleUploadedFile("c.gpx", content)}, follow=True)))
    assert "Read. There are no heights in this file, so the course counts as flat." in said[0]
    assert "Read: 100 m up and 0 m down. The file measures 41.9 km, the race is 42.2 km" in said[1]
    Practice.objects.update_or_create(id=1, defaults={"name": "Our practice", "units": "mi"})
    page = desk.post(
        reverse("race", args=[entry.race_id]), {"file": SimpleUploadedFile("c.gpx", parts)}, follow=True
    )
    # 41.9 / 1.609344 = 26.04, 42.195 / 1.609344 = 26.22.
    assert "The file measures 26.04 mi, the race is 26.22 mi" in text(page)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"not xml", "read as XML"),
        (gpx(line(21_097, step=50)), "Is it the course of another distance"),
        (b"", "empty"),
    ],
)
def test_what_is_no_course_is_told_at_the_field(
    desk: Client, entry: RaceEntry, content: bytes, said: str
) -> None:
    answer = desk.post(reverse("race", args=[entry.race_id]), {"file": SimpleUploadedFile("x.gpx", content)})
    assert answer.status_code == 422
    assert said in text(answer)
    assert not RaceCourse.objects.exists()


def test_printed_with_the_wrist_strip(desk: Client, entry: RaceEntry) -> None:
    choose(desk, entry, target="3:45:00")
    answer = desk.get(reverse("race-entry-pdf", args=[entry.pk]))
    assert answer["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.content)).pages
    words = [" ".join(page.extract_text().split()) for page in pages]
    assert len(pages) == 2
    assert "Race week" in words[0]
    assert "Drink to thirst" in words[0]
    # Even pace: 26:40 at 5 km (26:39.8 rounded up), 3:45:00 at the line.
    assert "5 26:40" in words[1]
    assert "Finish 3:45:00" in words[1]


def test_splits_propose_new_paces(desk: Client, entry: RaceEntry) -> None:
    gone_by(entry)
    choose(desk, entry, target="3:45:00")
    typed = "10 km 53:00\nhalf 1:52:00\nfinish 3:44:10"
    answer = desk.post(reverse("race-splits", args=[entry.pk]), {"splits": typed})
    assert answer.status_code == 302
    assert RaceReport.objects.get().marks == [
        [10_000_000, 3_180_000],
        [21_097_500, 6_720_000],
        [42_195_000, 13_450_000],
    ]
    result = Result.objects.get(athlete=entry.athlete, distance_mm=42_195_000)
    assert (result.time_ms, result.name) == (13_450_000, "Saltmarsh Marathon")
    assert CardProposal.objects.get().state == "open"
    page = text(desk.get(reverse("race-entry", args=[entry.pk])))
    # 3:45:00 even is 53:20 at 10 km; 1:52:00 and 1:52:10 are 0.1 % apart.
    assert "20 s ahead" in page
    assert "0.1 % slower" in page
    assert desk.post(reverse("race-splits", args=[entry.pk]), {"splits": typed}).status_code == 302
    assert Result.objects.filter(distance_mm=42_195_000).count() == 1


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "at least the finishing time"),
        ("24:50", "needs a place and a time"),
        ("5 km", "is not a time"),
        ("5 km 24:99\nfinish 3:40:00", "60 or more"),
        ("5 km 25:00", "last split is the finish"),
        ("half 2:00:00\nfinish 1:59:00", "farther along and later"),
        ("finish 45:00", "faster than anyone runs"),
        ("<b>x</b> 5:00\nfinish 3:40:00", "not a distance"),
    ],
)
def test_splits_that_cannot_be_keep_what_was_typed(
    desk: Client, entry: RaceEntry, typed: str, said: str
) -> None:
    gone_by(entry)
    answer = desk.post(reverse("race-splits", args=[entry.pk]), {"splits": typed})
    assert answer.status_code == 422
    assert said in text(answer)
    assert not RaceReport.objects.exists()


def ten_km(entry: RaceEntry) -> None:
    """The race is over 10 km, and gone by."""
    gone_by(entry)
    Race.objects.filter(pk=entry.race_id).update(distance_mm=10_000_000)


def sent_file(desk: Client, entry: RaceEntry, content: bytes) -> Any:
    file = SimpleUploadedFile("race.gpx", content)
    return desk.post(reverse("race-splits", args=[entry.pk]), {"splits": "", "file": file})


def test_splits_from_the_recorded_run_beside_the_plan(desk: Client, entry: RaceEntry) -> None:
    ten_km(entry)
    choose(desk, entry, target="50:00")
    # 5 km in 25:00, a minute standing at the table (the clock runs on), 5 km in 23:00: 49:00.
    content = recorded([(1500, 10 / 3), (60, 0), (1380, 5000 / 1380)])
    assert sent_file(desk, entry, content).status_code == 302
    report = RaceReport.objects.get()
    assert report.source == "file"
    assert report.sha256 == hashlib.sha256(content).hexdigest()
    assert [mm for mm, _ in report.marks] == [1_000_000 * n for n in range(1, 11)]
    clock = [ms / 1000 for _, ms in report.marks]
    assert clock[:4] == pytest.approx([300, 600, 900, 1200], abs=1)
    # The fifth lies where the standing is: anywhere from its beginning to its end.
    assert 1495 <= clock[4] <= 1565
    assert clock[5:] == pytest.approx([1560 + 276 * n for n in range(1, 6)], abs=1)
    page = text(desk.get(reverse("race-entry", args=[entry.pk])))
    for said in ("3 to 4 km", "9 to 10 km", "1:00 ahead", "Looking back: 49:00"):
        assert said in page
    assert Result.objects.get(athlete=entry.athlete, name="Saltmarsh Marathon").time_ms == 2_940_000


@pytest.mark.parametrize(
    ("pieces", "said"),
    [
        ([(2400, 10 / 3)], "This file has 8.0 km, the race 10.0 km. Cut off warm-up and way home"),
        ([(1000, 10)], "One of the splits is faster than anyone runs"),
    ],
)
def test_a_recorded_run_that_is_not_the_race_is_told_at_the_field(
    desk: Client, entry: RaceEntry, pieces: list[tuple[float, float]], said: str
) -> None:
    ten_km(entry)
    answer = sent_file(desk, entry, recorded(pieces))
    assert answer.status_code == 422
    assert said in text(answer)
    assert not RaceReport.objects.exists()


def test_splits_of_gpxpys_own_sample_agree_with_gpxpys_own_clock(samples: Path) -> None:
    """gpxpy 1.6.2, test_files/cerknicko-jezero.gpx (Apache-2.0): its points, its lengths, its times."""
    kept = samples / "cerknicko-jezero.gpx"
    points = [p.point for p in gpxpy.parse(kept.read_text()).get_points_data(distance_2d=True)]
    lengths = [p.distance_from_start for p in gpxpy.parse(kept.read_text()).get_points_data(distance_2d=True)]
    whole = lengths[-1]
    marks = read_marks(kept.read_bytes(), Distance(round(whole * 1000)))
    assert [mark.mm for mark in marks] == [1_000_000, 2_000_000, 3_000_000, 4_000_000, round(whole * 1000)]
    for mark in marks:
        passed = next(n for n, metres in enumerate(lengths) if metres * 1000 >= mark.mm - 1)
        theirs = (points[passed].time - points[0].time).total_seconds()
        assert mark.ms / 1000 == pytest.approx(theirs, rel=0.02)
    untimed = kept.with_name("korita-zbevnica.gpx")
    with pytest.raises(RaceDayError, match=r"The first 8\.6 km of this file have no times"):
        read_marks(untimed.read_bytes(), Distance(14_913_748))


def test_no_splits_before_the_race(desk: Client, entry: RaceEntry) -> None:
    answer = desk.post(reverse("race-splits", args=[entry.pk]), {"splits": "finish 3:44:10"})
    assert answer.status_code == 422
    assert "still to come" in text(answer)


def test_the_two_weeks_after_are_offered(desk: Client, entry: RaceEntry) -> None:
    gone_by(entry)
    assert "Fit the two weeks after a marathon" in text(desk.get(reverse("race-entry", args=[entry.pk])))
    for _ in range(2):
        answer = desk.post(reverse("race-recovery", args=[entry.pk]))
        template = Template.objects.get(name="Two weeks after a marathon")
        assert answer["Location"] == f"/desk/templates/{template.pk}/assign/?athlete={entry.athlete_id}"
    assert desk.get(answer["Location"]).status_code == 200


@pytest.mark.parametrize(
    ("race_day", "today", "begins"),
    [
        # Weeks begin on Monday. A marathon on Sunday 29 November 2026, looked at that evening, on Monday, on Wednesday.
        ("2026-11-29", "2026-11-29", "2026-11-30"),
        ("2026-11-29", "2026-11-30", "2026-11-30"),
        ("2026-11-29", "2026-12-02", "2026-12-02"),
        # On a Saturday the Sunday after is not the first week.
        ("2026-11-28", "2026-11-28", "2026-11-30"),
        ("2026-11-15", "2026-11-29", "2026-11-29"),
    ],
)
def test_two_weeks_of_recovery_are_two(
    desk: Client, coach: Coach, entry: RaceEntry, race_day: str, today: str, begins: str
) -> None:
    Race.objects.update(day=race_day)
    with time_machine.travel(f"{today} 18:00", tick=False):
        desk.force_login(coach.user)
        answer = desk.post(reverse("race-recovery", args=[entry.pk]), follow=True)
    assert f'name="start" value="{begins}"' in text(answer)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"target": "soon"}, "not a time"),
        ({"target": "45:00"}, "Nobody runs that fast"),
        ({"target": "13:00:00"}, "3 minutes to 12 hours"),
        ({"shape": "wild"}, "valid choice"),
        ({"air": "30"}, "humidity is needed too"),
        ({"humidity": "50"}, "air temperature is needed too"),
        ({"air": "80", "humidity": "50"}, "-20 to 50"),
        ({"wbgt": "99"}, "WBGT of 99"),
        ({"wbgt": "nan"}, "number"),
        ({"words": "x" * 401}, "at most 400"),
    ],
)
def test_choices_that_cannot_be(desk: Client, entry: RaceEntry, values: dict[str, str], said: str) -> None:
    answer = choose(desk, entry, **values)
    assert answer.status_code == 422
    assert said in text(answer)
    assert not RacePlan.objects.exists()


def test_the_list_costs_the_same_for_one_race_and_for_four(
    desk: Client, coach: Coach, entry: RaceEntry
) -> None:
    desk.get("/desk/races/")
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            desk.get("/desk/races/")
        counts.append(len(queries))
        for n in range(3):
            race = Race.objects.create(name=f"Race {n}", day=entry.race.day, distance_mm=10_000_000)
            RaceEntry.objects.create(athlete=entry.athlete, race=race, purpose="tune-up")
    assert counts[0] == counts[1]


NAMES = ("race-entry", "race-entry-pdf", "race-splits", "race-recovery")


@pytest.mark.parametrize("name", NAMES)
def test_who_may(name: str, entry: RaceEntry, desk: Client) -> None:
    post = name in ("race-splits", "race-recovery")
    url = reverse(name, args=[entry.pk])
    other, athlete, nobody = Client(), Client(), Client()
    other.force_login(CoachFactory().user)
    assert entry.athlete.user
    athlete.force_login(entry.athlete.user)
    for client in (other, athlete):
        assert (client.post(url) if post else client.get(url)).status_code == 404
        assert client.get(reverse("race", args=[entry.race_id])).status_code == 404
    if not post:
        assert nobody.get(url)["Location"].startswith("/sign-in/")
    assert (desk.get(url) if post else desk.delete(url)).status_code in (200, 405)
    assert desk.post(reverse(name, args=[987654])).status_code in (404, 405)
