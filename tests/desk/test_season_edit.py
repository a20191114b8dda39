"""Editing a running season on the athlete's page: what a coach sees, sends, and is told."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from athletes.models import Practice
from plans import editing
from plans.issuing import Content, issue, live
from plans.models import Schedule, SeasonDraft, SessionIssue
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


@pytest.fixture
def schedule() -> Schedule:
    return scheduled(AthleteFactory(name="Bea Lindqvist"), weeks=6)


@pytest.fixture
def coach(schedule):
    coach = CoachFactory(user__name="Marta Quill")
    coaches(coach, schedule.athlete)
    return coach


@pytest.fixture
def desk(client, coach):
    client.force_login(coach.user)
    return client


def ahead(schedule, weekday, week=1):
    monday = timezone.localdate() - timedelta(timezone.localdate().weekday())
    return next(one for one in live(schedule) if one.day == monday + timedelta(7 * week + weekday))


def text(response) -> str:
    return re.sub(r"\s+", " ", response.content.decode())


def base(schedule) -> str:
    """As the page would say it."""
    schedule.refresh_from_db()
    draft = SeasonDraft.objects.filter(schedule=schedule).first()
    return f"{schedule.current_version}.{draft.revision if draft else 0}"


def typed(schedule, one, **values) -> dict[str, str]:
    asked = {"base": base(schedule), "text": one.steps, "day": one.day.isoformat(), "purpose": "", "role": ""}
    return {**asked, "do": "save", **values}


def write(desk, schedule, one, **values):
    address = reverse("season-session", args=[schedule.pk, one.session_id])
    headers = values.pop("headers", None)
    return desk.post(address, typed(schedule, one, **values), headers=headers)


def move(desk, schedule, one, day, **values):
    sent = {"base": base(schedule), "key": one.session_id, "to": day.isoformat(), **values}
    return desk.post(reverse("season-move", args=[schedule.pk]), sent)


def send(desk, schedule, **values):
    return desk.post(
        reverse("season-send", args=[schedule.pk]), {"base": base(schedule), "words": "", **values}
    )


def page(desk, schedule):
    return text(desk.get(reverse("athlete", args=[schedule.athlete_id])))


class TestGrid:
    def test_it_works(self, desk, schedule):
        said = page(desk, schedule)
        assert said.count('class="board-week') == 6
        assert said.count('role="cell" data-day=') == 42
        assert "8 km easy" in said
        assert "not sent yet" not in said

    def test_planned_and_run_stand_in_one_cell(self, desk, schedule):
        past = ahead(schedule, 3, week=-1)
        desk.post(
            reverse("log-for", args=[past.session_id]),
            logged(past, outcome="cut", distance="5 km", moving="31:00", effort="6", reason="tired"),
        )
        cell = re.search(rf'id="s-{past.session_id}".*?</a>', page(desk, schedule))[0]
        assert "8 km easy" in cell
        assert "cut short, 5 km in 31:00, effort 6" in cell
        assert reverse("log-for", args=[past.session_id]) in cell

    def test_a_session_gone_by_is_logged_and_not_dragged(self, desk, schedule):
        past, coming = ahead(schedule, 3, week=-1), ahead(schedule, 3)
        said = page(desk, schedule)
        for one, dragged in ((past, False), (coming, True)):
            cell = re.search(rf'<a class="[\w -]*" id="s-{one.session_id}".*?</a>', said)[0]
            assert ("draggable" in cell) is dragged

    def test_more_weeks_and_changes_take_as_many_queries(
        self, desk, coach, schedule, django_assert_max_num_queries
    ):
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        def asked(one):
            with CaptureQueriesContext(connection) as found:
                assert desk.get(reverse("athlete", args=[one.athlete_id])).status_code == 200
            return len(found)

        for weekday in (1, 3):
            write(desk, schedule, ahead(schedule, weekday), text="5 km easy")
        longer = scheduled(AthleteFactory(), weeks=12)
        coaches(coach, longer.athlete)
        for weekday in (1, 3, 5, 6):
            for week in (1, 2, 3):
                write(desk, longer, ahead(longer, weekday, week), text="5 km easy")
        asked(schedule)
        assert asked(longer) == asked(schedule)


def logged(one, **values):
    from uuid import uuid4

    return {"entry_id": uuid4(), "seen": "", "day": one.day.isoformat(), "note": "", **values}


class TestForm:
    def test_it_shows_what_stands_and_what_the_rails_say(self, desk, schedule):
        one = ahead(schedule, 6)
        said = text(desk.get(reverse("season-session", args=[schedule.pk, one.session_id])))
        assert 'value="long run 14 km"' in said
        assert "No guard rail is broken by it." in said

    def test_a_look_tells_what_was_understood_and_what_it_breaks(self, desk, schedule):
        one = ahead(schedule, 6)
        said = text(write(desk, schedule, one, text="long run 24 km", do="look", headers=HTMX))
        assert "Long run 24 km" in said
        assert "long run 24 km after 14 km at most in the 30 days before is 71 % longer" in said
        assert re.search(r"Its week: <b>\d+ km</b> instead of \d+ km", said)
        assert not SeasonDraft.objects.exists()

    def test_a_look_at_what_can_not_be_read_points_at_it(self, desk, schedule):
        said = text(
            write(desk, schedule, ahead(schedule, 3), text="6 x 3 min @ 11K", do="look", headers=HTMX)
        )
        assert "<mark>@ 11K</mark>" in said
        assert "Its week" not in said

    def test_saving_puts_it_into_the_draft(self, desk, schedule):
        one = ahead(schedule, 6)
        answer = write(desk, schedule, one, text="long run 12 km", purpose="Shorter, you fly.")
        assert answer.status_code == 302
        assert answer["Location"].endswith(f"#s-{one.session_id}")
        said = page(desk, schedule)
        assert "1 change not sent yet" in said
        assert "Long run 12 km instead of Long run 14 km" in said
        schedule.refresh_from_db()
        assert schedule.current_version == 1

    def test_htmx_gets_the_draft_and_the_weeks_that_changed(self, desk, schedule):
        answer = write(desk, schedule, ahead(schedule, 6), text="long run 12 km", headers=HTMX)
        said = answer.content.decode()
        assert (answer["HX-Retarget"], answer["HX-Reswap"]) == ("#draft", "outerHTML")
        assert '<div id="draft"' in said
        # The draft, and the one week that looks different now.
        assert said.count('hx-swap-oob="true"') == said.count('class="board-week') == 1
        assert "Long run 12 km" in said

    def test_a_week_whose_rails_speak_differently_comes_along(self, desk, schedule):
        # 24 km after 14 km, and in the week after it the plan falls back to what it was: only the first is told.
        answer = write(desk, schedule, ahead(schedule, 6), text="long run 24 km", headers=HTMX)
        weeks = re.findall(r'id="week-(\d+)"', answer.content.decode())
        assert weeks == ["3"]
        assert "71 % longer" in answer.content.decode()

    def test_what_re_balancing_would_do_next_is_asked_apart(self, desk, schedule):
        write(desk, schedule, ahead(schedule, 6), text="long run 12 km")
        said = text(desk.get(reverse("season-follows", args=[schedule.pk])))
        assert "Once sent, re-balancing would" in said

    def test_words_typed_for_the_athlete_come_along_with_every_change(self, desk, schedule):
        write(desk, schedule, ahead(schedule, 6), text="long run 12 km", words="You fly.")
        assert 'value="You fly."' in page(desk, schedule)
        move(desk, schedule, ahead(schedule, 3), ahead(schedule, 3).day + timedelta(1))
        assert 'value="You fly."' in page(desk, schedule)

    @pytest.mark.parametrize(
        ("values", "said"),
        [
            ({"text": ""}, "Write the session as on the board"),
            ({"text": "6 x 3 min @ 11K"}, "character"),
            ({"text": "x" * 500}, "at most"),
            ({"day": "nonsense"}, "Enter a valid date"),
            ({"day": "2020-01-01"}, "Choose a day from"),
            ({"role": "nothing"}, "Select a valid choice"),
            ({}, "Nothing was changed."),
        ],
    )
    def test_what_is_wrong_is_said_and_kept(self, desk, schedule, values, said):
        one = ahead(schedule, 3)
        answer = write(desk, schedule, one, **values)
        assert answer.status_code == 422
        assert said in text(answer)
        if values.get("text"):
            assert values["text"] in answer.content.decode()
        assert not SeasonDraft.objects.exists()

    def test_a_session_more_is_a_second_one_on_its_day(self, desk, schedule):
        one = ahead(schedule, 3)
        new = reverse("season-session-new", args=[schedule.pk])
        assert one.day.isoformat() in text(desk.get(f"{new}?day={one.day}"))
        sent = typed(schedule, one, text="30 min easy")
        assert desk.post(new, sent).status_code == 302
        send(desk, schedule)
        there = [i for i in live(schedule) if i.day == one.day]
        assert [(i.slot, i.steps) for i in there] == [(0, "8 km easy"), (1, "30 min easy")]

    def test_a_missed_session_is_written_again_on_another_day(self, desk, schedule):
        past = ahead(schedule, 1, week=-1)
        said = text(desk.get(f"{reverse('season-session-new', args=[schedule.pk])}?like={past.session_id}"))
        assert "5 x 3 min @ 10K, 2 min jog" in said

    def test_a_session_that_is_not_of_this_season(self, desk, schedule):
        other = ahead(scheduled(AthleteFactory()), 3)
        assert desk.get(reverse("season-session", args=[schedule.pk, other.session_id])).status_code == 404

    @pytest.mark.parametrize("do", ["out", "pin"])
    def test_take_out_and_pin(self, desk, schedule, do):
        one = ahead(schedule, 3)
        address = reverse("season-session", args=[schedule.pk, one.session_id])
        assert desk.post(address, {"base": base(schedule), "do": do}).status_code == 302
        send(desk, schedule)
        now = SessionIssue.objects.get(session=one.session_id, to_version=None)
        assert (now.removed, now.pinned_by_id is not None) == (do == "out", True)
        back = {"out": "back", "pin": "unpin"}[do]
        assert desk.post(address, {"base": base(schedule), "do": back}).status_code == 302
        send(desk, schedule)
        now = SessionIssue.objects.get(session=one.session_id, to_version=None)
        assert (now.removed, now.planned_mm, now.pinned_by_id is not None) == (
            False,
            one.planned_mm,
            do == "out",
        )


class TestMove:
    def test_by_a_plain_button(self, desk, schedule):
        one = ahead(schedule, 3)
        assert move(desk, schedule, one, one.day + timedelta(1)).status_code == 302
        assert "1 change not sent yet" in page(desk, schedule)

    def test_by_week_and_day_as_a_drag_sends_it(self, desk, schedule):
        one = ahead(schedule, 3)
        sent = {"base": base(schedule), "key": one.session_id, "week": "3", "day": "4"}
        assert desk.post(reverse("season-move", args=[schedule.pk]), sent).status_code == 302
        send(desk, schedule)
        now = SessionIssue.objects.get(session=one.session_id, to_version=None)
        assert now.day == one.day + timedelta(1)

    def test_weeks_that_begin_on_sunday_in_miles(self, desk, coach):
        Practice.objects.update_or_create(id=1, defaults={"name": "Ours", "week_starts": 6, "units": "mi"})
        one = scheduled(AthleteFactory(units="mi"), weeks=6)
        coaches(coach, one.athlete)
        said = page(desk, one)
        heads = re.findall(r'<span role="columnheader">(\w+)</span>', said)
        names = ["Week", "Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"]
        assert heads == 3 * names  # gone by, near, ahead
        assert re.search(r"<b>\d+ mi</b>", said)
        easy, first = ahead(one, 3), one.weeks.earliest("first_day").first_day
        assert first.weekday() == 6
        sent = {"base": base(one), "key": easy.session_id, "week": "4", "day": "0"}
        assert desk.post(reverse("season-move", args=[one.pk]), sent).status_code == 302
        send(desk, one)
        assert SessionIssue.objects.get(session=easy.session_id, to_version=None).day == first + timedelta(21)

    @pytest.mark.parametrize(
        "wrong", [{"key": "nobody"}, {"to": "x"}, {"to": "2020-01-01"}, {"to": "2090-01-01"}]
    )
    def test_to_nowhere(self, desk, schedule, wrong):
        one = ahead(schedule, 3)
        answer = move(desk, schedule, one, one.day + timedelta(1), **wrong)
        assert answer.status_code == 422
        assert not SeasonDraft.objects.exists()

    @pytest.mark.parametrize("values", [{"week": "0"}, {"week": "99"}, {"day": "7"}, {"week": "x"}])
    def test_to_no_cell(self, desk, schedule, values):
        one = ahead(schedule, 3)
        sent = {"base": base(schedule), "key": one.session_id, "week": "3", "day": "4", **values}
        assert desk.post(reverse("season-move", args=[schedule.pk]), sent).status_code == 422


class TestSend:
    def test_the_athlete_reads_one_sentence(self, desk, client, schedule):
        easy, long = ahead(schedule, 3), ahead(schedule, 6)
        move(desk, schedule, easy, easy.day + timedelta(1))
        write(desk, schedule, long, text="long run 12 km")
        answer = send(desk, schedule, words="You fly on Friday.")
        assert answer.status_code == 302
        said = page(desk, schedule)
        assert "Issued as version 2, and Bea Lindqvist is told once." in said
        assert "not sent yet" not in said
        client.force_login(schedule.athlete.user)
        phone = text(client.get(reverse("today")))
        assert phone.count("You fly on Friday.") == 1
        assert "Marta Quill changed it" in phone

    def test_undone_from_the_page(self, desk, schedule):
        long = ahead(schedule, 6)
        write(desk, schedule, long, text="long run 12 km")
        send(desk, schedule)
        assert "Undo version 2" in page(desk, schedule)
        desk.post(reverse("version-undo", args=[schedule.pk, 2]))
        assert SessionIssue.objects.get(session=long.session_id, to_version=None).steps == "long run 14 km"

    def test_undo_takes_back_the_last_step(self, desk, schedule):
        write(desk, schedule, ahead(schedule, 6), text="long run 12 km")
        write(desk, schedule, ahead(schedule, 3), text="5 km easy")
        undo = reverse("season-undo", args=[schedule.pk])
        assert desk.post(undo, {"base": base(schedule)}).status_code == 302
        assert "1 change not sent yet" in page(desk, schedule)
        assert desk.post(undo, {"base": base(schedule)}).status_code == 302
        assert desk.post(undo, {"base": base(schedule)}).status_code == 422

    def test_drop(self, desk, schedule):
        write(desk, schedule, ahead(schedule, 6), text="long run 12 km")
        assert (
            desk.post(reverse("season-drop", args=[schedule.pk]), {"base": base(schedule)}).status_code == 302
        )
        assert "not sent yet" not in page(desk, schedule)
        assert (
            desk.post(reverse("season-drop", args=[schedule.pk]), {"base": base(schedule)}).status_code == 422
        )

    def test_the_roster_reminds_of_what_was_not_sent(self, desk, client, schedule):
        write(desk, schedule, ahead(schedule, 6), text="long run 12 km")
        said = text(desk.get(reverse("roster")))
        assert re.search(r"Changed and not sent yet: <a[^>]*>Bea Lindqvist</a> \(1 change\)", said)
        other = CoachFactory(is_head=True)
        client.force_login(other.user)
        assert "not sent yet" not in text(client.get(reverse("roster")))

    def test_nothing_to_send(self, desk, schedule):
        assert send(desk, schedule).status_code == 422

    def test_a_paused_schedule_is_told(self, desk, schedule):
        write(desk, schedule, ahead(schedule, 6), text="long run 12 km")
        sent = {"base": base(schedule), "words": ""}
        Schedule.objects.update(state="paused")
        answer = desk.post(reverse("season-send", args=[schedule.pk]), sent, follow=True)
        assert "This schedule is paused; nothing of it was changed." in text(answer)
        assert Schedule.objects.get().current_version == 1


class TestOthers:
    """Somebody else was quicker: told, nothing overwritten, what was typed kept."""

    def rebalanced(self, schedule, one):
        values = {**Content.of(one).__dict__, "steps": "5 km easy", "planned_mm": 5_000_000}
        issue(
            Schedule.objects.get(pk=schedule.pk),
            1,
            {one.session_id: Content(**values)},
            by=None,
            cause="Re-balanced: a cold",
        )

    def test_a_re_balancing_between_form_and_save(self, desk, schedule):
        one = ahead(schedule, 3)
        sent = typed(schedule, one, text="9 km easy")
        self.rebalanced(schedule, one)
        answer = desk.post(reverse("season-session", args=[schedule.pk, one.session_id]), sent)
        said = text(answer)
        assert answer.status_code == 409
        assert "Version 2 was issued meanwhile (Re-balanced: a cold). What you typed is kept" in said
        assert 'value="9 km easy"' in said
        assert not SeasonDraft.objects.exists()
        again = {**sent, "base": re.search(r'name="base" value="([\d.]+)"', said)[1]}
        assert (
            desk.post(reverse("season-session", args=[schedule.pk, one.session_id]), again).status_code == 302
        )

    def test_a_re_balancing_between_draft_and_sending(self, desk, schedule):
        one = ahead(schedule, 3)
        write(desk, schedule, one, text="9 km easy")
        sent = {"base": base(schedule), "words": "Feels better?"}
        self.rebalanced(schedule, one)
        answer = desk.post(reverse("season-send", args=[schedule.pk]), sent)
        said = text(answer)
        assert answer.status_code == 409
        assert "Nothing was sent. Look at it again." in said
        assert 'value="Feels better?"' in said
        assert "issued since you changed it: 5 km easy" in said
        assert SessionIssue.objects.get(session=one.session_id, to_version=None).steps == "5 km easy"
        assert send(desk, schedule).status_code == 302
        assert SessionIssue.objects.get(session=one.session_id, to_version=None).steps == "9 km easy"

    def test_two_coaches_at_once(self, desk, client, schedule):
        one, other = ahead(schedule, 3), CoachFactory(user__name="Rosa Field")
        coaches(other, schedule.athlete)
        write(desk, schedule, one, text="9 km easy")
        client.force_login(other.user)
        assert "Marta Quill has changes to this season that are not sent yet." in page(client, schedule)
        season = editing.open_season(
            Schedule.objects.select_related("athlete", "race_entry__race").get(pk=schedule.pk), other
        )
        assert season.steps == ()

    def test_two_windows_of_one_coach(self, desk, schedule):
        easy, long = ahead(schedule, 3), ahead(schedule, 6)
        sent = typed(schedule, long, text="long run 12 km")
        write(desk, schedule, easy, text="5 km easy")
        answer = desk.post(reverse("season-session", args=[schedule.pk, long.session_id]), sent)
        assert answer.status_code == 409
        assert "changed in another window" in text(answer)
        undo = desk.post(reverse("season-undo", args=[schedule.pk]), {"base": sent["base"]})
        assert undo.status_code == 409
        assert len(SeasonDraft.objects.get().steps) == 1
