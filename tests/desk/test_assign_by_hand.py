"""A fitted schedule is changed by hand before it is issued: what was changed is a pin, the guard rails look again."""

# ruff: noqa: F811 - fixtures of the page's own tests are used again

from __future__ import annotations

import json
import re
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.utils import timezone

from athletes.models import Athlete, Coach
from plans.models import Schedule, SessionIssue, Template
from plans.refitting import aim_of, refit
from plans.situation import situation_of
from tests.desk.test_assign import NO, athlete, coach, post, template  # noqa: F401
from tests.factories import CoachFactory, next_sunday

pytestmark = pytest.mark.django_db

# The long run of the second week before the last (tests.factories.small_plan: week 4 of 6, its Sunday).
LONG = "00000000-0000-4000-8000-000003000006"
EASY = "00000000-0000-4000-8000-000003000003"


def hand_of(answer: Any) -> str:
    found = re.search(r'name="hand" value="([^"]*)"', answer.content.decode())
    assert found
    return unescape(found[1])


def take(coach: Coach, template: Template, athlete: Athlete, **values: Any) -> Any:
    typed = {"do": "take", "hand_at": f"{EASY}:0", "hand_text": "5 km easy",
             "hand_day": (next_sunday(3) - timedelta(3)).isoformat(), **values}  # fmt: skip
    return post(coach, template, athlete, **NO, **typed)


def test_a_change_is_shown_kept_and_issued_as_a_pin(
    coach: Coach, template: Template, athlete: Athlete
) -> None:
    opened = post(coach, template, athlete, **NO, do=f"change {EASY}:0")
    assert opened.status_code == 200
    assert 'id="hand_text" name="hand_text"' in opened.content.decode()
    friday = next_sunday(3) - timedelta(2)
    shown = take(coach, template, athlete, hand_day=friday.isoformat())
    assert shown.status_code == 200
    assert json.loads(hand_of(shown)) == [[EASY, 0, "5 km easy", 1]]
    assert "is “5 km easy” instead of “8 km easy”" in unescape(shown.content.decode())
    assert not Schedule.objects.exists()
    again = post(coach, template, athlete, **NO, do="show", hand=hand_of(shown))
    assert hand_of(again) == hand_of(shown)
    assert post(coach, template, athlete, **NO, do="issue", hand=hand_of(again)).status_code == 302
    issue = SessionIssue.objects.get(session__template_key=EASY)
    assert (issue.day, issue.steps, issue.planned_mm) == (friday, "5 km easy", 5_000_000)
    assert issue.pinned_by == coach
    assert SessionIssue.objects.filter(pinned_by__isnull=False).count() == 1


def test_a_session_left_out_stays_out(coach: Coach, template: Template, athlete: Athlete) -> None:
    shown = post(coach, template, athlete, **NO, do=f"out {EASY}:0")
    assert "Put it back" in shown.content.decode()
    assert post(coach, template, athlete, **NO, do="issue", hand=hand_of(shown)).status_code == 302
    schedule = Schedule.objects.get()
    issue = SessionIssue.objects.get(session__template_key=EASY)
    assert (issue.removed, issue.pinned_by, issue.planned_mm) == (True, coach, 0)
    assert str(issue.session_id) not in {s.key for s in situation_of(schedule, timezone.now()).inputs.plan}
    assert schedule.template_version
    found = refit(schedule, schedule.template_version, aim_of(schedule), athlete.today(), "look")
    assert EASY not in {str(slot.template_key) for slot in found.slots if not slot.after.removed}


def test_it_can_be_put_back(coach: Coach, template: Template, athlete: Athlete) -> None:
    shown = post(coach, template, athlete, **NO, do=f"out {EASY}:0")
    back = post(coach, template, athlete, **NO, do=f"fitted {EASY}:0", hand=hand_of(shown))
    assert hand_of(back) == ""


def test_the_guard_rails_look_again(coach: Coach, template: Template, athlete: Athlete) -> None:
    before = post(coach, template, athlete, **NO, do="show").content.decode()
    assert "long run 30 km" not in before
    day = next_sunday(3).isoformat()
    shown = take(coach, template, athlete, hand_at=f"{LONG}:0", hand_text="long run 30 km", hand_day=day)
    words = unescape(shown.content.decode())
    assert "Guard rails it can't keep" in words
    assert "long run 30 km after 14 km at most in the 30 days before" in words


def test_what_was_typed_is_never_issued_unseen(coach: Coach, template: Template, athlete: Athlete) -> None:
    answer = take(coach, template, athlete, do="issue")
    assert answer.status_code == 200
    assert "nothing is issued yet" in answer.content.decode()
    assert hand_of(answer)
    assert not Schedule.objects.exists()


def test_enter_takes_what_was_typed(coach: Coach, template: Template, athlete: Athlete) -> None:
    assert json.loads(hand_of(take(coach, template, athlete, do="show"))) == [[EASY, 0, "5 km easy", 0]]


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"hand_text": "5 km eezy @@"}, "hand_text_error"),
        ({"hand_text": "1 km easy; " * 40}, "characters; 300 fit"),
        ({"hand_day": "soon"}, "This is not a day."),
        ({"hand_day": "2020-01-05"}, "Choose a day from"),
        ({"hand_day": next_sunday(5).isoformat()}, "Choose a day from"),
    ],
)
def test_what_can_be_wrong(
    coach: Coach, template: Template, athlete: Athlete, wrong: dict[str, str], said: str
) -> None:
    for do in ("take", "issue"):
        answer = take(coach, template, athlete, do=do, **wrong)
        assert answer.status_code == 422
        assert said in answer.content.decode()
        kept = wrong.get("hand_text", "5 km easy").strip()
        assert f'value="{kept}' in unescape(answer.content.decode())
        assert not Schedule.objects.exists()


@pytest.mark.parametrize(
    "hand",
    ["x", "{}x", "[1]", '[["x",0,"5 km easy",0]]', f'[["{EASY}",0,"5 kmm eezy",0]]', f'[["{EASY}",-1,"",0]]',
     f'[["{EASY}",0,"",9999]]', "[" * 5000],
)  # fmt: skip
def test_a_damaged_list_is_refused(coach: Coach, template: Template, athlete: Athlete, hand: str) -> None:
    answer = post(coach, template, athlete, **NO, do="issue", hand=hand)
    assert answer.status_code == 422
    assert "arrived damaged" in answer.content.decode()
    assert not Schedule.objects.exists()


def test_a_change_goes_with_its_session(coach: Coach, template: Template, athlete: Athlete) -> None:
    hand = json.dumps([[EASY, 0, None, 1]])
    later = next_sunday(6)
    post(coach, template, athlete, **NO, do="issue", hand=hand, race_day=later.isoformat())
    assert SessionIssue.objects.get(session__template_key=EASY).day == later - timedelta(weeks=2, days=2)


def test_a_change_of_a_session_that_is_gone_is_told(
    coach: Coach, template: Template, athlete: Athlete
) -> None:
    hand = json.dumps([["11111111-0000-4000-8000-000000000000", 0, "", 0]])
    answer = post(coach, template, athlete, **NO, do="show", hand=hand)
    assert "1 session that was changed by hand" in answer.content.decode()
    assert hand_of(answer) == ""


def test_who_may(coach: Coach, template: Template, athlete: Athlete) -> None:
    assert take(CoachFactory(), template, athlete).status_code == 404
