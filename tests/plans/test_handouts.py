"""Batches of handouts: what stands on the pages, stopped and started again, made once, put together, cleaned up."""

from __future__ import annotations

import io
import os
import re
import subprocess
import zipfile
from datetime import UTC, date, datetime, timedelta
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from pypdf import PdfReader

from athletes.models import Athlete, Coach, Group, Membership, Practice
from coaching.mailing import compose
from coaching.models import Delivery
from coaching.race_paper import race_pdf
from plans import handouts, jobs, meeting
from plans.handout_contents import page_of, pages_of, running
from plans.handouts import due_week, make_page, start_batch, with_week, write_sunday
from plans.models import Handout, HandoutBatch, Job, Message, Schedule
from plans.racing import race_day
from plans.reading import week_of
from plans.sheets import group_sheet, season_sheet, session_sheet
from plans.tasks import sweep
from tests.factories import AthleteFactory, CoachFactory, coaches, scheduled
from tests.plans.test_paper import fonts, grey

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Path) -> None:
    settings.MADE_DIR = tmp_path


@pytest.fixture
def coach() -> Coach:
    return CoachFactory()


def monday() -> date:
    return week_of(timezone.localdate(), 0)


def club(coach: Coach, *names: str) -> list[Schedule]:
    made = []
    for name in names:
        schedule = scheduled(AthleteFactory(name=name))
        coaches(coach, schedule.athlete)
        made.append(schedule)
    return made


def batch_of(coach: Coach, schedules: list[Schedule], **how: Any) -> HandoutBatch:
    return start_batch(coach, [s.athlete for s in schedules], monday(), None, **how)


def run(batch: HandoutBatch) -> HandoutBatch:
    job = Job.objects.get(kind="handouts", key=str(batch.pk))
    Job.objects.filter(pk=job.pk).update(not_before=timezone.now())
    jobs.run(job.pk)
    batch.refresh_from_db()
    return batch


def reader(path: Path) -> PdfReader:
    return PdfReader(io.BytesIO(path.read_bytes()))


def words(path: Path) -> str:
    return " ".join(" ".join(page.extract_text() for page in reader(path).pages).split())


def test_it_works(coach: Coach, tmp_path: Path) -> None:
    batch = run(batch_of(coach, club(coach, "Zoe", "Ada", "Mia")))
    assert (batch.pages, batch.made_anew) == (3, 3)
    read = reader(tmp_path / batch.file)
    assert [page.extract_text()[:3] for page in read.pages] == ["Ada", "Mia", "Zoe"]
    assert [one.title for one in read.outline] == ["Ada", "Mia", "Zoe"]
    assert Job.objects.get(kind="handouts").state == "done"


def test_a_session_in_plain_words_with_own_paces(coach: Coach) -> None:
    page = page_of(club(coach, "Ada")[0], monday())
    assert page is not None
    row = next(day for day in page.days if day.title == "5 × 3 min at 10K pace")
    assert row.details == (
        "2 km easy, warm-up",
        "5 × 3 min at 10K pace, 2 min jog between",
        "2 km easy, cool-down",
    )
    # 10 km in 48:00 is 4:48 a km; the card gives 1 % to each side: 4:45 to 4:51.
    assert row.pace == "4:45–4:51/km"


def test_by_group_then_name(coach: Coach, tmp_path: Path) -> None:
    schedules = club(coach, "Ada", "Bea", "Cleo")
    for name, group in (("Ada", "Second"), ("Bea", "First"), ("Cleo", "Second")):
        athlete = next(s.athlete for s in schedules if s.athlete.name == name)
        Membership.objects.create(group=Group.objects.get_or_create(name=group)[0], athlete=athlete)
    batch = run(batch_of(coach, schedules))
    assert [one.title for one in reader(tmp_path / batch.file).outline] == ["Bea", "Ada", "Cleo"]


