"""One practice with an object of every kind, and six people around it: who may see what is asked of all of it.

Bea is Jonah's athlete; Finn is Lena's. Marta is the head coach. What stands in an address is Bea's or Jonah's.
"""

from __future__ import annotations

import re
import time
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone
from django_otp_webauthn.models import WebAuthnCredential

from athletes.models import Athlete, Coach, DeskNote, Group, HealthNote, Membership, Screening, TimeOff, User
from coaching import answering
from coaching.addresses import secret_of
from coaching.desk.invitations import invite
from coaching.doors.account import short_key
from coaching.doors.confirming import confirming_address, new_address_link
from coaching.doors.links import address_for
from coaching.models import DeviceSession, Phrase
from coaching.phone.profile import renew
from plans import assigning_many, handouts, issuing, jobs, naming, rebalancing, recarding
from plans.models import (
    Attendance,
    GroupSession,
    Log,
    Message,
    NamedSession,
    RaceEntry,
    Schedule,
    SessionIssue,
)
from plans.reading import week_of
from tests.factories import AthleteFactory, CoachFactory, ResultFactory, UserFactory, coaches, scheduled
from tests.plans.weeks import log

STRANGER, ATHLETE, OTHER_ATHLETE, COACH, OTHER_COACH, HEAD = range(6)
PEOPLE = ("a stranger", "the athlete", "another athlete", "the coach", "another coach", "the head coach")


class Route(NamedTuple):
    path: str  # as the URL configuration writes it
    name: str
    view: Any


@dataclass
class Everybody:
    """`stands_for` gives each argument of an address a real object; `asks` what an address needs after its `?`."""

    users: list[User | None]
    schedule: Schedule
    stands_for: dict[str, Any] = field(default_factory=dict)
    asks: dict[str, dict[str, Any]] = field(default_factory=dict)

    @property
    def athlete(self) -> Athlete:
        return self.schedule.athlete

    def client(self, who: int, **options: Any) -> Client:
        client = Client(**options)
        if (user := self.users[who]) is not None:
            client.force_login(user)
            session = client.session
            session["seen"] = int(time.time())  # or each answer would write when the device was last seen
            session.save()
        return client

    def address(self, route: Route) -> str:
        asked = urlencode(self.asks.get(route.name, {}))
        return reverse(route.name, kwargs=self.arguments(route.path, route.name)) + (
            f"?{asked}" if asked else ""
        )

    def arguments(self, path: str, address: str) -> dict[str, Any]:
        """Real values for `desk/athletes/<int:pk>/`: what stands for this address's pk, or for `athletes/pk`."""
        found, before = {}, ""
        for segment in path.strip("/").split("/"):
            if taken := re.match(r"<\w+:(\w+)>", segment):
                name = taken[1]
                known = self.stands_for.get(f"{address}/{name}", self.stands_for.get(f"{before}/{name}"))
                assert known is not None, (
                    f"say in tests/everybody.py what stands for {before}/{name} of {address}"
                )
                found[name] = known
            before = taken[1] if taken else segment
        return found


def routes() -> list[Route]:
    """Every address of the site, from the URL configuration itself."""
    found: list[Route] = []

    def walk(patterns: Any, before: str, space: str) -> None:
        for one in patterns:
            if isinstance(one, URLResolver):
                inside = f"{space}{one.namespace}:" if one.namespace else space
                walk(one.url_patterns, before + str(one.pattern), inside)
            else:
                assert isinstance(one, URLPattern)
                assert one.name, f"{before}{one.pattern} has no name"
                found.append(Route(before + str(one.pattern), space + one.name, one.callback))

    walk(get_resolver().url_patterns, "", "")
    return found


def everybody() -> Everybody:
    head = CoachFactory(user=UserFactory(name="Marta Quill", email="marta@example.org"), is_head=True)
    coach = CoachFactory(user=UserFactory(name="Jonah Tarn", email="jonah@example.org"))
    other_coach = CoachFactory(user=UserFactory(name="Lena Foss", email="lena@example.org"))
    bea = AthleteFactory(
        user=UserFactory(name="Bea Lindqvist", email="bea@example.org"), name="Bea Lindqvist"
    )
    finn = AthleteFactory(user=UserFactory(name="Finn Osei", email="finn@example.org"), name="Finn Osei")
    coaches(coach, bea)
    coaches(other_coach, finn)
    scheduled(finn)
    schedule = lived_in(bea, coach)
    made = Everybody([None, bea.user, finn.user, coach.user, other_coach.user, head.user], schedule)
    made.stands_for = objects_of(schedule, coach) | secrets_of(bea, coach)
    group, day = made.stands_for["groups/pk"], schedule.issues.filter(removed=False).earliest("day").day
    made.asks = {"template-assign": {"athlete": bea.pk}, "group-sheet": {"group": group, "day": day}}
    return made


def lived_in(athlete: Athlete, coach: Coach) -> Schedule:
    """Three weeks behind, the last nine days missed, five weeks ahead; a proposal and new paces wait."""
    schedule = scheduled(athlete, weeks=8, began_weeks_ago=3)
    today = athlete.today()
    Screening.objects.create(athlete=athlete, at=timezone.now(), answers={"any_yes": False})
    for issue in SessionIssue.objects.filter(schedule=schedule, day__lt=today):
        gone = issue.day >= today - timedelta(9)
        log(issue, "missed" if gone else "done", "travel" if gone else "")
    session = schedule.sessions.order_by("issues__day").first()
    words: dict[str, Any] = {"athlete": athlete, "session": session, "at": timezone.now()}
    Message.objects.create(
        author=athlete.user, author_name=athlete.name, by_coach=False, words="Windy.", **words
    )
    Message.objects.create(
        author=coach.user, author_name="Jonah Tarn", by_coach=True, words="Go easy.", **words
    )
    return Schedule.objects.select_related("athlete", "race_entry__race").get(pk=schedule.pk)


