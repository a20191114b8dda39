"""The profile: what I say about myself, my days with the job they cause, what is kept, leaving and erasing."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import timedelta
from typing import Any

import pytest
from django.apps import apps
from django.db import models
from django.test import Client
from django.utils import timezone

from athletes.models import Athlete, HealthNote, NoteReading, User
from coaching import privacy
from coaching.models import Erasure
from plans import saying
from plans.assigning import week_starts_of
from plans.models import HandoutBatch, Job, Race, Schedule, Template
from tests.factories import AthleteFactory, CoachFactory, UserFactory, coaches

pytestmark = pytest.mark.django_db

ABOUT: dict[str, Any] = {
    "name": "Bea Lindqvist",
    "units": "mi",
    "time_zone": "America/Halifax",
    "week_starts": "6",
    "born": "1988-02-29",
    "guardian": "",
    "resting_rate": "48",
    "maximum_rate": "186",
    "goal_words": "Under four hours",
    "auto_small": "on",
}
DAYS = {"mon": 0, "tue": 45, "wed": 0, "thu": 60, "fri": 0, "sat": 0, "sun": 180}


@pytest.fixture
def bea(schedule: Schedule) -> Athlete:
    return schedule.athlete


def test_it_shows_the_way_to_everything(phone: Client, bea: Athlete) -> None:
    page = phone.get("/me/profile/").content.decode()
    for path in ("about", "days", "calendar", "data"):
        assert f'href="/me/profile/{path}/"' in page
    assert 'href="/account/"' in page


def test_about_me_is_kept(phone: Client, bea: Athlete) -> None:
    assert phone.post("/me/profile/about/", ABOUT).status_code == 302
    bea.refresh_from_db()
    assert (
        bea.units,
        bea.time_zone,
        bea.week_starts,
        bea.resting_rate,
        bea.maximum_rate,
        bea.auto_small,
    ) == (
        "mi",
        "America/Halifax",
        6,
        48,
        186,
        True,
    )
    page = phone.get("/me/profile/about/").content.decode()
    assert 'value="1988-02-29"' in page
    assert '<option value="6" selected>Sunday' in page


def test_my_week_counts_for_the_next_schedule_not_the_running_one(phone: Client, bea: Athlete) -> None:
    phone.post("/me/profile/about/", ABOUT)
    bea.refresh_from_db()
    assert week_starts_of(bea) == 6
    assert Schedule.objects.get().week_starts == 0
    phone.post("/me/profile/about/", {**ABOUT, "week_starts": ""})
    bea.refresh_from_db()
    assert week_starts_of(bea) == 0


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("name", ""),
        ("units", "ells"),
        ("time_zone", "Nowhere"),
        ("week_starts", "7"),
        ("born", "2098-01-01"),
        ("resting_rate", "12"),
        ("maximum_rate", "400"),
        ("maximum_rate", "80"),
        ("goal_words", "x" * 201),
    ],
)
def test_what_will_not_do(phone: Client, bea: Athlete, field: str, typed: str) -> None:
    answer = phone.post("/me/profile/about/", {**ABOUT, field: typed})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert "Under four hours" in answer.content.decode() or field == "goal_words"
    assert Athlete.objects.get().units == "km"


def test_the_highest_heart_rate_lies_well_over_the_resting_one(phone: Client) -> None:
    answer = phone.post("/me/profile/about/", {**ABOUT, "resting_rate": "90", "maximum_rate": "120"})
    assert list(answer.context["form"].errors) == ["maximum_rate"]


def test_new_free_days_write_the_job_in_the_same_breath(phone: Client, bea: Athlete) -> None:
    Job.objects.all().delete()
    assert phone.post("/me/profile/days/", DAYS).status_code == 302
    newest = bea.availabilities.last()
    assert newest is not None
    assert (newest.minutes(), newest.valid_from) == ((0, 45, 0, 60, 0, 0, 180), bea.today())
    assert Job.objects.filter(kind="rebalance", athlete=bea, state="waiting").count() == 1
    # What was free before today stays as it was.
    assert bea.availabilities.first() != newest


def test_the_same_days_again_write_nothing(phone: Client, bea: Athlete) -> None:
    phone.post("/me/profile/days/", DAYS)
    Job.objects.all().delete()
    rows = bea.availabilities.count()
    phone.post("/me/profile/days/", DAYS)
    assert (bea.availabilities.count(), Job.objects.count()) == (rows, 0)


def test_a_job_that_cannot_be_written_keeps_the_days_as_they_were(
    phone: Client, bea: Athlete, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(athlete: Athlete) -> None:
        raise RuntimeError("no room")

    monkeypatch.setattr("plans.freeing.queue_rebalance", broken)
    with pytest.raises(RuntimeError):
        phone.post("/me/profile/days/", DAYS)
    assert bea.availabilities.count() == 1


def test_a_coach_who_reads_a_health_note_is_written_down_once_a_day(phone: Client, bea: Athlete) -> None:
    coach = CoachFactory(user=UserFactory(name="Marta Quill"))
    coaches(coach, bea)
    HealthNote.objects.create(athlete=bea, kind="easy", cause="pain", words="left shin", opened=bea.today())
    desk = Client()
    desk.force_login(coach.user)
    for _ in range(2):
        assert "left shin" in desk.get(f"/desk/athletes/{bea.pk}/").content.decode()
    desk.get("/desk/")
    reading = NoteReading.objects.get()
    assert (reading.reader_name, reading.day) == ("Marta Quill", timezone.now().date())
    page = phone.get("/me/profile/data/").content.decode()
    assert "Marta Quill" in page
    # My own look at it is no reading.
    phone.get("/me/")
    assert NoteReading.objects.count() == 1
    # The name stays when the account goes.
    coach.user.delete()
    assert "Marta Quill" in phone.get("/me/profile/data/").content.decode()


def unzipped(answer: Any) -> tuple[dict[str, Any], str]:
    file = zipfile.ZipFile(io.BytesIO(answer.content))
    assert sorted(file.namelist()) == ["everything.json", "read-me.html"]
    return json.loads(file.read("everything.json")), file.read("read-me.html").decode()


def test_everything_as_a_file(phone: Client, bea: Athlete) -> None:
    HealthNote.objects.create(athlete=bea, kind="easy", cause="pain", words="left <shin>", opened=bea.today())
    saying.say(bea, "Well run.", by=CoachFactory().user, by_coach=True)
    answer = phone.get("/me/profile/data/file/")
    assert answer["Content-Type"] == "application/zip"
    whole, page = unzipped(answer)
    tables = whole["tables"]
    assert whole["format"] == 1
    assert tables["athletes.HealthNote"][0]["words"] == "left <shin>"
    assert "left &lt;shin&gt;" in page
    assert "Well run." in page
    assert len(tables["plans.SessionIssue"]) == bea.schedules.get().issues.count()
    assert tables["athletes.User"][0]["email"] == bea.user.email  # type: ignore[union-attr]
    text = json.dumps(whole)
    for secret in ("argon2", "token_hash", "nonce", "session_key", "password"):
        assert secret not in text


def test_nothing_of_another_athlete_is_in_the_file(phone: Client, bea: Athlete) -> None:
    other = AthleteFactory(name="Someone Else")
    HealthNote.objects.create(
        athlete=other, kind="easy", cause="ill", words="private cold", opened=bea.today()
    )
    assert "private cold" not in json.dumps(unzipped(phone.get("/me/profile/data/file/"))[0])


def test_every_table_that_names_an_athlete_is_reached() -> None:
    """A new table can't be forgotten: what points at an athlete goes with the athlete."""
    pointing = [
        (model._meta.label, field.name)
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey) and field.related_model in (Athlete,)
    ]
    left = [
        (label, name)
        for label, name in pointing
        if apps.get_model(label)._meta.get_field(name).remote_field.on_delete is not models.CASCADE  # type: ignore[union-attr]
    ]
    assert len(pointing) > 15
    assert left == []


