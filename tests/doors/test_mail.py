"""Mail is a row: written in the transaction, sent by the job, with its state and error for the head coach to see."""

from __future__ import annotations

import smtplib
from datetime import timedelta

import pytest
from django.core import mail
from django.db import transaction
from django.utils import timezone

from athletes.models import Athlete, Coach
from coaching import mailing
from coaching.desk.invitations import address_of, invite
from coaching.models import Delivery
from coaching.tidying import tidy
from plans.jobs import GIVE_UP_AFTER, run
from plans.models import Job
from tests.doors.conftest import send_waiting_mail, signed_in
from tests.factories import AthleteFactory, CoachFactory

pytestmark = pytest.mark.django_db


def test_it_works(head: Coach) -> None:
    desk = signed_in(head.user)
    assert desk.post("/desk/mail/test/").status_code == 302
    assert Delivery.objects.get().state == "waiting"
    send_waiting_mail()
    assert mail.outbox[0].subject == "A test mail from Our practice"
    assert mail.outbox[0].alternatives[0][1] == "text/html"
    row = Delivery.objects.get()
    assert (row.state, row.error, row.values, row.sent_at is not None) == ("sent", "", {}, True)
    page = desk.get("/desk/mail/").content.decode()
    assert "A test mail from Our practice" in page
    assert "sent" in page


def test_a_transaction_that_fails_sends_nothing() -> None:
    with transaction.atomic():
        mailing.post("test", "x@example.org", {})
        transaction.set_rollback(True)
    send_waiting_mail()
    assert mail.outbox == []
    assert not Job.objects.exists()


def test_twice_carried_is_sent_once() -> None:
    row = mailing.post("test", "x@example.org", {})
    job = Job.objects.get(kind="mail", key=str(row.pk))
    mailing.carry(job)
    mailing.carry(job)
    assert len(mail.outbox) == 1


def test_the_key_of_an_invitation_is_stored_nowhere_not_even_while_its_mail_waits(coach: Coach) -> None:
    made = invite(coach, AthleteFactory(), "x@example.org")
    link = address_of(made)
    assert link.rpartition("/join/")[2].strip("/") not in str(Delivery.objects.values())
    send_waiting_mail()
    assert link in mail.outbox[0].body


def test_a_second_copy_can_be_known_for_one() -> None:
    """Killed between sending and noting it: the letter goes again, with the same Message-ID."""
    row, other = mailing.post("test", "x@example.org", {}), mailing.post("test", "x@example.org", {})
    for one in (row, other):
        mailing.carry(Job.objects.get(kind="mail", key=str(one.pk)))
    Delivery.objects.filter(pk=row.pk).update(state="waiting")
    mailing.carry(Job.objects.get(kind="mail", key=str(row.pk)))
    first, second, again = [letter.message() for letter in mail.outbox]
    assert first["Message-ID"] == again["Message-ID"] != second["Message-ID"]
    assert first["Message-ID"].endswith("@localhost>")
    assert first["Auto-Submitted"] == "auto-generated"


def test_a_server_that_refuses_is_told_and_tried_again(head: Coach, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: object) -> int:
        raise smtplib.SMTPRecipientsRefused({"x@example.org": (550, b"no such person")})

    row = mailing.post("test", "x@example.org", {})
    with monkeypatch.context() as broken:
        broken.setattr("django.core.mail.EmailMultiAlternatives.send", refuse)
        for attempt in range(1, GIVE_UP_AFTER + 1):
            Job.objects.update(not_before=timezone.now())
            run(Job.objects.get().pk)
            row.refresh_from_db()
            assert row.state == ("failed" if attempt == GIVE_UP_AFTER else "waiting")
    assert "no such person" in row.error
    page = signed_in(head.user).get("/desk/mail/").content.decode()
    assert "no such person" in page
    assert "1 did not arrive" in page


def test_what_comes_too_late_is_not_sent() -> None:
    row = mailing.post("test", "x@example.org", {}, useful_for=timedelta(minutes=30))
    Delivery.objects.update(useless_after=timezone.now() - timedelta(seconds=1))
    send_waiting_mail()
    row.refresh_from_db()
    assert (mail.outbox, row.state, row.error) == ([], "failed", mailing.TOO_LATE)


def test_a_name_cannot_add_a_header_or_markup(bea: Athlete) -> None:
    made = invite(CoachFactory(), bea)
    mailing.post(
        "invitation",
        "x@example.org",
        {"invitation": made.pk, "coach_name": "A\nBcc: y@example.org", "name": "<b>"},
    )
    send_waiting_mail()
    sent = mail.outbox[0]
    assert sent.subject == "A Bcc: y@example.org invites you to Our practice"
    assert sent.recipients() == ["x@example.org"]
    assert "&lt;b&gt;" in sent.alternatives[0][0]


def test_old_rows_are_forgotten() -> None:
    old, new = mailing.post("test", "x@example.org", {}), mailing.post("test", "y@example.org", {})
    Delivery.objects.filter(pk=old.pk).update(made_at=timezone.now() - timedelta(days=91))
    tidy()
    assert list(Delivery.objects.all()) == [new]


def test_only_the_head_coach_sees_it(coach: Coach, bea: Athlete) -> None:
    for user in (coach.user, bea.user):
        client = signed_in(user)
        assert client.get("/desk/mail/").status_code == 404
        assert client.post("/desk/mail/test/").status_code == 404
    assert not Delivery.objects.exists()
