"""Every kind of job: how one comes about, where it is caught in the middle, and what must be there in the end.

`cause_all` runs inside the site. Its jobs wait for tomorrow; the test lets them go one by one. Each kind has a coach of
its own, with the kind's name in the address, so that one's effect is not counted for another.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from uuid import uuid4

from django.utils import timezone

from athletes.models import Athlete, Coach, HealthNote, Screening, User
from coaching import mailing, roster_lines
from plans import (
    accepting,
    assigning_many,
    handouts,
    jobs,
    offering,
    railing,
    rebalancing,
    recarding,
    recording,
    saying,
)
from plans.models import Assignment, Job, Proposal, TemplateVersion
from plans.models.template import template_to_values
from plans.reading import week_of
from tests.browser.people import cast
from tests.factories import (
    AthleteFactory,
    AvailabilityFactory,
    CoachFactory,
    ResultFactory,
    UserFactory,
    coaches,
    scheduled,
)
from tests.plans.weeks import lived


@dataclass(frozen=True)
class Kind:
    """`stops_at`: the table whose lock catches the worker, when it writes to it or (`reads`) when it reads it.

    `effect`: a query whose one row is `leads_to`, however often the job was begun.
    """

    cause: Callable[[Coach], object]
    stops_at: str
    effect: str
    leads_to: tuple[object, ...]
    said: str
    reads: bool = False


def rebalance(coach: Coach) -> None:
    recording.queue_rebalance(lived(AthleteFactory(name="rebalance")).athlete)


def accept(coach: Coach) -> None:
    schedule = lived(AthleteFactory(name="accept"))
    coaches(coach, schedule.athlete)
    proposal = rebalancing.propose(schedule)
    assert proposal is not None
    Proposal.objects.filter(pk=proposal.pk).update(small=True)
    accepting.accept_all([Proposal.objects.get(pk=proposal.pk)], coach.user)


def look(coach: Coach) -> None:
    """Somebody who said nothing about yesterday, where it is past noon."""
    athlete = cast().athlete
    east = min(15 - datetime.now(UTC).hour, 14)  # Etc/GMT-3 is three hours east
    Athlete.objects.filter(pk=athlete.pk).update(name="look", time_zone=f"Etc/GMT{-east:+d}")
    jobs.enqueue("look", "now")


def refit(coach: Coach) -> None:
    schedule = scheduled(AthleteFactory(name="refit"))
    version = schedule.template_version
    assert version is not None
    weeks = tuple(
        replace(week, sessions=tuple(replace(s, text=s.text.replace("6 km", "5 km")) for s in week.sessions))
        for week in version.plan.weeks
    )
    content = template_to_values(replace(version.plan, weeks=weeks))
    newer = TemplateVersion.objects.create(template=version.template, number=2, content=content)
    offering.offer([schedule], newer)


def recard(coach: Coach) -> None:
    athlete = scheduled(AthleteFactory(name="recard")).athlete
    coaches(coach, athlete)
    ResultFactory(athlete=athlete, time_ms=44 * 60_000, day=timezone.localdate() - timedelta(1))
    recarding.ask_for_everyone(coach)


def assign(coach: Coach) -> None:
    athlete = AthleteFactory(name="assign")
    AvailabilityFactory(athlete=athlete)
    ResultFactory(athlete=athlete)
    Screening.objects.create(athlete=athlete, at=timezone.now(), answers={"any_yes": False})
    other = scheduled(weeks=8, began_weeks_ago=0)
    assert other.template_version is not None
    made = assigning_many.start(coach, other.template_version, [athlete], race=other.race_entry.race)
    jobs.run(Job.objects.get(kind="assign", state="waiting").pk)
    assigning_many.choose(Assignment.objects.get(pk=made.pk), made.rows.values_list("pk", flat=True))


def a_batch(coach: Coach) -> str:
    athletes = [scheduled(AthleteFactory(name=f"Athlete {n}")).athlete for n in range(3)]
    return str(handouts.start_batch(coach, athletes, week_of(timezone.localdate(), 0), None).pk)


def handout_week(coach: Coach) -> None:
    coaches(coach, scheduled().athlete)
    jobs.enqueue("handout-week", week_of(timezone.localdate(), 0).isoformat())


def handout_mail(coach: Coach) -> None:
    batch = a_batch(coach)
    jobs.run(Job.objects.get(kind="handouts", key=batch).pk)
    jobs.enqueue("handout-mail", batch)


def an_athlete(kind: str) -> Athlete:
    return AthleteFactory(user=UserFactory(email=f"to-{kind}@example.org"))


def message_mail(coach: Coach) -> None:
    saying.say(an_athlete("message-mail"), "Go easy.", by=coach.user, by_coach=True)


def sending_mail(coach: Coach) -> None:
    everyone = [an_athlete("sending-mail"), an_athlete("sending-mail-too")]
    saying.say_to_many(everyone, "Bring a lamp.", coach=coach, to="All", key=uuid4())


def health_mail(coach: Coach) -> None:
    athlete = an_athlete("health-mail")
    coaches(coach, athlete)
    note = HealthNote.objects.create(athlete=athlete, kind="easy", cause="pain", opened=athlete.today())
    jobs.enqueue("health-mail", str(note.pk))


def rails(coach: Coach) -> None:
    version = scheduled(AthleteFactory(name="rails")).template_version
    assert version is not None
    railing.set_rails(version.template, {"weekly_rise": 8}, by=coach.user)


def proposals_of(name: str) -> str:
    return (
        "SELECT count(*) FROM plans_proposal p JOIN plans_schedule s ON s.id = p.schedule_id"
        f" JOIN athletes_athlete a ON a.id = s.athlete_id WHERE a.name = '{name}'"
    )


def letters_to(address: str) -> str:
    return f'SELECT count(*), count(DISTINCT "to") FROM coaching_delivery WHERE "to" LIKE \'{address}@%\''


ONE_PROPOSAL = "one proposal"
KINDS = {
    "rebalance": Kind(rebalance, "plans_proposal", proposals_of("rebalance"), (1,), ONE_PROPOSAL),
    "look": Kind(look, "plans_proposal", proposals_of("look"), (1,), ONE_PROPOSAL),
    accepting.KIND: Kind(
        accept,
        "plans_scheduleversion",
        "SELECT p.state, s.current_version, (SELECT count(*) FROM plans_scheduleversion v WHERE v.schedule_id = s.id)"
        " FROM plans_proposal p JOIN plans_schedule s ON s.id = p.schedule_id"
        " JOIN athletes_athlete a ON a.id = s.athlete_id WHERE a.name = 'accept'",
        ("accepted", 2, 2),
        "accepted and issued once",
    ),
    "refit": Kind(refit, "plans_proposal", proposals_of("refit"), (1,), ONE_PROPOSAL),
    "recard": Kind(
        recard,
        "plans_cardproposal",
        "SELECT count(*) FROM plans_cardproposal c JOIN athletes_athlete a ON a.id = c.athlete_id"
        " WHERE a.name = 'recard'",
        (1,),
        "one proposal of new paces",
    ),
    "assign": Kind(
        assign,
        "plans_scheduleversion",
        "SELECT count(DISTINCT s.id), count(v.id), min(r.state) FROM plans_schedule s"
        " JOIN athletes_athlete a ON a.id = s.athlete_id JOIN plans_scheduleversion v ON v.schedule_id = s.id"
        " JOIN plans_assignmentrow r ON r.athlete_id = a.id WHERE a.name = 'assign'",
        (1, 1, "issued"),
        "one schedule, issued once",
    ),
    "handouts": Kind(
        a_batch,
        "plans_handout",
        "SELECT b.pages, b.file <> '', (SELECT count(*) FROM plans_handout h JOIN plans_handoutbatch_athletes m"
        " ON m.athlete_id = h.athlete_id AND m.handoutbatch_id = b.id) FROM plans_handoutbatch b"
        " JOIN athletes_coach c ON c.id = b.coach_id JOIN athletes_user u ON u.id = c.user_id"
        " WHERE u.email = 'handouts@example.org'",
        (3, True, 3),
        "one file of three pages, each made once",
    ),
    "handout-week": Kind(
        handout_week,
        "plans_handoutbatch",
        "SELECT count(*) > 0, count(*) = count(DISTINCT coach_id) FROM plans_handoutbatch WHERE scheduled",
        (True, True),
        "one batch a coach",
    ),
    "handout-mail": Kind(handout_mail, "coaching_delivery", letters_to("handout-mail"), (1, 1), "one letter"),
    "message-mail": Kind(
        message_mail, "coaching_delivery", letters_to("to-message-mail"), (1, 1), "one letter"
    ),
    "sending-mail": Kind(
        sending_mail, "coaching_delivery", letters_to("to-sending-mail%"), (2, 2), "one letter each"
    ),
    "health-mail": Kind(health_mail, "coaching_delivery", letters_to("health-mail"), (1, 1), "one letter"),
    "mail": Kind(
        lambda coach: mailing.post("test", "caught@example.org", {"name": "Jonah"}),
        "coaching_delivery",
        "SELECT count(*), min(state) FROM coaching_delivery WHERE \"to\" = 'caught@example.org'",
        (1, "sent"),
        "noted as sent once; caught between sending and noting it, the letter itself goes out twice",
    ),
    "rails": Kind(
        rails,
        "plans_scheduleversion",
        "SELECT count(*) FROM plans_scheduleversion v JOIN plans_schedule s ON s.id = v.schedule_id"
        " JOIN athletes_athlete a ON a.id = s.athlete_id WHERE a.name = 'rails' AND v.cause LIKE 'Guard rails%'",
        (1,),
        "one new version",
    ),
    "backup": Kind(
        lambda coach: jobs.enqueue("backup", "2026-01-01"),
        "plans_template",
        "SELECT count(*), max(error) FROM coaching_backuprun",
        (1, ""),
        "one good backup, no half one",
        reads=True,
    ),
    roster_lines.KIND: Kind(
        lambda coach: jobs.enqueue(roster_lines.KIND, "now"),
        "coaching_rosterline",
        "SELECT count(*) > 0, count(*) = count(DISTINCT athlete_id) FROM coaching_rosterline",
        (True, True),
        "one line an athlete",
    ),
}


def cause_all() -> None:
    """Prints the number of each kind's job. They are caused in a row: what the first ones need run is run by then."""
    caused: dict[str, int] = {}
    for kind, it in KINDS.items():
        before = set(Job.objects.values_list("pk", flat=True))
        it.cause(CoachFactory(user=UserFactory(email=f"{kind}@example.org")))
        job = Job.objects.filter(kind=kind, state="waiting").exclude(pk__in=before).first()
        assert job, f"no {kind} job came of it"
        Job.objects.filter(pk=job.pk).update(not_before=timezone.now() + timedelta(days=1))
        caused[kind] = job.pk
    User.objects.update(confirmed_at=timezone.now())
    print(json.dumps(caused))
