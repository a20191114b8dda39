"""The template board: read it, move sessions, change weeks, undo; a stale board overwrites nothing."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from plans.models import Template, TemplateVersion
from tests.factories import AthleteFactory, CoachFactory, UserFactory, template_version

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


def key(week: int, day: int) -> str:
    return f"00000000-0000-4000-8000-{week:06}{day:06}"


@pytest.fixture
def coach() -> Client:
    client = Client()
    client.force_login(CoachFactory(is_head=True).user)
    return client


@pytest.fixture
def template() -> Template:
    return template_version(4).template


def days(template: Template, week: int) -> list[tuple[int | None, str]]:
    return [(s.day, s.text) for s in template.latest.plan.weeks[week].sessions]


def test_the_board_shows_weeks_sums_and_sessions(coach: Client, template: Template) -> None:
    page = coach.get(reverse("template", args=[template.pk])).content.decode()
    assert page.count('class="board-week"') == 4
    assert "Keep it even." in page
    assert "5 × 3 min" in page
    assert "Sums for nobody: 10 km in 50:00" in page
    # 8 + 6 + 14 km, and 2 + 2 km easy beside 15 min at 10K (3 km in 50:00 pace) and 8 min of jog.
    assert "<b>36 km</b>" in page or "<b>37 km</b>" in page


def test_a_guard_rail_is_told_in_words(coach: Client, template: Template) -> None:
    coach.post(
        reverse("template-session", args=[template.pk, key(1, 6)]),
        {"base": 1, "week": 2, "day": "6", "text": "long run 24 km", "priority": "key", "do": "save"},
    )
    page = coach.get(reverse("template", args=[template.pk])).content.decode()
    assert "Week 2: long run 24 km after 14 km at most in the 30 days before is 71 % longer" in page


def test_moving_to_a_free_day(coach: Client, template: Template) -> None:
    answer = coach.post(
        reverse("template-move", args=[template.pk]), {"base": 1, "key": key(0, 3), "week": 2, "day": 4}
    )
    assert answer.status_code == 302
    assert answer["Location"].endswith(f"#s-{key(0, 3)}")
    assert (4, "8 km easy") in days(template, 1)
    assert (3, "8 km easy") not in days(template, 0)
    assert template.latest.number == 2
    assert template.latest.what == "a session moved to week 2, Friday"


def test_moving_onto_a_run_changes_their_places(coach: Client, template: Template) -> None:
    coach.post(
        reverse("template-move", args=[template.pk]), {"base": 1, "key": key(0, 3), "week": 1, "day": 6}
    )
    assert days(template, 0) == [
        (1, "2 km easy; 5 x 3 min @ 10K, 2 min jog; 2 km easy"),
        (3, "long run 14 km"),
        (5, "6 km easy"),
        (6, "8 km easy"),
    ]


def test_htmx_gets_the_board_alone(coach: Client, template: Template) -> None:
    answer = coach.post(
        reverse("template-move", args=[template.pk]),
        {"base": 1, "key": key(0, 3), "week": 1, "day": 4},
        headers=HTMX,
    )
    assert answer.status_code == 200
    assert answer.content.decode().strip().startswith('<div id="board" data-base="2">')


def test_a_stale_board_overwrites_nothing(coach: Client, template: Template) -> None:
    address = reverse("template-move", args=[template.pk])
    coach.post(address, {"base": 1, "key": key(0, 3), "week": 1, "day": 4})
    answer = coach.post(address, {"base": 1, "key": key(0, 5), "week": 1, "day": 0}, headers=HTMX)
    assert answer.status_code == 409
    assert "Version 2 was saved" in answer.content.decode()
    assert template.latest.number == 2
    assert (5, "6 km easy") in days(template, 0)


@pytest.mark.parametrize(
    "wrong", [{"week": "x"}, {"week": "5000"}, {"day": "9"}, {"key": "nobody"}, {"week": "44"}]
)
def test_a_move_to_nowhere(coach: Client, template: Template, wrong: dict[str, str]) -> None:
    values = {"base": 1, "key": key(0, 3), "week": "1", "day": "4", **wrong}
    answer = coach.post(reverse("template-move", args=[template.pk]), values)
    assert answer.status_code == 422
    assert template.latest.number == 1


def test_the_race_can_not_leave_the_last_week(coach: Client, template: Template) -> None:
    answer = coach.post(
        reverse("template-move", args=[template.pk]), {"base": 1, "key": key(3, 6), "week": 1, "day": 0}
    )
    assert answer.status_code == 422
    assert "The race itself is missing from the last week." in answer.content.decode()


def test_undo_and_undo_again(coach: Client, template: Template) -> None:
    move, undo = (reverse(name, args=[template.pk]) for name in ("template-move", "template-undo"))
    first = days(template, 0)
    coach.post(move, {"base": 1, "key": key(0, 3), "week": 1, "day": 4})
    second = days(template, 0)
    coach.post(move, {"base": 2, "key": key(0, 5), "week": 1, "day": 0})
    coach.post(undo, {"base": 3})
    assert days(template, 0) == second
    coach.post(undo, {"base": 4})
    assert days(template, 0) == first
    assert template.latest.number == 5
    assert coach.post(undo, {"base": 5}).status_code == 422
    assert coach.post(undo, {"base": 4}).status_code == 422


def test_an_edit_after_an_undo_is_undone_to_the_undone(coach: Client, template: Template) -> None:
    move, undo = (reverse(name, args=[template.pk]) for name in ("template-move", "template-undo"))
    first = days(template, 0)
    coach.post(move, {"base": 1, "key": key(0, 3), "week": 1, "day": 4})
    coach.post(undo, {"base": 2})
    coach.post(move, {"base": 3, "key": key(0, 5), "week": 1, "day": 0})
    coach.post(undo, {"base": 4})
    assert days(template, 0) == first


def test_removing_a_session(coach: Client, template: Template) -> None:
    address = reverse("template-session-remove", args=[template.pk, key(0, 3)])
    assert coach.post(address, {"base": 1}).status_code == 302
    assert (3, "8 km easy") not in days(template, 0)
    assert coach.post(address, {"base": 2}).status_code == 422


@pytest.mark.parametrize(
    ("what", "week", "weeks"),
    [("copy", 2, 5), ("add", 1, 5), ("remove", 2, 3), ("earlier", 2, 4), ("later", 1, 4), ("days", 1, 4)],
)
def test_changes_of_a_week(coach: Client, template: Template, what: str, week: int, weeks: int) -> None:
    answer = coach.post(reverse("template-week-change", args=[template.pk, week, what]), {"base": 1})
    assert answer.status_code == 302
    plan = template.latest.plan
    assert len(plan.weeks) == weeks
    keys = [s.key for w in plan.weeks for s in w.sessions]
    assert len(keys) == len(set(keys))


def test_every_session_a_day_later(coach: Client, template: Template) -> None:
    coach.post(reverse("template-week-change", args=[template.pk, 1, "days"]), {"base": 1})
    assert [day for day, _ in days(template, 0)] == [0, 2, 4, 6]


def test_a_week_shifts(coach: Client, template: Template) -> None:
    coach.post(
        reverse("template-week", args=[template.pk, 1]), {"base": 1, "kind": "build", "purpose": "First"}
    )
    coach.post(reverse("template-week-change", args=[template.pk, 1, "later"]), {"base": 2})
    assert [w.purpose for w in template.latest.plan.weeks] == [
        "Keep it even.",
        "First",
        "Keep it even.",
        "Keep it even.",
    ]


def test_the_race_week_can_not_be_moved(coach: Client, template: Template) -> None:
    answer = coach.post(reverse("template-week-change", args=[template.pk, 4, "earlier"]), {"base": 1})
    assert answer.status_code == 422
    assert "A plan for a race ends with its race week." in answer.content.decode()


def test_kind_and_purpose_of_a_week(coach: Client, template: Template) -> None:
    address = reverse("template-week", args=[template.pk, 2])
    coach.post(address, {"base": 1, "kind": "recovery", "purpose": "  Step   back. "})
    week = template.latest.plan.weeks[1]
    assert (week.kind, week.purpose) == ("recovery", "Step back.")
    assert coach.post(address, {"base": 2, "kind": "holiday", "purpose": ""}).status_code == 422
    assert coach.post(address, {"base": 2, "kind": "base", "purpose": "x" * 401}).status_code == 422


def test_an_unknown_change_of_a_week(coach: Client, template: Template) -> None:
    assert (
        coach.post(reverse("template-week-change", args=[template.pk, 1, "eat"]), {"base": 1}).status_code
        == 404
    )


def test_the_example_athlete_is_chosen(template: Template) -> None:
    from athletes.carding import compute_card, store_card
    from tests.factories import ResultFactory, coaches

    one = CoachFactory()
    mine, other = AthleteFactory(name="Mine"), AthleteFactory(name="Other")
    coaches(one, mine)
    for athlete in (mine, other):
        result = ResultFactory(athlete=athlete)
        store_card(athlete, compute_card(athlete, [result]), result, result.day)
    client = Client()
    client.force_login(one.user)
    address = reverse("template-example", args=[template.pk])
    assert client.post(address, {"athlete": mine.pk}).status_code == 302
    assert "Sums for Mine" in client.get(reverse("template", args=[template.pk])).content.decode()
    assert client.post(address, {"athlete": other.pk}).status_code == 404


def test_facts_rename_and_race(coach: Client, template: Template) -> None:
    address = reverse("template-facts", args=[template.pk])
    values = {"base": 1, "name": "Another name", "about": "For you.", "level": "", "race": "marathon", "fewest": 3,
              "least_long": "24 km", "from_week": "", "from_long": ""}  # fmt: skip
    assert coach.post(address, values).status_code == 302
    template.refresh_from_db()
    plan = template.latest.plan
    assert (template.name, plan.name, plan.least_weeks, plan.least_long_mm) == (
        "Another name",
        "Another name",
        3,
        24_000_000,
    )
    stale = coach.post(address, {**values, "name": "Third"})
    assert stale.status_code == 409
    assert 'value="Third"' in stale.content.decode()
    assert coach.post(address, {**values, "base": 2, "fewest": 50}).status_code == 422
    assert coach.post(address, {**values, "base": 2, "name": ""}).status_code == 422


def test_versions_and_bringing_one_back(coach: Client, template: Template) -> None:
    coach.post(
        reverse("template-move", args=[template.pk]), {"base": 1, "key": key(0, 3), "week": 1, "day": 4}
    )
    page = coach.get(reverse("template-versions", args=[template.pk])).content.decode()
    assert "a session moved to week 1, Friday" in page
    answer = coach.post(reverse("template-restore", args=[template.pk, 1]), {"base": 2})
    assert answer.status_code == 302
    assert (3, "8 km easy") in days(template, 0)
    assert TemplateVersion.objects.filter(template=template).count() == 3
    assert coach.post(reverse("template-restore", args=[template.pk, 99]), {"base": 3}).status_code == 404


def test_duplicate_archive_and_back(coach: Client, template: Template) -> None:
    coach.post(reverse("template-duplicate", args=[template.pk]))
    copy = Template.objects.exclude(pk=template.pk).get()
    assert copy.name == "A small plan, a copy"
    assert key(0, 3) not in [s.key for w in copy.latest.plan.weeks for s in w.sessions]
    coach.post(reverse("template-archive", args=[copy.pk]))
    assert coach.get(reverse("template", args=[copy.pk])).status_code == 404
    assert "Put away (1)" in coach.get(reverse("templates")).content.decode()
    coach.post(reverse("template-archive", args=[copy.pk]))
    assert coach.get(reverse("template", args=[copy.pk])).status_code == 200


def test_a_new_template_from_scratch_and_from_the_library(coach: Client) -> None:
    address = reverse("template-new")
    assert coach.get(address).status_code == 200
    coach.post(address, {"name": "Mine", "weeks": 6, "race": "10 km"})
    plan = Template.objects.get(name="Mine").latest.plan
    assert (len(plan.weeks), plan.race_mm, plan.weeks[-1].sessions[0].text) == (6, 10_000_000, "race 10 km")
    coach.post(address, {"plan": "base-8-weeks-5-days"})
    assert Template.objects.filter(name="Base block of 8 weeks on five days").exists()
    assert coach.post(address, {"plan": "../settings"}).status_code == 404
    assert coach.post(address, {"name": "", "weeks": 99, "race": "-3"}).status_code == 422


def test_who_may_see_it(template: Template) -> None:
    names = ["template", "template-facts", "template-versions", "template-offer", "template-assign-many"]
    athlete = AthleteFactory()
    nobody = UserFactory()
    for user in (athlete.user, nobody):
        client = Client()
        client.force_login(user)
        for name in names:
            assert client.get(reverse(name, args=[template.pk])).status_code == 404
    for name in names:
        assert Client().get(reverse(name, args=[template.pk])).status_code == 302


def test_only_post_changes(coach: Client, template: Template) -> None:
    for name in (
        "template-move",
        "template-undo",
        "template-example",
        "template-duplicate",
        "template-archive",
    ):
        assert coach.get(reverse(name, args=[template.pk])).status_code == 405
    assert coach.get(reverse("template", args=[9999])).status_code == 404
