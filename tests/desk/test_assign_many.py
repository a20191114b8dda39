"""One template for a group: nothing is issued before the table was seen."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from athletes import screening
from athletes.carding import compute_card, store_card
from athletes.models import Athlete, Coach, Group, Membership
from plans import jobs
from plans.models import Assignment, AssignmentRow, Job, Schedule, Template
from tests.factories import (
    AthleteFactory,
    AvailabilityFactory,
    CoachFactory,
    ResultFactory,
    coaches,
    next_sunday,
    template_version,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def coach() -> Coach:
    return CoachFactory()


@pytest.fixture
def group(coach: Coach) -> Group:
    made = Group.objects.create(name="Marathon A")
    for name in ("Ada", "Ben", "Cem"):
        athlete = ready(coach, name)
        Membership.objects.create(group=made, athlete=athlete)
    return made


@pytest.fixture
def template() -> Template:
    return template_version(6).template


def ready(coach: Coach, name: str) -> Athlete:
    athlete = AthleteFactory(name=name)
    coaches(coach, athlete)
    AvailabilityFactory(athlete=athlete)
    result = ResultFactory(athlete=athlete)
    store_card(athlete, compute_card(athlete, [result]), result, result.day)
    screening.keep(athlete, {}, "", timezone.now())
    return athlete


def client_of(coach: Coach) -> Client:
    client = Client()
    client.force_login(coach.user)
    return client


def begin(coach: Coach, template: Template, **values: Any) -> Any:
    whole = {"race_name": "Saltmarsh Marathon", "race_day": next_sunday(5).isoformat(), **values}
    return client_of(coach).post(reverse("template-assign-many", args=[template.pk]), whole)


def work() -> None:
    for job in Job.objects.filter(kind="assign", state="waiting"):
        assert jobs.run(job.pk)


def test_two_steps(coach: Coach, template: Template, group: Group) -> None:
    answer = begin(coach, template, group=group.pk)
    made = Assignment.objects.get()
    assert answer["Location"] == reverse("assignment", args=[made.pk])
    assert not Schedule.objects.exists()
    work()
    assert list(made.rows.values_list("athlete__name", "state")) == [
        ("Ada", "ready"),
        ("Ben", "ready"),
        ("Cem", "ready"),
    ]
    assert not Schedule.objects.exists()
    page = client_of(coach).get(reverse("assignment", args=[made.pk])).content.decode()
    assert page.count("ready to issue") == 3
    rows = made.rows.filter(athlete__name__in=["Ada", "Cem"])
    client_of(coach).post(reverse("assignment", args=[made.pk]), {"row": [row.pk for row in rows]})
    work()
    assert sorted(Schedule.objects.values_list("athlete__name", flat=True)) == ["Ada", "Cem"]
    assert made.rows.get(athlete__name="Ben").state == "ready"
    assert Schedule.objects.first().race_entry.race.name == "Saltmarsh Marathon"


def test_progress_is_on_the_row(coach: Coach, template: Template, group: Group) -> None:
    begin(coach, template, group=group.pk)
    made = Assignment.objects.get()
    page = client_of(coach).get(reverse("assignment", args=[made.pk]), headers={"HX-Request": "true"})
    assert 'hx-trigger="every 700ms"' in page.content.decode()
    work()
    job = Job.objects.get(kind="assign")
    assert (job.done_count, job.total, job.state) == (3, 3, "done")
    page = client_of(coach).get(reverse("assignment", args=[made.pk]), headers={"HX-Request": "true"})
    assert "hx-trigger" not in page.content.decode()


def test_what_stands_in_the_way_is_told_for_each(coach: Coach, template: Template, group: Group) -> None:
    ada, ben, cem = Athlete.objects.order_by("name")
    ada.screenings.all().delete()
    ben.availabilities.all().delete()
    screening.keep(cem, {"symptoms": True}, "", timezone.now())
    begin(coach, template, group=group.pk)
    work()
    said = dict(AssignmentRow.objects.values_list("athlete__name", "said__refused"))
    assert said["Ada"].startswith("The health questions come first")
    assert said["Ben"] == "No free days are known."
    assert said["Cem"] == screening.CLINICIAN_FIRST


def test_another_answer_is_not_issued_unseen(coach: Coach, template: Template, group: Group) -> None:
    begin(coach, template, group=group.pk)
    work()
    made = Assignment.objects.get()
    row = made.rows.get(athlete__name="Ada")
    row.athlete.availabilities.update(tue=0, sun=90, wed=30)
    client_of(coach).post(reverse("assignment", args=[made.pk]), {"row": [row.pk]})
    work()
    row.refresh_from_db()
    assert row.state == "ready"
    assert row.said["again"] is True
    assert not Schedule.objects.exists()


def test_the_job_twice_issues_once(coach: Coach, template: Template, group: Group) -> None:
    from plans import assigning_many

    begin(coach, template, group=group.pk)
    work()
    made = Assignment.objects.get()
    row = made.rows.get(athlete__name="Ada")
    assigning_many.choose(made, [row.pk])
    row.refresh_from_db()
    assigning_many.issue(made, row)
    assigning_many.issue(made, row)
    assert Schedule.objects.filter(athlete=row.athlete).count() == 1


def test_what_can_be_wrong(coach: Coach, template: Template, group: Group) -> None:
    assert begin(coach, template).status_code == 422
    assert begin(coach, template, group=group.pk, race_day="2020-01-01").status_code == 422
    assert begin(coach, template, group="999").status_code == 422
    assert not Assignment.objects.exists()
    begin(coach, template, group=group.pk)
    made = Assignment.objects.get()
    answer = client_of(coach).post(
        reverse("assignment", args=[made.pk]), {"row": ["x", "99999999999999999999"]}
    )
    assert answer.status_code == 422


def test_only_ones_own_athletes(coach: Coach, template: Template, group: Group) -> None:
    other = CoachFactory()
    theirs = ready(other, "Dee")
    Membership.objects.create(group=group, athlete=theirs)
    begin(coach, template, group=group.pk)
    made = Assignment.objects.get()
    assert "Dee" not in made.rows.values_list("athlete__name", flat=True)
    assert begin(coach, template, athletes=[theirs.pk]).status_code == 422
    assert client_of(other).get(reverse("assignment", args=[made.pk])).status_code == 404
    assert Client().get(reverse("assignment", args=[made.pk])).status_code == 302