def test_a_file_each_in_a_zip(coach: Coach, tmp_path: Path) -> None:
    schedules = club(coach, "Ada", "Ada", "Ol/ga: “../x”")
    Membership.objects.create(group=Group.objects.create(name="Half"), athlete=schedules[0].athlete)
    batch = run(batch_of(coach, schedules, shape="each"))
    with zipfile.ZipFile(tmp_path / batch.file) as archive:
        assert sorted(archive.namelist()) == [
            "Ada.pdf",
            "Half/Ada.pdf",
            "Ol ga  “   x”.pdf".replace("   x", ".. x"),
        ]
        one = PdfReader(io.BytesIO(archive.read("Half/Ada.pdf")))
    assert one.trailer["/Root"]["/MarkInfo"]["/Marked"]


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the pages rendered."""
    made: list[str] = []
    real = handouts.pdf_of

    def pdf_of(page: Any, **how: Any) -> bytes:
        made.append(page.name)
        return real(page, **how)

    monkeypatch.setattr(handouts, "pdf_of", pdf_of)
    return made


def test_stopped_in_the_middle_it_goes_on_where_it_was(
    coach: Coach, counted: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    batch = batch_of(coach, club(coach, "Ada", "Bea", "Cleo", "Dora", "Ella"))
    real = handouts.write

    def power_cut(name: str, content: bytes) -> Path:
        if len(counted) == 3:
            raise OSError("the lights went out")
        return real(name, content)

    monkeypatch.setattr(handouts, "write", power_cut)
    run(batch)
    job = Job.objects.get(kind="handouts")
    assert (job.state, job.done_count, job.total) == ("waiting", 2, 5)
    assert "the lights went out" in job.error
    monkeypatch.setattr(handouts, "write", real)
    counted.clear()
    batch = run(batch)
    assert counted == ["Cleo", "Dora", "Ella"]
    assert (batch.pages, batch.made_anew) == (5, 3)


def test_two_who_write_the_same_page_at_once_both_have_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An athlete opens the page while the batch makes it: one has written all of it and not yet named it."""
    real, met = Path.replace, []

    def replace(partial: Path, path: Path) -> Path:
        met.append(partial)
        if len(met) == 1:
            handouts.write("one.pdf", b"the whole of it")
        return real(partial, path)

    monkeypatch.setattr(Path, "replace", replace)
    path = handouts.write("one.pdf", b"the whole of it")
    assert path.read_bytes() == b"the whole of it"
    assert list((tmp_path / "handouts").iterdir()) == [path]
    assert len(met) == 2


def test_two_workers_with_one_batch_tell_of_it_once(coach: Coach, monkeypatch: pytest.MonkeyPatch) -> None:
    batch = batch_of(coach, club(coach, "Ada", "Bea"), scheduled=True)
    job, real = Job.objects.get(kind="handouts"), handouts.together

    def together(one: HandoutBatch, made: Any) -> Path:
        monkeypatch.setattr(handouts, "together", real)
        handouts.make_batch(job)  # the other worker overtakes, and its mail goes out
        Job.objects.filter(kind="handout-mail").update(state="done", finished_at=timezone.now())
        return real(one, made)

    monkeypatch.setattr(handouts, "together", together)
    handouts.make_batch(job)
    assert Job.objects.filter(kind="handout-mail").count() == 1
    batch.refresh_from_db()
    assert batch.pages == 2


def test_what_a_killed_worker_left_half_written_goes_after_a_day(tmp_path: Path) -> None:
    (tmp_path / "handouts").mkdir()
    old, new = (tmp_path / "handouts" / f".{name}.part" for name in ("old", "new"))
    old.write_bytes(b"half")
    new.write_bytes(b"half")
    yesterday = timezone.now().timestamp() - 90_000
    os.utime(old, (yesterday, yesterday))
    handouts.forget_old_batches()
    assert list((tmp_path / "handouts").iterdir()) == [new]


def test_only_pages_whose_content_changed_are_made_again(coach: Coach, counted: list[str]) -> None:
    schedules = club(coach, "Ada", "Bea", "Cleo")
    first = run(batch_of(coach, schedules))
    counted.clear()
    again = run(batch_of(coach, schedules))
    assert (counted, again.made_anew, again.file) == ([], 0, first.file)
    ada, bea, _ = (one.athlete for one in schedules)
    said = {"author_name": "Mara", "by_coach": True, "words": "New shoes.", "at": timezone.now()}
    Message.objects.create(athlete=ada, **said)  # for the phone alone
    Message.objects.create(athlete=bea, on_paper=True, **said)
    third = run(batch_of(coach, schedules))
    assert (counted, third.made_anew) == (["Bea"], 1)
    assert third.file != first.file


def test_a_page_whose_file_is_gone_is_made_again(coach: Coach, counted: list[str], tmp_path: Path) -> None:
    schedules = club(coach, "Ada")
    run(batch_of(coach, schedules))
    for path in (tmp_path / "handouts").iterdir():
        path.unlink()
    assert run(batch_of(coach, schedules)).made_anew == 1
    assert counted == ["Ada", "Ada"]
    assert Handout.objects.count() == 1


def test_the_same_pages_are_the_same_bytes(coach: Coach, tmp_path: Path) -> None:
    schedules = club(coach, "Ada", "Bea")
    for shape in ("one", "each"):
        first = run(batch_of(coach, schedules, shape=shape))
        content = (tmp_path / first.file).read_bytes()
        for path in (tmp_path / "handouts").iterdir():
            path.unlink()
        assert (tmp_path / run(batch_of(coach, schedules, shape=shape)).file).read_bytes() == content


