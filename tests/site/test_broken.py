"""When something breaks: a clear page with a number, the same number in the log, and nothing in the log that people typed."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator
from datetime import date
from typing import Any
from uuid import uuid4

import pytest
from django.db import DataError, OperationalError
from django.test import Client

from athletes.models import Athlete
from coaching.logs import AsJson, AsLine
from plans import recording
from tests.factories import AthleteFactory

pytestmark = pytest.mark.django_db
WORDS = "sore left shin, took pills"
QUOTED = (
    f'null value in column "day"\nDETAIL:  Failing row contains (Bea Lindqvist, bea@example.org, {WORDS}).'
)


class Kept(logging.Handler):
    def __init__(self) -> None:
        super().__init__()
        self.records: list[logging.LogRecord] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.records.append(record)


@pytest.fixture
def kept() -> Iterator[list[logging.LogRecord]]:
    handler = Kept()
    logging.getLogger().addHandler(handler)
    yield handler.records
    logging.getLogger().removeHandler(handler)


@pytest.fixture
def bea() -> Athlete:
    return AthleteFactory(name="Bea Lindqvist", user__name="Bea Lindqvist", user__email="bea@example.org")


def broken_by(error: Exception, bea: Athlete, monkeypatch: pytest.MonkeyPatch, **headers: str) -> Any:
    """Bea logs a run, and storing it goes wrong."""

    def fails(*args: Any, **kwargs: Any) -> None:
        raise error

    monkeypatch.setattr(recording, "_record", fails)
    phone = Client(raise_request_exception=False)
    phone.force_login(bea.user)  # type: ignore[arg-type]
    sent = {"entry_id": str(uuid4()), "day": date.today().isoformat(), "distance": "5 km", "note": WORDS}  # noqa: DTZ011
    return phone.post("/me/runs/", sent, headers=headers)


def test_the_page_tells_its_number_and_the_log_has_it(
    bea: Athlete, monkeypatch: pytest.MonkeyPatch, kept: list[logging.LogRecord]
) -> None:
    answer = broken_by(DataError(QUOTED), bea, monkeypatch)
    assert answer.status_code == 500
    page = answer.content.decode()
    assert "A fault on our side" in page
    [record] = [r for r in kept if r.name == "django.request"]
    facts = json.loads(AsJson().format(record))
    assert f"<strong>{facts['fault']}</strong>" in page
    assert len(facts["fault"]) == 8
    assert (facts["level"], facts["status"]) == ("ERROR", 500)
    assert facts["message"] == "Internal Server Error: /me/runs/"
    assert facts["error"].startswith("DataError in tests/site/test_broken.py:")
    assert "plans/recording.py" in facts["error"]
    assert f"fault {facts['fault']}" in AsLine().format(record)


@pytest.mark.parametrize("form", [AsJson, AsLine])
def test_nothing_that_was_typed_and_nobodys_name_is_in_the_log(
    bea: Athlete,
    monkeypatch: pytest.MonkeyPatch,
    kept: list[logging.LogRecord],
    form: type[logging.Formatter],
) -> None:
    try:
        raise ValueError(WORDS)
    except ValueError as cause:
        error = DataError(QUOTED)
        error.__cause__ = cause
    broken_by(error, bea, monkeypatch)
    logged = "\n".join(form().format(record) for record in kept)
    assert "DataError from ValueError" in logged
    for said in ("shin", "pills", "Lindqvist", "bea@example.org", "Failing row"):
        assert said not in logged


def test_with_debug_the_message_is_there(settings: Any) -> None:
    settings.DEBUG = True
    try:
        raise ValueError("why")
    except ValueError as error:
        record = logging.LogRecord("x", logging.ERROR, "", 0, "It broke", (), (type(error), error, None))
    assert json.loads(AsJson().format(record))["said"] == "why"


def test_a_secret_address_is_not_in_the_log(client: Client, kept: list[logging.LogRecord]) -> None:
    token, session = "k3" * 21, "3f2b8c1e-9a4d-4e5f-8a6b-7c8d9e0f1a2b"
    client.post(f"/feed/{token}.ics")
    client.get(f"/nowhere/{session}/{token}/")
    logged = "\n".join(AsJson().format(record) for record in kept)
    assert "Not Allowed (POST): /feed/….ics" in logged
    assert f"Not Found: /nowhere/{session}/…/" in logged
    assert token not in logged


def test_a_database_that_is_away_says_so_and_asks_for_patience(
    bea: Athlete, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = broken_by(OperationalError("server closed the connection"), bea, monkeypatch)
    assert (answer.status_code, answer["Retry-After"]) == (503, "10")
    assert "What you just sent is not saved" in answer.content.decode()
    assert "no-store" in answer["Cache-Control"]
    assert "default-src 'none'" in answer["Content-Security-Policy"]


def test_the_phone_is_told_in_json(bea: Athlete, monkeypatch: pytest.MonkeyPatch) -> None:
    answer = broken_by(OperationalError("gone"), bea, monkeypatch, Accept="application/json")
    assert answer.status_code == 503
    assert set(answer.json()) == {"error", "fault"}


def test_the_health_page_follows_the_database(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    assert (client.get("/health/").status_code, client.get("/health/").json()) == (200, {"ok": True})

    class Away:
        def cursor(self) -> None:
            raise OperationalError("away")

    monkeypatch.setattr("coaching.doors.signing_in.connection", Away())
    assert (client.get("/health/").status_code, client.get("/health/").json()) == (503, {"ok": False})
