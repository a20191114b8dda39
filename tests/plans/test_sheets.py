"""The other papers: the strip's own size, long lists and long seasons, and words that take more room than there is."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pdfua
import pytest
from django.template.loader import render_to_string
from django.utils import timezone
from pypdf import PdfReader

from athletes.models import Athlete, HealthNote, Practice
from athletes.running.units import Distance
from coaching.fitness import fitness_of
from coaching.pace_paper import card_pdf
from coaching.race_paper import race_pdf
from plans import paper
from plans.handout_contents import page_of
from plans.handout_page import pdf_of
from plans.models import Race, RacePlan, Schedule
from plans.racing import race_day
from plans.sheets import LIST_SIZES, SEASON_SIZES, group_sheet, season_sheet
from tests.factories import AthleteFactory, scheduled
from tests.plans.test_paper import grey

pytestmark = pytest.mark.django_db


def texts(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def race(schedule: Schedule, **plan: Any) -> bytes:
    entry = schedule.race_entry
    assert entry
    RacePlan.objects.update_or_create(
        entry=entry, defaults={"target_ms": 13_500_000, "by_name": "Mara", "at": timezone.now(), **plan}
    )
    entry.refresh_from_db()
    return race_pdf(race_day(entry))


@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize(("units", "km", "rows"), [("km", 42.195, 43), ("mi", 42.195, 27), ("km", 5, 5)])
def test_the_strip_goes_round_a_wrist(units: str, km: float, rows: int, size: str) -> None:
    """36 mm wide and 20 cm long, whatever the race: measured between the dashes on the printed page."""
    Practice.objects.update_or_create(id=1, defaults={"name": "Our practice", "paper": size})
    schedule = scheduled(AthleteFactory(units=units))
    Race.objects.update(distance_mm=Distance.from_km(km).mm)
    pdf = race(Schedule.objects.get(pk=schedule.pk), target_ms=13_500_000 if km > 5 else 1_500_000)
    assert len(texts(pdf)) == 2
    width, height, points = grey(pdf, page=2, dpi=100)
    mm = 100 / 25.4
    left = range(round(12 * mm), round(55 * mm))
    dark = [(x, y) for y in range(round(18.8 * mm), height) for x in left if points[y * width + x] < 128]
    assert (max(x for x, _ in dark) - min(x for x, _ in dark)) / mm == pytest.approx(36, abs=0.7)
    assert (max(y for _, y in dark) - min(y for _, y in dark)) / mm == pytest.approx(200, abs=1)
    # The line's own clock stands on the strip and in the list beside it; names and race on its head.
    assert texts(pdf)[1].count("Finish") == 2
    assert f"Saltmarsh Marathon {schedule.athlete.name}" in texts(pdf)[1]
    assert all(texts(pdf)[1].count(f" {n} ") >= 2 for n in range(2, rows))


def test_every_paper_keeps_what_a_machine_can_check_of_pdf_ua(tmp_path: Path) -> None:
    """By pdfua, an outside library: the part of ISO 14289-1 that needs no eye, a scope for each header cell among it."""
    schedule = scheduled(AthleteFactory(name="Þóra Łukasz"))
    page = page_of(schedule, schedule.first_day)
    sheet = group_sheet("Half", [schedule.athlete], schedule.first_day + timedelta(1))
    assert page
    made = {
        "handout": pdf_of(page, tagged=True),
        "flowing": pdf_of(replace(page, note="A long word.\n" * 90), tagged=True),
        "group sheet": sheet,
        "season": season_sheet(schedule),
        "race day": race(schedule),
        "paces": card_pdf(fitness_of(schedule.athlete)),
    }
    for name, pdf in made.items():
        assert pdf, name
        (tmp_path / "one.pdf").write_bytes(pdf)
        assert [str(one) for one in pdfua.validate(tmp_path / "one.pdf").findings] == [], name
    (tmp_path / "plain.pdf").write_bytes(pdf_of(page))
    assert pdfua.validate(tmp_path / "plain.pdf").findings


def test_header_cells_say_what_they_head() -> None:
    schedule = scheduled()
    sheet = season_sheet(schedule)
    found: list[tuple[str, str]] = []

    def walk(node: Any) -> None:
        node = node.get_object()
        if isinstance(node, dict) and "/S" in node:
            if node["/S"] == "/TH":
                found.append((node["/P"]["/P"]["/S"], node["/A"]["/Scope"]))
            kids = node.get("/K", [])
            for kid in kids if isinstance(kids, list) else [kids]:
                walk(kid)

    walk(PdfReader(io.BytesIO(sheet)).trailer["/Root"]["/StructTreeRoot"]["/K"][0])
    # Four heads over the columns, and each of the four weeks heads its row.
    assert found == [("/THead", "/Column")] * 4 + [("/TBody", "/Row")] * 4


def test_long_words_on_race_day_flow_on_and_lose_nothing() -> None:
    schedule = scheduled(AthleteFactory(name="Maximiliana Featherstonehaugh-Cholmondeley"))
    Race.objects.update(name="The Memorial Marathon of the Two Lighthouses and the Long Sea Wall")
    said = " ".join(f"Word {n} of it." for n in range(25))
    pdf = race(Schedule.objects.get(pk=schedule.pk), words=said, air=33.0, humidity=80.0)
    whole = " ".join(texts(pdf))
    for part in (said, "black flag", "Drink to thirst", "Race week", "To have ready", "the Long Sea Wall"):
        assert part in whole


def test_race_day_takes_the_roomiest_letters_that_two_pages_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    tried: list[str] = []
    real = paper.lay_out

    def lay_out(html: str, **how: Any) -> Any:
        tried.append(html.partition('class="handout race ')[2].partition('"')[0])
        return real(html, **how)

    monkeypatch.setattr(paper, "lay_out", lay_out)
    assert len(texts(race(scheduled()))) == 2
    assert tried == ["normal"]


@pytest.mark.parametrize(("weeks", "size"), [(4, "A4"), (24, "Letter"), (30, "A4")])
def test_a_whole_season_is_on_one_page(weeks: int, size: str) -> None:
    Practice.objects.update_or_create(id=1, defaults={"name": "Our practice", "paper": size})
    pages = texts(season_sheet(scheduled(weeks=weeks)))
    assert len(pages) == 1
    assert f"The whole plan, {weeks} weeks" in pages[0]


@pytest.mark.parametrize(
    ("kind", "on_sheet", "on_handout"),
    [
        ("rest", "On hold: no running", "On hold: no running until your coach clears it"),
        ("easy", "On hold: easy running only", "On hold: easy running only until your coach clears it"),
    ],
)
def test_who_is_on_hold_is_told_so_on_paper_but_not_why(kind: str, on_sheet: str, on_handout: str) -> None:
    schedule = scheduled(AthleteFactory(name="Ilse Varga"))
    day = schedule.first_day + timedelta(1)

    def printed() -> tuple[str, str]:
        sheet = group_sheet("Half", [schedule.athlete], day)
        page = page_of(schedule, schedule.first_day)
        assert sheet
        assert page
        return " ".join(texts(sheet)), " ".join(texts(pdf_of(page, tagged=True)))

    for text in printed():
        assert "On hold" not in text
    note = HealthNote.objects.create(
        athlete=schedule.athlete, kind=kind, cause="ill", words="A fever.", opened=day
    )
    sheet, handout = printed()
    # 10 km in 48:00 gives 4:45 to 4:51 at 10K pace (tests/plans/test_handouts.py): nobody on hold is sent out for it.
    assert on_sheet in sheet
    assert "4:45" not in sheet
    assert on_handout in handout
    assert not any("fever." in text or "illness" in text for text in (sheet, handout))
    HealthNote.objects.filter(pk=note.pk).update(closed=day, closed_by_name="Mara")
    assert "On hold" not in "".join(printed())


def test_the_race_on_the_handout_is_the_one_that_was_planned() -> None:
    schedule = scheduled()
    assert schedule.race_entry
    last = schedule.race_entry.race.day - timedelta(6)
    page = page_of(schedule, last)
    assert page
    assert (page.days[-1].pace, page.days[-1].details[-1]) == (
        "",
        "Target and splits: race day, on your phone.",
    )
    race(schedule)
    page = page_of(schedule, last)
    assert page
    # 3:45:00 over 42.195 km is 319.9 s a km: 5:20.
    assert page.days[-1].pace == "5:20/km"
    assert page.days[-1].details[-1] == "Target 3:45:00; the splits are on your race-day sheet."


def test_a_list_of_many_names_flows_on_under_its_head() -> None:
    names = [f"Athlete {n:02}" for n in range(70)]
    schedules = [scheduled(AthleteFactory(name=name)) for name in names]
    day = schedules[0].first_day + timedelta(1)
    sheet = group_sheet("Everybody", Athlete.objects.all(), day)
    assert sheet
    pages = texts(sheet)
    assert len(pages) > 1
    assert all("Who What Pace" in page for page in pages)
    assert all(name in " ".join(pages) for name in names)


@pytest.mark.parametrize(("sizes", "template"), [(LIST_SIZES, "group_sheet"), (SEASON_SIZES, "season_sheet")])
def test_no_size_that_could_hold_the_rows_is_left_out(sizes: dict[str, int], template: str) -> None:
    """One row more than is said to fit, of the least that a row can have, takes a second page."""
    least = {"name": "A", "what": "b", "number": 1, "dates": "1 Jan", "total": "1 km"}
    for size, most in list(sizes.items())[:-1]:
        context = {"size": size, "rows": [least] * (most + 1), "practice": {"name": "P"}, "heading": "H"}
        html = render_to_string(
            f"print/{template}.html", {**context, "caution": "C", "athlete": {"name": "A"}}
        )
        assert len(paper.lay_out(html).pages) > 1, size