def test_many_athletes_cost_as_many_queries_as_two(coach: Coach) -> None:
    schedules = club(coach, *(f"Athlete {n}" for n in range(8)))
    counts = []
    for some in (schedules[:2], schedules):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            pages = pages_of(running([s.athlete for s in some]), monday())
        assert len(pages) == len(some)
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 13


def test_nobody_with_that_week_fails_with_a_sentence(coach: Coach) -> None:
    batch = start_batch(coach, [AthleteFactory()], monday(), None)
    run(batch)
    assert "None of these athletes has a schedule" in Job.objects.get(kind="handouts").error


def test_an_athletes_own_page_is_tagged_and_made_once(coach: Coach, counted: list[str]) -> None:
    athlete = club(coach, "Ada")[0].athlete
    path = make_page(athlete, monday())
    assert path is not None
    assert make_page(athlete, monday()) == path
    assert counted == ["Ada"]
    assert reader(path).trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert "Ada" in words(path)
    assert make_page(athlete, monday() + timedelta(700)) is None


def test_old_batches_and_pages_are_cleaned_up(coach: Coach, tmp_path: Path) -> None:
    schedules = club(coach, "Ada")
    old, new = run(batch_of(coach, schedules)), run(batch_of(coach, schedules))
    assert old.file == new.file
    HandoutBatch.objects.filter(pk=old.pk).update(made_at=timezone.now() - timedelta(31))
    handouts.forget_old_batches()
    assert list(HandoutBatch.objects.all()) == [new]
    assert (tmp_path / new.file).exists()
    HandoutBatch.objects.update(made_at=timezone.now() - timedelta(31))
    Handout.objects.update(first_day=monday() - timedelta(200))
    handouts.forget_old_batches()
    assert list((tmp_path / "handouts").iterdir()) == []
    assert not Handout.objects.exists()


@pytest.mark.parametrize(
    ("now", "hour", "week"),
    [
        # Sunday 29 November 2026 in Lisbon (UTC+0): from 18:00 on, for Monday the 30th.
        (datetime(2026, 11, 29, 17, 59, tzinfo=UTC), 18, None),
        (datetime(2026, 11, 29, 18, 0, tzinfo=UTC), 18, date(2026, 11, 30)),
        (datetime(2026, 12, 1, 17, 59, tzinfo=UTC), 18, date(2026, 11, 30)),
        (datetime(2026, 12, 1, 18, 0, tzinfo=UTC), 18, None),
        (datetime(2026, 11, 29, 20, 0, tzinfo=UTC), None, None),
    ],
)
def test_sunday_at_the_practices_hour(now: datetime, hour: int | None, week: date | None) -> None:
    practice = Practice.get()
    practice.time_zone, practice.handout_hour = "Europe/Lisbon", hour
    assert due_week(now, practice) == week


def test_the_week_begins_on_the_practices_day_and_in_its_zone() -> None:
    practice = Practice.get()
    practice.time_zone, practice.handout_hour, practice.week_starts = "Pacific/Auckland", 18, 6
    # 18:30 on Sunday in Auckland (UTC+13) is 05:30 UTC; weeks begin on Sundays: the next one is a week later.
    assert due_week(datetime(2026, 11, 29, 5, 30, tzinfo=UTC), practice) == date(2026, 12, 6)


def test_the_sweep_writes_the_week_once_and_makes_a_batch_a_coach(coach: Coach) -> None:
    schedule = club(coach, "Ada")[0]
    CoachFactory()
    begin = schedule.first_day + timedelta(7)
    sunday = datetime.combine(begin - timedelta(1), datetime.min.time(), UTC) + timedelta(hours=19)
    with time_machine.travel(sunday, tick=False):
        for _ in range(3):
            write_sunday()
        assert Job.objects.filter(kind="handout-week").count() == 1
        for _ in range(3):
            sweep()
        batch = HandoutBatch.objects.get()
        assert (batch.coach, batch.first_day, batch.scheduled, batch.pages) == (coach, begin, True, 1)


def test_who_left_or_has_no_such_week_is_not_in_it(coach: Coach) -> None:
    here, gone, later = club(coach, "Here", "Gone", "Later")
    gone.athlete.left_on = timezone.localdate()
    gone.athlete.save()
    later.weeks.all().delete()
    everyone = type(here.athlete).objects.all()
    assert with_week(everyone, monday()) == [here.athlete]