def test_leaving_ends_the_schedule_and_keeps_the_rows(phone: Client, bea: Athlete) -> None:
    assert phone.post("/me/profile/data/leave/", {"leave-word": " Leave "}).status_code == 302
    bea.refresh_from_db()
    assert bea.left_on == bea.today()
    assert bea.schedules.get().state == "ended"
    assert bea.schedules.get().issues.exists()


@pytest.mark.parametrize(("path", "field"), [("leave", "leave-word"), ("erase", "erase-word")])
@pytest.mark.parametrize("word", ["", "yes", "x" * 81])
def test_a_slip_of_the_thumb_does_nothing(
    phone: Client, bea: Athlete, path: str, field: str, word: str
) -> None:
    assert phone.post(f"/me/profile/data/{path}/", {field: word}).status_code == 422
    assert Athlete.objects.filter(left_on=None).count() == 1
    assert phone.get(f"/me/profile/data/{path}/").status_code == 405


def test_erased_for_good(
    phone: Client, bea: Athlete, django_capture_on_commit_callbacks: Any, settings: Any
) -> None:
    HealthNote.objects.create(
        athlete=bea,
        kind="easy",
        cause="pain",
        words="left shin",
        opened=bea.today(),
        closed=bea.today(),
        closed_by_name="Marta",
    )
    coach = CoachFactory()
    batch = HandoutBatch.objects.create(
        coach=coach, first_day=bea.today(), made_at=timezone.now(), file="erase-test.pdf"
    )
    batch.athletes.add(bea)
    settings.MADE_DIR.mkdir(parents=True, exist_ok=True)
    (settings.MADE_DIR / "erase-test.pdf").write_bytes(b"%PDF")
    user, pk = bea.user_id, bea.pk
    kept = Template.objects.count(), Race.objects.count()
    with django_capture_on_commit_callbacks(execute=True):
        answer = phone.post("/me/profile/data/erase/", {"erase-word": "erase me"})
    assert "Everything about you is erased" in answer.content.decode()
    assert not Athlete.objects.filter(pk=pk).exists()
    assert not User.objects.filter(pk=user).exists()
    assert phone.get("/me/").status_code == 302
    for model in apps.get_models():
        for field in model._meta.get_fields():
            if isinstance(field, models.ForeignKey) and field.related_model is Athlete:
                assert not model._default_manager.filter(**{field.name: pk}).exists(), model
    assert not Schedule.objects.exists()
    assert not HandoutBatch.objects.exists()
    assert not (settings.MADE_DIR / "erase-test.pdf").exists()
    assert (Template.objects.count(), Race.objects.count()) == kept
    left = Erasure.objects.get()
    assert (left.by_name, left.rows > 10) == ("the athlete", True)


