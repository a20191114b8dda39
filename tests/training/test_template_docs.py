"""What docs/template-file.md shows is read by the program, and names every field there is."""

from __future__ import annotations

import re
from pathlib import Path

from plans.training.template_csv import COLUMNS
from plans.training.template_file import PLAN_FIELDS, SESSION_FIELDS, WEEK_FIELDS, read_template

DOCS = (Path(__file__).parents[2] / "docs" / "template-file.md").read_text(encoding="utf-8")


def test_the_example_is_a_plan_but_for_its_missing_race_week():
    example = re.search(r"```yaml\n(.*?)```", DOCS, re.DOTALL)[1]
    plan = read_template(example.replace("race: half marathon", "race: none").replace("weeks: 7", "weeks: 1"))
    assert [s.text for s in plan.weeks[0].sessions][1] == "easy + 4 strides"
    assert plan.weeks[0].sessions[1].amount.unit == "percent"
    assert plan.from_week_mm == 29_000_000


def test_every_field_and_column_is_documented():
    for name in (*PLAN_FIELDS, *WEEK_FIELDS, *SESSION_FIELDS):
        assert re.search(rf"\b{name}\b", DOCS), name
    assert ", ".join(COLUMNS) in DOCS
