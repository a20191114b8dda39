"""Past runs from CSV: shown first, errors by row, kept on a word, the same file once."""

from __future__ import annotations

import html
import re
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from plans.models import Job, Log, LogFile, Schedule
from tests.factories import CoachFactory

pytestmark = pytest.mark.django_db
ADDRESS = "/me/runs/history/"


def days(*ago: int) -> list[str]:
    return [(timezone.localdate() - timedelta(n)).isoformat() for n in ago]


def table() -> bytes:
    a, b, c = days(100, 98, 95)
    return f"Date;Distance (km);Time\n{a};8;40:00\n{b};abc;1:00\n{c};12,5;1:05:00\n".encode()


def send(client: Client, content: bytes) -> Any:
    return client.post(ADDRESS, {"file": SimpleUploadedFile("runs.csv", content)})


def form_of(page: str) -> dict[str, str]:
    hidden = re.findall(r'<input type="hidden" name="(text|name)" value="([^"]*)"', page)
    selected = re.findall(r'<select name="(\w+)"[^>]*>.*?<option value="([^"]*)" selected', page, re.S)
    return {**{k: html.unescape(v) for k, v in hidden}, **dict(selected)}


def test_it_works(phone: Client) -> None:
    page = send(phone, table())
    text = page.content.decode()
    assert page.status_code == 200
    assert "2 runs, 20.5 km" in text
    assert "Row 3: “abc” is not a distance" in text
    assert not Log.objects.exists()
    answer = phone.post(ADDRESS, {**form_of(text), "keep": "1"}, follow=True)
    assert "2 past runs kept." in answer.content.decode()
    logs = list(Log.objects.order_by("day"))
    assert [(log.session, log.outcome, log.distance_mm, log.moving_s) for log in logs] == [
        (None, "other", 8_000_000, 2400),
        (None, "other", 12_500_000, 3900),
    ]
    assert LogFile.objects.get().facts == {"runs": 2}
    assert Job.objects.filter(kind="rebalance").count() == 1


def test_the_same_file_twice_no_doubles(phone: Client) -> None:
    form = form_of(send(phone, table()).content.decode())
    for _ in range(2):
        phone.post(ADDRESS, {**form, "keep": "1"})
    assert Log.objects.count() == 2
    again = send(phone, table())
    assert again.status_code == 422
    assert "this very file before" in again.content.decode()


def test_runs_that_are_here_already_are_left_out(phone: Client, schedule: Schedule) -> None:
    day = timezone.localdate() - timedelta(100)
    Log.objects.create(
        athlete=schedule.athlete,
        day=day,
        time_zone="UTC",
        received_at=timezone.now(),
        outcome="other",
        distance_mm=8_100_000,
    )
    text = send(phone, table()).content.decode()
    assert "1 run, 12.5 km" in text
    assert "1 more is here already" in text


def test_other_columns_are_read_again(phone: Client) -> None:
    (day,) = days(50)
    text = send(phone, f"date,km,km\n{day},5,9\n".encode()).content.decode()
    assert "1 run, 5 km" in text
    again = phone.post(ADDRESS, {**form_of(text), "distance": "2", "again": "1"})
    assert "1 run, 9 km" in again.content.decode()
    assert not Log.objects.exists()


def test_without_a_row_of_names_the_first_run_counts_too(phone: Client) -> None:
    a, b = days(50, 48)
    page = send(phone, f"{a},8,40:00\n{b},5,30:00\n".encode())
    text = page.content.decode()
    assert page.status_code == 200
    assert "2 runs, 13 km" in text
    assert "No row here names the columns, so the first is read as a run." in text
    assert f"day from column 1 ({a}); distance from column 2 (8); time from column 3 (40:00)" in text
    assert not Log.objects.exists()
    phone.post(ADDRESS, {**form_of(text), "keep": "1"})
    assert sorted(Log.objects.values_list("distance_mm", flat=True)) == [5_000_000, 8_000_000]


def test_without_names_and_without_a_distance_it_is_asked(phone: Client) -> None:
    (a,) = days(50)
    page = send(phone, f"{a},40:00,8km run\n".encode())
    text = page.content.decode()
    assert "No row of the table names the columns" in text
    assert f"column 1 ({a})" in text
    again = phone.post(ADDRESS, {**form_of(text), "distance": "2", "again": "1"})
    assert "“8km run” is not a distance" in again.content.decode()
    assert not Log.objects.exists()


def test_columns_that_nobody_knows_are_chosen_by_hand(phone: Client) -> None:
    (day,) = days(50)
    page = send(phone, f"jour;parcours;durée\n{day};10,5;52:30\n".encode())
    text = page.content.decode()
    assert page.status_code == 200
    assert "Which column is which?" in text
    unsaid = phone.post(ADDRESS, {**form_of(text), "day": "0", "again": "1"})
    assert unsaid.status_code == 422
    assert "Say which column it is." in unsaid.content.decode()
    chosen = {"day": "0", "distance": "1", "time": "2"}
    read = phone.post(ADDRESS, {**form_of(text), **chosen, "again": "1"}).content.decode()
    assert "1 run, 10.5 km" in read
    assert "52:30" in read
    assert not Log.objects.exists()
    phone.post(ADDRESS, {**form_of(read), "keep": "1"})
    assert Log.objects.get().moving_s == 3150


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"PK\x03\x04\x00\x00", "no CSV"),
        (b"a line of words", "No column"),
        (b"x" * 1_000_001, "At most 1 MB"),
        (b"x" * 40_000_000, "At most 1 MB"),
    ],
)
def test_a_bad_file_is_a_sentence_and_nothing_is_stored(phone: Client, content: bytes, said: str) -> None:
    answer = send(phone, content)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not LogFile.objects.exists()


def test_a_coach_has_no_such_page() -> None:
    client = Client()
    client.force_login(CoachFactory().user)
    assert client.get(ADDRESS).status_code == 404
    assert Client().get(ADDRESS)["Location"].startswith("/sign-in/")