def objects_of(schedule: Schedule, coach: Coach) -> dict[str, Any]:
    athlete, version = schedule.athlete, schedule.template_version
    today = athlete.today()
    issuing.issue(schedule, 1, {}, by=coach.user, cause="Looked over")
    proposal = rebalancing.propose(Schedule.objects.get(pk=schedule.pk))
    faster = ResultFactory(athlete=athlete, time_ms=44 * 60_000, day=today - timedelta(1))
    new_paces = recarding.propose(athlete, "New result: 10K in 44:00").proposal
    assert proposal is not None
    assert new_paces is not None
    note = HealthNote.objects.create(
        athlete=athlete, kind="easy", cause="pain", words="sore shin", opened=today
    )
    off = TimeOff.objects.create(
        athlete=athlete, first_day=today + timedelta(9), last_day=today + timedelta(10)
    )
    group = Group.objects.create(name="Marathon A")
    Membership.objects.create(group=group, athlete=athlete)
    meeting = GroupSession.objects.create(
        group=group, day=today + timedelta(2), place="The boathouse", changed_at=timezone.now()
    )
    Attendance.objects.create(group_session=meeting, athlete=athlete, expected=True)
    naming.fill(coach)
    outside = Log.objects.create(
        athlete=athlete,
        day=today,
        time_zone="UTC",
        received_at=timezone.now(),
        outcome="other",
        distance_mm=5_000_000,
    )
    monday = week_of(today, 0)
    batch = handouts.start_batch(coach, [athlete], monday, group)
    assignment = assigning_many.start(coach, version, [athlete], first_day=monday + timedelta(7))
    while due := jobs.due_jobs():
        for pk in due:
            jobs.run(pk)
    entry = RaceEntry.objects.get(pk=schedule.race_entry_id)
    first = version.plan.weeks[0].sessions[0]
    return {
        "athletes/pk": athlete.pk,
        "sessions/pk": schedule.sessions.filter(issues__day__lt=today).first().pk,
        "health-notes/pk": note.pk,
        "results/pk": faster.pk,
        "card-proposals/pk": new_paces.pk,
        "templates/pk": version.template_id,
        "named-session/pk": NamedSession.objects.first().pk,
        "named-session-delete/pk": NamedSession.objects.first().pk,
        "sessions/key": first.key,
        "season-session/key": schedule.sessions.filter(issues__day__gt=today).first().pk,
        "notes/pk": DeskNote.objects.create(
            athlete=athlete,
            coach=coach,
            coach_name=str(coach),
            day=today,
            words="New job.",
            at=timezone.now(),
        ).pk,
        "weeks/number": 1,
        "template-restore/number": 1,
        "version-undo/number": 2,
        "number/what": "copy",
        "file/kind": "yaml",
        "assignments/pk": assignment.pk,
        "schedules/pk": schedule.pk,
        "proposals/pk": proposal.pk,
        "coach/pk": coach.pk,
        "coaches/pk": coach.coachathlete_set.get(athlete=athlete).pk,
        "groups/pk": group.pk,
        "group-sessions/pk": meeting.pk,
        "handouts/pk": batch.pk,
        "races/pk": entry.race_id,
        "entries/pk": entry.pk,
        "race/pk": entry.pk,
        "runs/pk": outside.pk,
        "entry-take-back/pk": outside.pk,
        "time-off/pk": off.pk,
        "welcome/step": "days",
        "sessions/number": 1,
    }


def secrets_of(athlete: Athlete, coach: Coach) -> dict[str, Any]:
    """What is found by a secret, and what belongs to an account."""
    assert athlete.user is not None
    invited = AthleteFactory(name="Rosa Lind", user=None)
    coaches(coach, invited)
    invitation = invite(coach, invited)
    # For somebody who never signs in here: signing in spends the links one has.
    link = address_for(UserFactory(name="Orla Finch")).rstrip("/").rsplit("/", 2)
    passkey = WebAuthnCredential.objects.create(
        user=athlete.user,
        name="A phone",
        credential_id=b"a phone's",
        public_key=b"a key",
        sign_count=0,
        aaguid="00000000-0000-0000-0000-000000000000",
        transports=[],
        discoverable=True,
        backup_eligible=False,
        backup_state=False,
    )
    device = Client()
    device.force_login(athlete.user)
    mailed = Message.objects.filter(athlete=athlete, by_coach=True).latest("pk")
    return {
        "answer/token": answering.address_of(mailed).rstrip("/").rsplit("/", 1)[1],
        "confirm/token": confirming_address(UserFactory(name="Ida Frost")).rstrip("/").rsplit("/", 1)[1],
        "new-address/token": new_address_link(UserFactory(name="Ada Holt"), "ada@example.net")
        .rstrip("/")
        .rsplit("/", 1)[1],
        "phrases/pk": Phrase.objects.create(coach=coach, name="Sleep", words="Sleep first.").pk,
        "invitations/pk": invitation.pk,
        "join/token": secret_of("invitation", invitation.nonce),
        "link/scope": link[1],
        "scope/token": link[2],
        "feed/token": secret_of("feed", renew(athlete).nonce),
        "passkeys/pk": passkey.pk,
        "devices/key": short_key(DeviceSession.objects.filter(user=athlete.user).latest("began")),
    }
