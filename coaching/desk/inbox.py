"""Messages on the desk: the threads, those with something unread first, and what went out to many."""

from __future__ import annotations

from dataclasses import dataclass

from django.core.paginator import Paginator
from django.db.models import Count, Exists, Max, OuterRef, Q
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from athletes.models import Athlete
from coaching.access import CoachRequest, coach_only
from plans import unread
from plans.models import Message, Receipt, Sending

A_PAGE, SENT = 40, 10


@dataclass(frozen=True)
class Line:
    athlete: Athlete
    last: Message
    fresh: int


@require_GET
@coach_only
def inbox(request: CoachRequest) -> HttpResponse:
    fresh = dict(unread.by_coach(request.coach).order_by().values_list("athlete").annotate(n=Count("pk")))
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    with_words = mine.annotate(newest=Max("messages__pk")).filter(newest__isnull=False)
    first = with_words.filter(pk__in=fresh).order_by("-newest")
    page = Paginator(with_words.exclude(pk__in=fresh).order_by("-newest"), A_PAGE).get_page(
        request.GET.get("page")
    )
    rest = list(page.object_list)
    waiting = list(first) if page.number == 1 else []
    last = unread.with_reading(Message.objects.all()).in_bulk([one.newest for one in waiting + rest])  # type: ignore[attr-defined]
    lines = [Line(one, last[one.newest], fresh.get(one.pk, 0)) for one in waiting + rest]  # type: ignore[attr-defined]
    context = {"lines": lines, "waiting": len(waiting), "page": page, "sent": sent_by(request)}
    return render(request, "desk/inbox.html", context)


def sent_by(request: CoachRequest) -> list[Sending]:
    """What this coach said to many lately: to how many, and how many of them have read it."""
    read = Receipt.objects.filter(message=OuterRef("messages"), reader=OuterRef("messages__athlete__user"))
    counted = Sending.objects.filter(coach=request.coach).annotate(
        many=Count("messages"), read=Count("messages", filter=Q(Exists(read)))
    )
    return list(counted[:SENT])
