"""The week page of 100 and of 300 athletes with sixteen weeks of logs, against a bare view of as many rows and cells.

Everybody is in one of ten groups, each of which meets twice in the week. The bare view reads what stands in the week
for the first 60 athletes and prints it, a cell a day, through the desk's own base page. The aims are ours: the same
number of queries for 100 and 300; server time for 300 at most 7 times the bare view's and 1.5 times that for 100.
Exits with 1 over an aim.

    python -m tests.benchmarks.bench_week [few] [many]
"""

from __future__ import annotations

import sys
from datetime import timedelta
from typing import Any

from tests.benchmarks.bench_roster import analyse, asked, coach_of, filled, timed

FEW = int(sys.argv[1]) if len(sys.argv) > 1 else 100
MANY = int(sys.argv[2]) if len(sys.argv) > 2 else 300
RATIO, GROWTH = 7.0, 1.5

BARE = """{% extends "desk/base.html" %}{% block main %}<table>{% for name, cells in rows %}<tr><td>{{ name }}</td>
{% for text in cells %}<td>{{ text }}</td>{% endfor %}</tr>{% endfor %}</table>{% endblock %}"""


def bare(request: Any) -> Any:
    """As many rows and cells as the page, with the least that a week says."""
    from django.http import HttpResponse
    from django.template import engines
    from django.utils import timezone

    from athletes.models import Athlete
    from coaching.week_rows import days_of
    from plans.models import SessionIssue
    from plans.reading import week_of

    days = days_of(week_of(timezone.localdate(), 0))
    some = list(Athlete.objects.for_user(request.user).order_by("name")[:60])
    found = SessionIssue.objects.filter(
        schedule__athlete__in=some, schedule__state="running", to_version=None, day__range=(days[0], days[6])
    )
    said = {(one.schedule.athlete_id, one.day): one.steps for one in found.select_related("schedule")}
    rows = [(one.name, [said.get((one.pk, day), "") for day in days]) for one in some]
    return HttpResponse(engines["django"].from_string(BARE).render({"rows": rows}, request))


def meet(keys: list[int]) -> None:
    """Ten groups, each with two group sessions this week."""
    from django.utils import timezone

    from athletes.models import Group
    from plans.models import GroupSession
    from plans.reading import week_of

    first = week_of(timezone.localdate(), 0)
    for n in range(10):
        group = Group.objects.create(name=f"Group {n}")
        group.athletes.set(keys[n::10])
        for day in (1, 6):
            GroupSession.objects.create(
                group=group, day=first + timedelta(day), place="The track", changed_at=timezone.now()
            )


def main() -> int:
    with filled(MANY) as keys:
        from django.db import connection

        from coaching.desk.week import week

        coaches = [coach_of(keys[:FEW]), coach_of(keys)]
        meet(keys)
        analyse()
        few, floor, many = timed(
            [
                lambda: asked(coaches[0], week),
                lambda: asked(coaches[1], bare),
                lambda: asked(coaches[1], week),
            ]
        )
        print(f"{connection.vendor}: a bare view of 60 rows {floor[0]:.1f} ms  {floor[1]} queries")
        print(f"week of {FEW:4}   {few[0]:7.1f} ms  {few[1]} queries")
        print(
            f"week of {MANY:4}   {many[0]:7.1f} ms  {many[1]} queries   {many[0] / floor[0]:.2f} times the bare view (aim {RATIO:g})"
        )
        return int(many[0] > RATIO * floor[0] or many[0] > GROWTH * few[0] or few[1] != many[1])


if __name__ == "__main__":
    sys.exit(main())
