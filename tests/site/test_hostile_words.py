"""Names and notes with markup, a formula and an address in them: shown as text on every page, sheet and printed page."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from athletes.models import Athlete, Group, HealthNote
from coaching.spreadsheets import FORMULA, as_csv
from plans import paper
from plans.models import Message, Template
from tests.everybody import ATHLETE, HEAD, Everybody, everybody, routes

MARKUP = '<img src="/gone.png" onerror="alert(1)"><b>Bea</b>'
# Every address that answers with a PDF of somebody's; the batch's file is made in the background (tests/plans).
PRINTED = {
    *("my-card", "my-handout", "my-season", "my-race-pdf"),
    *("athlete-card", "athlete-handout", "athlete-season", "race-entry-pdf"),
    *("group-sheet", "group-session-sheet"),
}
FORMULAS = ["=1+1", "+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", " =1+1", "=cmd|' /C calc'!A1"]


@pytest.fixture
def practice(settings: Any, tmp_path: Path) -> Everybody:
    settings.MADE_DIR = settings.BACKUP_DIR = tmp_path
    made = everybody()
    Athlete.objects.update(name=MARKUP, goal_words=MARKUP)
    for kind, name in ((Group, "name"), (Template, "name"), (Message, "words"), (HealthNote, "words")):
        kind.objects.update(**{name: MARKUP})  # type: ignore[attr-defined]
    return made


@pytest.mark.django_db
def test_markup_is_text_on_every_page_and_in_every_pdf(practice: Everybody) -> None:
    shown, printed = 0, set()
    for who in (ATHLETE, HEAD):
        client = practice.client(who)
        for route in routes():
            answer = client.get(practice.address(route))
            kind = answer.get("Content-Type", "")
            if answer.status_code != 200:
                continue
            if kind.startswith("text/html"):
                page = answer.content.decode()
                assert "<img src=" not in page, route.name
                assert "<b>Bea" not in page, route.name
                shown += "&lt;b&gt;Bea" in page
            elif kind == "application/pdf":
                content = b"".join(answer.streaming_content) if answer.streaming else answer.content
                text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
                # A long name is broken anywhere, also between <b> and Bea: without the white space it is whole.
                assert "".join(MARKUP.split()) in "".join(text.split()), route.name
                printed.add(route.name)
    assert shown > 20
    assert printed == PRINTED


@pytest.mark.parametrize("formula", FORMULAS)
def test_a_formula_is_text_in_a_sheet(formula: str) -> None:
    sheet = as_csv([["Name", formula], [formula, 5]], "roster").content.decode("utf-8-sig")
    cells = [cell for row in csv.reader(io.StringIO(sheet, newline="")) for cell in row]
    assert cells == ["Name", f"'{formula}", f"'{formula}", "5"]
    assert not any(cell.lstrip().startswith(FORMULA) for cell in cells)


def test_every_sheet_is_written_by_that_one_function() -> None:
    """A CSV written another way would be one nobody neutralises. The plan's own file guards its words itself."""
    root = Path(__file__).parents[2]
    writers = {
        str(path.relative_to(root))
        for folder in ("athletes", "plans", "coaching")
        for path in (root / folder).rglob("*.py")
        if re.search(r"csv\.(writer|DictWriter)\(", path.read_text())
    }
    assert writers == {"coaching/spreadsheets.py", "plans/training/template_csv.py"}


@pytest.mark.parametrize(
    "address", ["file:///etc/passwd", "http://127.0.0.1:1/x.png", "data:image/png;base64,AAAA"]
)
def test_a_printed_page_reads_nothing(address: str) -> None:
    """The picture is left out, the file attached is not there, and the page comes all the same."""
    body = f'<p>Words</p><img src="{address}"><link rel="attachment" href="{address}"><object data="{address}"></object>'
    made = paper.render(body, title="A page")
    reader = PdfReader(io.BytesIO(made))
    assert "Words" in reader.pages[0].extract_text()
    assert not reader.attachments
    assert not reader.pages[0].images
    assert b"root:x:0" not in made
    with pytest.raises(ValueError, match="reads nothing from elsewhere"):
        paper.NothingIsRead().fetch(address)
