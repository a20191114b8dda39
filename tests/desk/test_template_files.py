"""Templates out to a file and in again."""

from __future__ import annotations

import csv
import io
import json

import pytest
import yaml
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from plans.models import Template
from plans.models.template import store
from plans.training.template import Template as Plan
from plans.training.template import TemplateSession, TemplateWeek
from tests.factories import AthleteFactory, CoachFactory, template_version

pytestmark = pytest.mark.django_db


@pytest.fixture
def coach() -> Client:
    client = Client()
    client.force_login(CoachFactory().user)
    return client


def upload(client: Client, name: str, content: bytes, **values: str) -> object:
    return client.post(reverse("template-upload"), {"file": SimpleUploadedFile(name, content), **values})


@pytest.mark.parametrize("kind", ["yaml", "json", "csv"])
def test_out_and_in_again(coach: Client, kind: str) -> None:
    template = template_version(4).template
    answer = coach.get(reverse("template-file", args=[template.pk, kind]))
    assert answer["Content-Disposition"] == f'attachment; filename="a-small-plan.{kind}"'
    read = upload(coach, f"plan.{kind}", answer.content)
    page = read.content.decode()
    assert read.status_code == 200
    assert "Keep it as a new template" in page
    assert Template.objects.count() == 1
    kept = coach.post(
        reverse("template-upload"),
        {"text": answer.content.decode(), "kind": "csv" if kind == "csv" else "plan", "do": "keep"},
    )
    assert kept.status_code == 302
    made = Template.objects.exclude(pk=template.pk).get()
    assert [[(s.day, s.text, s.role) for s in w.sessions] for w in made.latest.plan.weeks] == [
        [(s.day, s.text, s.role) for s in w.sessions] for w in template.latest.plan.weeks
    ]


def test_files_are_what_they_say(coach: Client) -> None:
    template = template_version(4).template
    assert (
        yaml.safe_load(coach.get(reverse("template-file", args=[template.pk, "yaml"])).content)["season_plan"]
        == 1
    )
    assert (
        json.loads(coach.get(reverse("template-file", args=[template.pk, "json"])).content)["race"]
        == "marathon"
    )
    assert coach.get(reverse("template-file", args=[template.pk, "exe"])).status_code == 404


def test_no_cell_begins_with_a_formula(coach: Client) -> None:
    session = TemplateSession(
        "00000000-0000-4000-8000-000000000001", 1, "easy", "45 min easy", "=HYPERLINK(1)", "key"
    )
    week = TemplateWeek("base", "@SUM(1)", (session,))
    made = store(Plan("-1+2", (week,), about="+3"))
    text = coach.get(reverse("template-file", args=[made.template_id, "csv"])).content.decode()
    cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
    assert "'=HYPERLINK(1)" in cells
    assert [cell for cell in cells if cell[:1] in ("=", "+", "-", "@", "\t", "\r")] == []


def test_every_fault_is_told_with_its_place(coach: Client) -> None:
    text = """season_plan: 1
name: Faulty
weeks:
- kind: bass
  purpose: x
  sessions:
  - {day: Tuesday, session: 45 min easi, role: easy}
"""
    answer = upload(coach, "plan.yaml", text.encode())
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Week 1" in page
    assert "bass" in page
    assert not Template.objects.exists()
    # Kept in the same moment: still nothing.
    coach.post(reverse("template-upload"), {"text": text, "kind": "plan", "do": "keep"})
    assert not Template.objects.exists()


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("plan.yaml", b"", "The file is empty."),
        ("plan.yaml", b"\xff\xfe\x00", "in UTF-8"),
        ("plan.yaml", b"x" * 200_001, "at most 200 can be read"),
        ("plan.yaml", b"[1, 2", "YAML or JSON"),
        ("plan.yaml", b"just words", "no plan"),
        ("plan.csv", b"a,b\n1,2\n", "is missing"),
        ("plan.yaml", b"&a [*a]", ""),
    ],
)
def test_bad_files(coach: Client, name: str, content: bytes, said: str) -> None:
    answer = upload(coach, name, content)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Template.objects.exists()


def test_no_file_at_all(coach: Client) -> None:
    answer = coach.post(reverse("template-upload"), {})
    assert answer.status_code == 422
    assert "Choose a file first." in answer.content.decode()


def test_who_may() -> None:
    template = template_version(4).template
    client = Client()
    client.force_login(AthleteFactory().user)
    assert client.get(reverse("template-file", args=[template.pk, "yaml"])).status_code == 404
    assert client.get(reverse("template-upload")).status_code == 404
