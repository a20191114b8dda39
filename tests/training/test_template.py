"""Season plans as dataclasses and files: what is read back, and what is said when it can't be read."""

from __future__ import annotations

import json
from dataclasses import replace
from uuid import UUID

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plans.training.template import (
    KINDS,
    PRIORITIES,
    Amount,
    Template,
    TemplateError,
    TemplateSession,
    TemplateWeek,
    problems,
    read_amount,
    write_amount,
)
from plans.training.template_csv import read_csv, write_csv
from plans.training.template_file import read_template, write_json, write_yaml

KM = 1_000_000
KEY = "0b6f2a52-6f0a-4c6e-9d51-6f2b0a3c1d10"
OTHER_KEY = "0b6f2a52-6f0a-4c6e-9d51-6f2b0a3c1d11"

SMALL = """
season_plan: 1
name: Small
race: 10 km
fewest_weeks: 1
weeks:
- kind: build
  purpose: Run.
  sessions:
  - day: Tuesday
    session: 6 x 800 m @ 10K, 90 s jog
    role: quality
    priority: key
    key: 0b6f2a52-6f0a-4c6e-9d51-6f2b0a3c1d10
  - day: sat
    session: easy
    amount: 20-25 %
    role: easy
- kind: race
  purpose: Race.
  sessions:
  - day: Sunday
    session: race 10 km
    role: race
    priority: key
"""


def sentences(text: str) -> list[str]:
    with pytest.raises(TemplateError) as caught:
        read_template(text)
    return [str(problem) for problem in caught.value.problems]


def test_a_plan_is_read_from_yaml():
    plan = read_template(SMALL)
    assert plan.name == "Small"
    assert plan.race_mm == 10 * KM
    quality, easy = plan.weeks[0].sessions
    assert (quality.day, quality.role, quality.priority, quality.key) == (1, "quality", "key", KEY)
    assert (easy.day, easy.amount) == (5, Amount(20, 25, "percent"))
    assert str(UUID(easy.key)) == easy.key
    assert plan.weeks[1].kind == "race"


def test_json_is_the_same_file():
    plan = read_template(SMALL)
    assert read_template(write_json(plan)) == plan
    assert json.loads(write_json(plan))["weeks"][0]["sessions"][0]["day"] == "Tuesday"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            ("@ 10K, 90 s jog", "@ 10Q, 90 s jog"),
            "Week 1, Tuesday: “6 x 800 m @ 10Q, 90 s jog” can't be read:",
        ),
        (("role: quality", "role: qualty"), "Week 1, Tuesday: role says “qualty”; possible are easy, long,"),
        (
            ("kind: build", "kind: bild"),
            "Week 1: kind says “bild”; possible are base, build, recovery, peak,",
        ),
        (
            ("day: sat", "day: sun day"),
            "Week 1, session 2: The day “sun day” isn't a weekday; possible are Monday,",
        ),
        (
            ("20-25 %", "25-20 %"),
            "Week 1, session 2: amount: the amount “25-20 %” must be above nothing, and a range",
        ),
        (("purpose: Run.", "porpoise: Run."), "Week 1: There is no field “porpoise”; did you mean purpose?"),
        (("name: Small", "name: ''"), "The plan needs a name."),
        (("season_plan: 1", "season_plan: 7"), "season_plan is 7; this program reads 1."),
        (("kind: race", "kind: taper"), "Week 2: A plan for a race ends with its race week."),
        (("role: race", "role: long"), "Week 2: The race itself is missing from the last week."),
        (("day: sat", "day: tue"), "Week 1, Tuesday: Another run wishes for this day; mark the second run"),
        (("race: 10 km", "race: 10"), "race: the amount “10” isn't one of 8 km, 8-10 km, 5 mi"),
        ((KEY, "key-7"), "Week 1, Tuesday: The key “key-7” isn't a UUID."),
    ],
)
def test_what_cant_be_read_is_said_with_its_place(change, said):
    told = sentences(SMALL.replace(*change))
    assert any(sentence.startswith(said) for sentence in told), told


def test_everything_wrong_is_said_at_once():
    text = SMALL.replace("kind: build", "kind: bild").replace("day: sat", "day: someday")
    assert len(sentences(text)) >= 2


@pytest.mark.parametrize(
    "text",
    ["", "- 1\n- 2", "[" * 5000, "name: {", "a: b: c", "\x00", "weeks: 7", "season_plan: 1\nweeks: [7, {}]",
     "season_plan: 1\nname: x\nweeks: [{kind: base, sessions: [3, {day: [1]}]}]", "x" * 2_000_000],
)  # fmt: skip
def test_no_text_gives_anything_but_sentences(text):
    for read in (read_template, read_csv):
        with pytest.raises(TemplateError) as caught:
            read(text)
        assert all(str(problem).strip() for problem in caught.value.problems)


