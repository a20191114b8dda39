"""Whatever is sent to any address, the answer is never a fault of ours. A few hundred inputs here, thousands in `make long`.

In the long run fifty times as many, 13,500 in all. Everything that is sent is taken back again.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plans.training.mistakes import ShorthandError
from plans.training.shorthand import parse
from plans.training.template_file import write_yaml
from tests.everybody import ATHLETE, HEAD, Everybody, everybody
from tests.factories import small_plan
from tests.site.fuzzing import (
    EVIL,
    JSON,
    VALUES,
    Target,
    entries,
    gpx,
    mutated,
    names_in_source,
    sheet,
    targets,
)

pytestmark = pytest.mark.django_db
ORDINARY, LONG = 1, 50
SLICES = [ORDINARY, pytest.param(LONG, marks=pytest.mark.long)]
# What an address may answer to nonsense: never 500, and 503 only when the database is away.
HONEST = {200, 204, 302, 304, 400, 401, 403, 404, 405, 409, 410, 413, 422}


@pytest.fixture
def practice(settings: Any, tmp_path: Path) -> Everybody:
    settings.MADE_DIR = settings.BACKUP_DIR = tmp_path
    return everybody()


def fuzz(examples: int, test: Callable[..., None], *strategies: Any) -> None:
    """Run `test` on so many examples; each in a transaction that is rolled back."""

    def one(values: tuple[Any, ...]) -> None:
        with transaction.atomic():
            test(*values)
            transaction.set_rollback(True)

    checks = list(HealthCheck)
    # Never the examples of before: they name objects of a database that is gone.
    options = settings(max_examples=examples, deadline=None, suppress_health_check=checks, database=None)
    options(given(st.tuples(*strategies))(one))()


class Senders:
    """One signed-in client for each person, who stays signed in whatever is answered."""

    def __init__(self, practice: Everybody) -> None:
        self.clients = [practice.client(who) for who in range(6)]

    def send(self, target: Target, sent: Any, **options: Any) -> None:
        self.answer(self.clients[target.who], "post", target.address, sent, **options)

    def answer(self, client: Client, method: str, address: str, sent: Any, **options: Any) -> None:
        kept = client.cookies.copy()
        answer = getattr(client, method)(address, sent, **options)
        client.cookies = kept
        assert answer.status_code in HONEST, (address, sent, answer.status_code)


@pytest.mark.parametrize("times", SLICES)
def test_forms(practice: Everybody, times: int) -> None:
    """Every address, with the fields its pages show."""
    senders, known = Senders(practice), targets(practice)
    assert sum(len(target.fields) for target in known) > 150

    @st.composite
    def sending(draw: st.DrawFn) -> tuple[Target, dict[str, list[str]], str]:
        target = draw(st.sampled_from(known))
        return target, draw(entries(target.fields)), draw(st.sampled_from(["text/html", "application/json"]))

    def send(drawn: tuple[Target, dict[str, list[str]], str]) -> None:
        target, sent, accepted = drawn
        senders.send(target, sent, headers={"Accept": accepted})

    fuzz(100 * times, send, sending())


@pytest.mark.parametrize("times", SLICES)
def test_what_stands_in_an_address(practice: Everybody, times: int) -> None:
    """Numbers nobody has, words where numbers stand, and anything after the `?`."""
    senders, known = Senders(practice), targets(practice)
    numbers = st.sampled_from([0, 1, 2, 2**31 - 1, 2**31, 2**63 - 1, 2**63, 10**30])

    @st.composite
    def asking(draw: st.DrawFn) -> tuple[Target, str, dict[str, str]]:
        target = draw(st.sampled_from(known))
        address = target.address.partition("?")[0]
        parts = [
            str(draw(numbers)) if p.isdecimal() and draw(st.booleans()) else p for p in address.split("/")
        ]
        names = [*names_in_source(target.route.view, "GET"), "week", "page"]
        asked = {name: draw(VALUES) for name in draw(st.lists(st.sampled_from(names), max_size=3))}
        return target, "/".join(parts), asked

    def ask(drawn: tuple[Target, str, dict[str, str]]) -> None:
        target, address, asked = drawn
        senders.answer(senders.clients[target.who], "get", address, asked)

    fuzz(30 * times, ask, asking())


@pytest.mark.parametrize("times", SLICES)
def test_json_bodies(practice: Everybody, times: int) -> None:
    """The passkey ceremonies read JSON; every other address is sent it all the same."""
    senders, known = Senders(practice), targets(practice)
    passkeys = [target for target in known if target.route.path.startswith("passkeys/")]
    bodies = st.one_of(
        JSON.map(json.dumps),
        st.text(max_size=60),
        st.just("[" * 2000),
        st.just('{"id": "' + "x" * 5000 + '"}'),
    )

    def send(target: Target, body: str) -> None:
        senders.send(target, body, content_type="application/json", headers={"Accept": "application/json"})

    fuzz(20 * times, send, st.one_of(st.sampled_from(passkeys), st.sampled_from(known)), bodies)


@pytest.mark.parametrize("times", SLICES)
def test_files(practice: Everybody, times: int) -> None:
    """GPX of a run and of a course, CSV of a roster and of past runs, templates: whole, damaged and hostile."""
    senders = Senders(practice)
    roster = sheet(["Name", "Mail", "Group", "Born", "Runs a week", "Longest run"])
    history = sheet(["Date", "Distance", "Time", "Moving time", "Average heart rate", "Effort"])
    plan = write_yaml(small_plan()).encode()

    @st.composite
    def template(draw: st.DrawFn) -> bytes:
        changed = plan.replace(
            draw(st.sampled_from([b"8 km", b"base", b"5", b":", b"long"])), draw(VALUES).encode(), 2
        )
        return mutated(draw, changed)

    @st.composite
    def uploading(draw: st.DrawFn) -> tuple[str, int, str, bytes]:
        kinds: list[tuple[str, int, str, Any]] = [
            ("log-file", ATHLETE, "run.gpx", gpx()),
            ("race", HEAD, "course.gpx", gpx()),
            ("log-history", ATHLETE, "runs.csv", history),
            ("roster-import", HEAD, "roster.csv", roster),
            ("template-upload", HEAD, "plan.yaml", template()),
            (
                "template-upload",
                HEAD,
                "plan.csv",
                sheet(["week", "day", "role", "session", "kind", "purpose"]),
            ),
            ("template-upload", HEAD, "plan.json", JSON.map(lambda v: json.dumps(v).encode())),
        ]
        name, who, file, content = draw(st.sampled_from(kinds))
        return name, who, file, draw(content)

    addresses = {target.route.name: target.address for target in targets(practice)}

    def upload(drawn: tuple[str, int, str, bytes]) -> None:
        name, who, file, content = drawn
        sent = {"file": SimpleUploadedFile(file, content)}
        senders.answer(senders.clients[who], "post", addresses[name], sent)

    fuzz(40 * times, upload, uploading())


WORDS = [
    "km",
    "mi",
    "min",
    "x",
    "@",
    "MP",
    "10K",
    "easy",
    "jog",
    "strides",
    "long run",
    "(",
    ")",
    ";",
    ",",
    "/",
    "5",
    "1:30",
    "-",
]


@pytest.mark.parametrize("times", SLICES)
def test_shorthand(times: int) -> None:
    """A session is read, or the mistake is told with its place; nothing else comes of any text."""
    texts = st.one_of(
        st.lists(st.sampled_from(WORDS), max_size=12).map(" ".join),
        st.sampled_from(EVIL),
        st.text(max_size=60),
    )

    @settings(max_examples=80 * times, deadline=None, database=None)
    @given(texts)
    def read(text: str) -> None:
        with suppress(ShorthandError):
            assert parse(text).parts

    read()


def test_sizes_and_counts_are_bounded(practice: Everybody) -> None:
    """Too many fields, too long a body, too big a file: refused in words, not read whole."""
    phone, desk = practice.client(ATHLETE), practice.client(HEAD)
    assert phone.post("/me/runs/", {f"field{n}": "x" for n in range(1100)}).status_code == 400
    assert phone.post("/me/runs/", {"note": "x" * 3_000_000}).status_code == 400
    big = b"x" * 10_200_000
    for client, address in (
        (phone, "/me/runs/file/"),
        (phone, "/me/runs/history/"),
        (desk, "/desk/roster/read/"),
    ):
        answer = client.post(address, {"file": SimpleUploadedFile("big", big)})
        assert answer.status_code == 422, address
