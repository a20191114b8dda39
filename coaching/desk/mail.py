"""What mail went out, what did not and why; and a test mail. For the head coach."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from coaching import mailing
from coaching.access import CoachRequest, head_only
from coaching.models import Delivery

SHOWN = 100


@head_only
def mail(request: CoachRequest) -> HttpResponse:
    context = {
        "rows": Delivery.objects.all()[:SHOWN],
        "failed": Delivery.objects.filter(state="failed").count(),
        "server": settings.EMAIL_HOST,
        "sender": settings.DEFAULT_FROM_EMAIL,
        "days": settings.KEEP_MAIL_DAYS,
    }
    return render(request, "desk/mail.html", context)


@require_POST
@head_only
def test_mail(request: CoachRequest) -> HttpResponse:
    with transaction.atomic():
        mailing.post("test", request.user.email, {}, user=request.user)
    messages.success(
        request, f"A test mail to {request.user.email} is on its way. Load this page again in a moment."
    )
    return redirect("mail")