def test_mail_goes_out_where_it_is_set_up(coach: Coach, settings: Any) -> None:
    schedule = club(coach, "Ada")[0]
    batch = run(batch_of(coach, [schedule], scheduled=True))
    job = Job.objects.get(kind="handout-mail", key=str(batch.pk))
    settings.EMAIL_HOST = "mail.example.org"
    for _ in range(2):
        Job.objects.filter(pk=job.pk).update(state="waiting", not_before=timezone.now())
        jobs.run(job.pk)
    assert schedule.athlete.user
    assert set(Delivery.objects.values_list("to", flat=True)) == {
        coach.user.email,
        schedule.athlete.user.email,
    }
    assert Delivery.objects.count() == 2
    for row in Delivery.objects.all():
        message = compose(row)
        assert settings.PUBLIC_URL in message.body
        assert message.subject.startswith("Handouts for " if row.to == coach.user.email else "Your week, ")


def test_without_mail_nothing_is_sent(coach: Coach, settings: Any) -> None:
    settings.EMAIL_HOST = ""
    batch = run(batch_of(coach, club(coach, "Ada"), scheduled=True))
    job = Job.objects.get(kind="handout-mail", key=str(batch.pk))
    jobs.run(job.pk)
    job.refresh_from_db()
    assert job.state == "done"
    assert not Delivery.objects.exists()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_sheets_stay_on_the_paper_and_are_kind_to_ink(coach: Coach, paper: str) -> None:
    Practice.objects.update_or_create(id=1, defaults={"name": "Our practice", "paper": paper})
    schedule = club(coach, "Ada")[0]
    day = schedule.first_day + timedelta(1)
    sheet = group_sheet("Half", [schedule.athlete], day)
    assert sheet
    for pdf in (sheet, season_sheet(schedule), race_pdf(race_day(schedule.race_entry))):
        assert all(fonts(pdf).values())
        for number in range(1, len(PdfReader(io.BytesIO(pdf)).pages) + 1):
            width, height, points = grey(pdf, number)
            rows = [points[y * width : (y + 1) * width] for y in range(height)]
            # 8 mm at each side, at 50 dots an inch.
            assert min(min(row[:16] + row[-16:]) for row in rows) == 255
            ink = sum(255 - point for point in points) / (255 * len(points))
            assert 0.001 < ink < 0.06


def test_whose_week_begins_on_another_day_gets_the_week_that_has_most_of_it(coach: Coach) -> None:
    """Weeks of the practice begin on Mondays, Ada's on Sundays: hers begins the day before."""
    ada = club(coach, "Ada")[0]
    Schedule.objects.update(week_starts=6)
    for week in ada.weeks.all():
        type(week).objects.filter(pk=week.pk).update(first_day=week.first_day - timedelta(1))
    batch = run(batch_of(coach, [ada]))
    assert batch.pages == 1
    page = page_of(Schedule.objects.get(), monday())
    assert page is not None
    sunday = monday() - timedelta(1)
    assert page.dates == handouts.span(sunday)
    assert page.days[0].date == f"Sun {sunday.day}"
    assert with_week(Athlete.objects.all(), monday()) == [ada.athlete]


@pytest.mark.parametrize(
    "wide", ["10 min easy; 8 x 1200 m between HM and 10K, 90 s jog", "6 x 800 m @ 10K, 90 s jog"]
)
def test_nothing_on_the_group_sheet_is_printed_over_something_else(
    coach: Coach, tmp_path: Path, wide: str
) -> None:
    schedule = club(coach, "Ada Longname-Featherstonehaugh")[0]
    Membership.objects.create(group=Group.objects.create(name="Half"), athlete=schedule.athlete)
    day = schedule.first_day + timedelta(1)
    one = meeting.make(Group.objects.get(), day, at=None, place="The track", steps=wide)
    sheet = session_sheet(one, Athlete.objects.all())
    assert sheet
    (tmp_path / "sheet.pdf").write_bytes(sheet)
    found = subprocess.run(
        ["pdftotext", "-bbox", tmp_path / "sheet.pdf", "-"], capture_output=True, check=True
    )
    boxes = [
        [float(n) for n in row]
        for row in re.findall(r'xMin="(\S+)" yMin="(\S+)" xMax="(\S+)" yMax="(\S+)"', found.stdout.decode())
    ]
    assert len(boxes) > 30
    for a, b in combinations(boxes, 2):
        across = min(a[2], b[2]) - max(a[0], b[0])
        down = min(a[3], b[3]) - max(a[1], b[1])
        # Lines stand close: the boxes of two lines may touch by a third of a letter.
        assert not (across > 1 and down > 5), (a, b)
