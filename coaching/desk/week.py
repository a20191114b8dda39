"""The week of the practice: who does what which day, and where the groups meet."""

from __future__ import annotations

from datetime import date, timedelta

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from athletes.models import Athlete, Group, Practice
from coaching.access import CoachRequest, coach_only, groups_to_meet
from coaching.week_rows import meeting_cells, rows_of
from plans.gathering import meetings_of
from plans.reading import week_of

A_PAGE = 60


def asked_week(request: CoachRequest, today: date) -> date:
    """The first day of the week asked for, whatever day of it was named; without one, of this week."""
    try:
        day = date.fromisoformat(request.GET.get("week", "") or today.isoformat())
        return week_of(day, Practice.get().week_starts)
    except (ValueError, OverflowError) as error:
        raise Http404 from error


def asked_group(request: CoachRequest, groups: list[Group]) -> Group | None:
    wanted = request.GET.get("group", "")
    found = next((one for one in groups if str(one.pk) == wanted), None)
    if wanted and found is None:
        raise Http404
    return found


@require_GET
@coach_only
def week(request: CoachRequest) -> HttpResponse:
    """All athletes count for the numbers over the days; their rows come a page at a time."""
    today = timezone.localdate()
    first = asked_week(request, today)
    groups = list(groups_to_meet(request.user))
    group = asked_group(request, groups)
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    athletes = mine.filter(groups=group) if group else mine
    keys = list(athletes.order_by().values_list("pk", flat=True))
    meetings = meetings_of(keys, first, first + timedelta(6))
    page = Paginator(athletes, A_PAGE).get_page(request.GET.get("page"))
    context = {
        "first": first,
        "before": first - timedelta(7),
        "after": first + timedelta(7),
        "today": today,
        "groups": groups,
        "group": group,
        "page": page,
        "rows": rows_of(list(page.object_list), first, meetings),
        "days": meeting_cells([group] if group else groups, keys, meetings, first),
    }
    return render(request, "desk/week.html", context)
