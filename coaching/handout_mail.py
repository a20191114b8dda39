"""Sunday's mail: to the coach that the pages are made, to each athlete where their own page is.

Only where mail is set up; the pages wait on the desk and on the phone anyway. Links, no attachments: a plan says
things about a body, and mail is read by others.
"""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from coaching.mailing import post
from coaching.message_mail import may_have
from plans.handout_contents import span
from plans.jobs import carries
from plans.models import HandoutBatch, Job

USEFUL_FOR = timedelta(days=3)


@carries("handout-mail")
def tell(job: Job) -> None:
    """One message a person for one batch, all in one transaction; a person who has theirs is not written to again."""
    batch = HandoutBatch.objects.select_related("coach__user").filter(pk=UUID(job.key)).first()
    if batch is None or not settings.EMAIL_HOST:
        return
    week, home = span(batch.first_day), settings.PUBLIC_URL
    athletes = list(batch.athletes.select_related("user").exclude(user=None))
    with transaction.atomic():
        told = Job.objects.select_for_update().filter(pk=job.pk, done_count=0).update(done_count=1)
        if not told:
            return
        coach = batch.coach.user
        address = f"{home}{local(reverse('handout-batch', args=[batch.pk]))}"
        values = {"name": coach.name, "week": week, "link": address, "pages": batch.pages}
        post("handouts", coach.email, values, user=coach, useful_for=USEFUL_FOR)
        for one in athletes:
            if one.user is None or not may_have(one, one.user):
                continue
            address = f"{home}{local(reverse('my-handout'))}?week={batch.first_day}"
            values = {"name": one.name, "week": week, "link": address, "pages": 0}
            post("handouts", one.user.email, values, user=one.user, useful_for=USEFUL_FOR)


def local(address: str) -> str:
    """The address without the sub-path that PUBLIC_URL has already."""
    prefix = settings.FORCE_SCRIPT_NAME or ""
    return address.removeprefix(prefix)