def test_a_key_belongs_to_one_session():
    plan = read_template(SMALL)
    week = plan.weeks[0]
    twice = replace(
        plan, weeks=(replace(week, sessions=(week.sessions[0], replace(week.sessions[1], key=KEY))),)
    )
    said = [str(problem) for problem in problems(twice)]
    assert f"Week 1, Tuesday: The key {KEY} stands 2 times; a key belongs to one session." in said


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("8 km", Amount(8 * KM, 8 * KM, "mm")),
        ("8-10 km", Amount(8 * KM, 10 * KM, "mm")),
        ("5 mi", Amount(8_046_720, 8_046_720, "mm")),
        ("45-60 min", Amount(2700, 3600, "s")),
        ("1.5 h", Amount(5400, 5400, "s")),
        ("20 %", Amount(20, 20, "percent")),
    ],
)
def test_amounts(text, amount):
    assert read_amount(text) == amount
    assert read_amount(write_amount(amount)) == amount


@pytest.mark.parametrize("text", ["", "8", "km", "-3 km", "0 km", "10-8 km", "90 %", "NaN km", "٣ km"])
def test_amounts_that_are_none(text):
    with pytest.raises(ValueError, match=r"amount|%"):
        read_amount(text)


def test_the_spreadsheet_has_a_row_a_session_and_reads_back():
    plan = read_template(SMALL)
    rows = write_csv(plan).split("\r\n")
    assert len(rows) == 1 + 3 + 1
    assert rows[0].startswith("week,kind,week_purpose,day,session,purpose,role,priority,amount")
    assert read_csv(write_csv(plan)) == plan


def test_the_spreadsheet_may_come_back_with_semicolons_and_a_byte_order_mark():
    plan = read_template(SMALL.replace("90 s jog", "2 min jog"))
    text = write_csv(plan).replace('"6 x 800 m @ 10K, 2 min jog"', "6 x 800 m @ 10K").replace(",", ";")
    assert read_csv("\ufeff" + text).weeks[0].sessions[0].text == "6 x 800 m @ 10K"


def test_a_spreadsheet_is_told_its_line():
    text = write_csv(read_template(SMALL)).replace("\r\n2,race", "\r\ntwo,race")
    with pytest.raises(TemplateError, match="Line 4: The week “two” isn't a number from 1"):
        read_csv(text)


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "'"])
def test_no_cell_is_a_formula(sign):
    """A purpose that begins like a formula is written so that a spreadsheet shows it (OWASP, CSV injection)."""
    plan = read_template(SMALL)
    evil = replace(plan, about=f"{sign}1+1", name=f"{sign}HYPERLINK(A1)")
    cells = [cell for row in write_csv(evil).split("\r\n") for cell in row.split(",")]
    assert not [cell for cell in cells if cell[:1] in ("=", "+", "@") or cell[:2] in ("-1", "-H")]
    assert read_csv(write_csv(evil)) == evil


words = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Zl", "Zp", "Cf", "Zs")),
    min_size=1,
    max_size=40,
)
texts = st.sampled_from(
    ("8 km easy", "45-60 min easy", "6 x 800 m @ 10K, 90 s jog", "long 20 km easy", "8 x (4 min easy, 1 min walk)",
     "free: as you feel = 60 min", "rest", "strength 20 min")
)  # fmt: skip
amounts = st.none() | st.builds(
    lambda low, more, size: Amount(low * size[0], (low + more) * size[0], size[1]),
    st.integers(1, 30),
    st.integers(0, 10),
    st.sampled_from(((KM, "mm"), (1_609_344, "mm"), (60, "s"), (1, "percent"))),
)
roles = st.sampled_from(("easy", "long", "quality", "strength", "cross", "rest"))


@st.composite
def templates(draw):
    weeks = []
    for _ in range(draw(st.integers(1, 4))):
        days = draw(st.lists(st.integers(0, 6), unique=True, max_size=4))
        sessions = []
        for day in days:
            amount = draw(amounts) if not any(s.amount for s in sessions) else None
            key = str(UUID(int=draw(st.integers(0, 2**128 - 1)), version=4))
            session = TemplateSession(
                key,
                day,
                draw(roles),
                draw(texts),
                draw(st.just("") | words),
                draw(st.sampled_from(PRIORITIES)),
                amount,
            )
            sessions.append(session)
        weeks.append(TemplateWeek(draw(st.sampled_from(KINDS)), draw(words), tuple(sessions)))
    return Template(
        draw(words), tuple(weeks), draw(st.just("") | words), draw(st.just("") | words),
        None, 1, draw(st.integers(0, 30)) * KM, draw(st.integers(0, 60)) * KM, draw(st.integers(0, 30)) * KM,
    )  # fmt: skip


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(templates())
def test_every_file_reads_back_to_the_same_plan(template):
    if problems(template):
        return  # two equal keys, by a chance of one in 10**30
    assert read_template(write_yaml(template)) == template
    assert read_template(write_json(template)) == template
    assert read_csv(write_csv(template)) == template