def test_a_coach_who_runs_keeps_the_account(bea: Athlete) -> None:
    CoachFactory(user=bea.user)
    client = Client()
    client.force_login(bea.user)
    client.post("/me/profile/data/erase/", {"erase-word": "erase me"})
    assert not Athlete.objects.exists()
    assert client.get("/desk/").status_code == 200


def test_the_coachs_name_stays_under_what_they_signed(bea: Athlete) -> None:
    """An athlete who coaches others leaves; what they signed for others keeps their name."""
    other = AthleteFactory()
    note = HealthNote.objects.create(
        athlete=other,
        kind="easy",
        cause="ill",
        opened=bea.today() - timedelta(3),
        closed=bea.today(),
        closed_by=bea.user,
        closed_by_name="Bea Lindqvist",
    )
    privacy.erase(bea, by_name="x")
    note.refresh_from_db()
    assert (note.closed_by, note.closed_by_name) == (None, "Bea Lindqvist")


@pytest.mark.parametrize(
    "path", ["", "about/", "days/", "calendar/", "data/", "data/file/", "data/leave/", "data/erase/"]
)
def test_only_the_athlete_gets_in(path: str) -> None:
    assert Client().get(f"/me/profile/{path}").status_code in (302, 405)
    client = Client()
    client.force_login(CoachFactory().user)
    assert client.get(f"/me/profile/{path}").status_code in (404, 405)
    assert client.post(f"/me/profile/{path}").status_code in (404, 405)
