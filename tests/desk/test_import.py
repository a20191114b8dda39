"""Athletes from a spreadsheet: a preview with errors by row, nothing stored before it is confirmed, no doubles."""

from __future__ import annotations

from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from athletes.models import Athlete, CoachAthlete, Group
from coaching.importing import guessed
from coaching.models import Invitation
from coaching.spreadsheets import SheetError, rows_of, text_of
from tests.factories import AthleteFactory, CoachFactory, coaches

pytestmark = pytest.mark.django_db

GOOD = """Name,E-mail,Group,Born,Weekly,Longest run
Bea Lindqvist,Bea@Example.org,Marathon A,1988-05-04,42,15
Per Sandal,,"Track, Hills",4.5.1990,30 mi,
"""
BROKEN = """Name,E-mail,Born,Weekly
Bea Lindqvist,bea@example.org,1988-05-04,42
,nobody@example.org,,
Carl Osei,carl at home,,
Dina Moor,,4/5/1990,lots
bea lindqvist,,1988-05-04,
"""


@pytest.fixture
def coach():
    return CoachFactory()


@pytest.fixture
def desk(coach):
    client = Client()
    client.force_login(coach.user)
    return client


def text(answer) -> str:
    return " ".join(answer.content.decode().split())


def give(client, content, name="sheet.csv"):
    data = content if isinstance(content, bytes) else content.encode()
    return client.post("/desk/roster/read/", {"file": SimpleUploadedFile(name, data)})


def confirm(client, content, **more):
    columns = {f"column-{key}": at for key, at in guessed(rows_of(content)[0]).items()}
    return client.post("/desk/roster/read/", {"text": content, "confirm": "1", **columns, **more})


def test_it_works(desk, coach):
    page = text(give(desk, GOOD))
    assert "2 to add" in page
    assert not Athlete.objects.exists()
    answer = confirm(desk, GOOD)
    assert answer["Location"] == "/desk/"
    bea, per = Athlete.objects.order_by("name")
    assert (bea.name, bea.born, bea.declared_weekly_mm, bea.declared_longest_mm) == (
        "Bea Lindqvist", date(1988, 5, 4), 42_000_000, 15_000_000,
    )  # fmt: skip
    assert (per.born, per.declared_weekly_mm) == (
        date(1990, 5, 4),
        48_280_320,
    )  # 30 international miles in mm
    assert set(per.groups.values_list("name", flat=True)) == {"Track", "Hills"}
    assert set(CoachAthlete.objects.values_list("coach", flat=True)) == {coach.pk}
    assert not Invitation.objects.exists()


def test_the_same_file_twice_makes_no_doubles(desk):
    confirm(desk, GOOD)
    assert "0 to add, 2 already on your roster" in text(give(desk, GOOD))
    assert confirm(desk, GOOD).status_code == 422
    assert (Athlete.objects.count(), Group.objects.count()) == (2, 3)


def test_errors_stand_by_their_row_and_the_good_rows_can_be_added_without_them(desk):
    page = text(give(desk, BROKEN))
    assert "1 to add, 4 with errors" in page
    for said in (
        "There is no name.",
        "“carl at home” is not a whole mail address.",
        "“4/5/1990” is no birthday; write it like 1988-05-04.",
        "“lots” is no distance (a week); write a number or 40 km.",
        "The same person as row 2.",
    ):
        assert said in page
    confirm(desk, BROKEN)
    assert list(Athlete.objects.values_list("name", flat=True)) == ["Bea Lindqvist"]


def test_two_people_of_one_name_are_told_apart_by_their_birthdays(desk, coach):
    coaches(coach, AthleteFactory(name="Bea Lindqvist", born=date(1970, 1, 1)))
    assert "2 to add" in text(give(desk, GOOD))


def test_columns_are_matched_by_hand(desk):
    odd = "Who;Miles\nBea Lindqvist;20\n"
    page = text(give(desk, odd))
    assert "Say which column has the name." in page
    again = desk.post("/desk/roster/read/", {"text": odd, "column-name": "0", "column-weekly": "1"})
    assert "1 to add" in text(again)
    assert not Athlete.objects.exists()
    desk.post("/desk/roster/read/", {"text": odd, "column-name": "0", "column-weekly": "1", "confirm": "1"})
    assert Athlete.objects.get().declared_weekly_mm == 20_000_000


def test_first_and_last_name_in_two_columns(desk):
    confirm(desk, "First name,Last name\nBea,Lindqvist\n")
    assert Athlete.objects.get().name == "Bea Lindqvist"


def test_invitations_only_when_asked(desk):
    confirm(desk, GOOD, invite="on")
    assert Invitation.objects.get().athlete.name == "Bea Lindqvist"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("Name\n", "There is no row below"),
        (b"", "The file is empty."),
        (b"PK\x03\x04\x00\x00", "This is not a text file."),
        ('Name\n"Bea\n', "can’t be read as CSV"),
    ],
)
def test_a_file_that_is_no_sheet_is_refused_in_words(desk, content, said):
    answer = give(desk, content)
    assert answer.status_code == 422
    assert said in text(answer).replace("&#x27;", "’")


def test_a_formula_that_was_made_text_comes_back_as_it_was():
    assert rows_of("Name\n'=2+5\nO'Neil\n") == [["Name"], ["=2+5"], ["O'Neil"]]


def test_older_encodings_are_read_and_pictures_not():
    assert text_of("Zoë".encode("cp1252")) == "Zoë"
    with pytest.raises(SheetError):
        text_of(b"\x89PNG\x00\x00")


def test_another_coachs_athlete_is_not_given_away(desk):
    AthleteFactory(name="Bea Lindqvist")
    assert "2 to add" in text(give(desk, GOOD))


def test_an_athlete_finds_nothing():
    client = Client()
    client.force_login(AthleteFactory().user)
    assert client.get("/desk/roster/read/").status_code == 404
    assert client.post("/desk/roster/read/", {"text": GOOD, "confirm": "1"}).status_code == 404
