"""The roster of 300 and of 3,000 athletes with sixteen weeks of logs, against a bare view that lists as many rows.

The bare view prints name, groups, race and days of the same athletes through the desk's own base page and nothing
else. The aims: the same number of queries for 300 and 3,000; server time for 300 at most 3 times the bare view's;
the first page of 3,000 at most 1.5 times that of 300. Also told: what it costs to compute the lines anew, which a
job does each hour and after midnight. Exits with 1 over an aim.

    python -m tests.benchmarks.bench_roster [few] [many]
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from statistics import median
from time import perf_counter
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from tests.benchmarks import bench_rebalancing as filling

if TYPE_CHECKING:
    from athletes.models import Coach

FEW = int(sys.argv[1]) if len(sys.argv) > 1 else 300
MANY = int(sys.argv[2]) if len(sys.argv) > 2 else 3000
ROUNDS = 15
RATIO, GROWTH = 3.0, 1.5

BARE = """{% extends "desk/base.html" %}{% block main %}<table>{% for row in rows %}<tr><td>{{ row.name }}</td>
<td>{% for group in row.groups.all %}{{ group.name }}{% endfor %}</td><td>{{ row.race }}</td><td>{{ row.day }}</td></tr>
{% endfor %}</table>{% endblock %}"""


def bare(request, athletes):
    """As many rows as the roster's first page, with the least that a list says."""
    from django.http import HttpResponse
    from django.template import engines

    from plans.models import Schedule

    some = list(athletes.order_by("name").prefetch_related("groups")[:100])
    running = Schedule.objects.filter(athlete__in=some, state="running").select_related("race_entry__race")
    races = {one.athlete_id: one.race_entry.race for one in running}
    for one in some:
        race = races.get(one.pk)
        one.race, one.day = (race.name, race.day) if race else ("", "")
    return HttpResponse(engines["django"].from_string(BARE).render({"rows": some}, request))


def timed(views) -> list[tuple[float, int]]:
    """Milliseconds (median) and queries of each, taken in turn so that a busy machine slows all alike."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for view in views:
        view()
        with CaptureQueriesContext(connection) as asked:
            view()
        counts.append(len(asked))
    taken: list[list[float]] = [[] for _ in views]
    for _ in range(ROUNDS):
        for number, view in enumerate(views):
            start = perf_counter()
            view()
            taken[number].append(1000 * (perf_counter() - start))
    return [(median(ms), count) for ms, count in zip(taken, counts, strict=True)]


def talk(keys: list[int]) -> None:
    """Four words in each thread, two of them the athlete's; nobody has read any."""
    from django.utils import timezone

    from plans.models import Message

    Message.objects.bulk_create(
        Message(athlete_id=key, author_name="M", by_coach=n % 2 == 0, words="Hm.", at=timezone.now())
        for key in keys
        for n in range(4)
    )


@contextmanager
def filled(many: int) -> Iterator[list[int]]:
    """A database of its own with so many athletes and their logs; their keys."""
    filling.settle()
    from django.conf import settings
    from django.db import connection
    from django.test.utils import setup_databases, teardown_databases

    # Addresses of static files without the manifest that only a collected set-up has.
    settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    settings.DATABASES["default"].setdefault("TEST", {})["NAME"] = f"bench_{uuid4().hex[:8]}"
    connection.settings_dict["TEST"]["NAME"] = settings.DATABASES["default"]["TEST"]["NAME"]
    old = setup_databases(verbosity=0, interactive=False)
    try:
        filling.fill(many)
        analyse()
        from athletes.models import Athlete
        from plans.models import Job

        Job.objects.all().delete()
        runners = Athlete.objects.filter(name__startswith="Runner")
        yield list(runners.order_by("pk").values_list("pk", flat=True))
    finally:
        teardown_databases(old, verbosity=0)


def analyse() -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def coach_of(keys: list[int]) -> Coach:
    """A coach of these athletes."""
    from athletes.models import CoachAthlete
    from tests.factories import CoachFactory

    coach: Coach = CoachFactory()
    CoachAthlete.objects.bulk_create(
        CoachAthlete(coach=coach, athlete_id=key, since="2020-01-01") for key in keys
    )
    return coach


def asked(coach: Coach, view: Callable[[Any], Any]) -> Any:
    """A page as this coach asks for it."""
    from django.test import RequestFactory

    request: Any = RequestFactory().get("/desk/")
    request.user, request.htmx, request.session = coach.user, False, {}
    request.user.is_verified = lambda: True
    return view(request)


def main() -> int:
    with filled(MANY) as keys:
        from django.db import connection

        from athletes.models import Athlete
        from coaching import roster_lines
        from coaching.desk.roster import roster

        coaches = [coach_of(keys[:FEW]), coach_of(keys)]
        talk(keys)
        start = perf_counter()
        roster_lines.bring_up_to_date(Athlete.objects.filter(pk__in=keys), most=len(keys))
        each = 1000 * (perf_counter() - start) / len(keys)
        analyse()

        def plain(request: Any) -> Any:
            return bare(request, Athlete.objects.for_user(request.user))

        few, floor, many = timed(
            [
                lambda: asked(coaches[0], roster),
                lambda: asked(coaches[0], plain),
                lambda: asked(coaches[1], roster),
            ]
        )
        print(f"{connection.vendor}: lines computed anew {each:.1f} ms an athlete")
        print(f"a bare view of 100 rows        {floor[0]:7.1f} ms  {floor[1]} queries")
        print(
            f"roster of {FEW:5}              {few[0]:7.1f} ms  {few[1]} queries   {few[0] / floor[0]:.2f} times (aim {RATIO:g})"
        )
        print(
            f"roster of {MANY:5}              {many[0]:7.1f} ms  {many[1]} queries   {many[0] / few[0]:.2f} times that of {FEW} (aim {GROWTH:g})"
        )
        return int(few[0] > RATIO * floor[0] or many[0] > GROWTH * few[0] or few[1] != many[1])


if __name__ == "__main__":
    sys.exit(main())
