"""Eight coaches edit seasons in place at the same time, on PostgreSQL, served as the site is served.

One process with waitress and four threads, as `manage.py serve` has it, on a database of this run's own. Each coach
has an athlete with sixteen weeks of logs, and does without end what a hand does: types (a look each time), saves,
moves, undoes, with half a second to one and a half between. Told: the server's own milliseconds for an answer, from
the call of the application to its last byte, beside those of a bare Django view (sign-in, one athlete, the desk's
frame) asked in between by the same coaches. The aim: 100 ms at the 95th percentile. Exits with 1 over it.

    python -m tests.benchmarks.bench_editing [seconds]
"""

from __future__ import annotations

import http.client
import os
import random
import subprocess
import sys
import threading
import time
from contextlib import suppress
from statistics import median, quantiles
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

from tests.benchmarks import bench_rebalancing as filling

COACHES, THREADS, AIM_MS = 8, 4, 100.0
SECONDS = float(sys.argv[1]) if len(sys.argv) > 1 else 40.0
PAUSE = (0.5, 1.5)
WARM_UP = 5.0  # the first answers load templates and lines of shorthand; they are not counted
PORT = 18103
BARE = '{% extends "desk/base.html" %}{% block main %}<h1>{{ athlete.name }}</h1>{% endblock %}'


def serve() -> None:
    """The site itself, each answer with the milliseconds it took."""
    filling.settle()
    from django.conf import settings
    from django.urls import path

    settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    settings.ALLOWED_HOSTS = ["*"]
    import waitress
    from django.http import HttpResponse
    from django.template import engines

    from coaching import urls
    from coaching.access import athlete_for, coach_only
    from coaching.wsgi import application

    @coach_only
    def bare(request: Any, pk: int) -> HttpResponse:
        page = engines["django"].from_string(BARE)  # type: ignore[attr-defined]
        return HttpResponse(page.render({"athlete": athlete_for(request.user, pk)}, request))

    urls.urlpatterns.append(path("bare/<int:pk>/", bare, name="bare"))

    def timed(environ: Any, start_response: Any) -> Any:
        began, busy = time.perf_counter(), time.thread_time()
        kept: list[Any] = []
        body = b"".join(application(environ, lambda *answer: kept.append(answer)))
        status, headers = kept[0][:2]
        took = f"{1000 * (time.perf_counter() - began):.3f} {1000 * (time.thread_time() - busy):.3f}"
        start_response(status, [*headers, ("X-Took", took)])
        return [body]

    waitress.serve(timed, host="127.0.0.1", port=PORT, threads=THREADS, _quiet=True)


class Hand(threading.Thread):
    """One coach at work on one athlete's season."""

    def __init__(self, season: dict[str, Any], until: float, number: int) -> None:
        super().__init__(daemon=True)
        self.season, self.until, self.dice = season, until, random.Random(number)
        self.took: dict[str, list[tuple[float, float]]] = {"look": [], "change": [], "bare": []}
        self.wrong: list[str] = []
        self.base, self.counts_from = "1.0", time.monotonic() + WARM_UP

    def run(self) -> None:
        pk = self.season["schedule"]
        while time.monotonic() < self.until and not self.wrong:
            key, day = self.dice.choice(self.season["sessions"])
            text = f"{self.dice.randint(4, 12)} km easy with {self.dice.randint(3, 8)} x 20 s strides"
            form = {"text": text, "day": day, "purpose": "", "role": "", "taken": "beside"}
            session = f"/desk/schedules/{pk}/sessions/{key}/"
            for typed in (text[:6], text[: len(text) // 2], text):
                self.ask("look", session, {**form, "text": typed, "do": "look"})
            self.ask("change", session, {**form, "do": "save"})
            week = self.dice.randint(self.season["week"], self.season["weeks"])
            moved = {"key": key, "week": str(week), "day": str(self.dice.randint(0, 6))}
            self.ask("change", f"/desk/schedules/{pk}/move/", moved, fine=(200, 422))
            self.ask("change", f"/desk/schedules/{pk}/undo/", {})
            self.ask("bare", f"/bare/{self.season['athlete']}/", None)

    def ask(self, kind: str, path: str, form: dict[str, str] | None, fine: tuple[int, ...] = (200,)) -> None:
        if time.monotonic() > self.until:
            return
        time.sleep(self.dice.uniform(*PAUSE))
        headers = {"Cookie": self.season["cookie"], "X-CSRFToken": self.season["token"], "HX-Request": "true"}
        body = None
        if form is not None:
            body = urlencode({**form, "base": self.base})
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=20)
        line.request("GET" if body is None else "POST", path, body, headers)
        answer = line.getresponse()
        said = answer.read().decode()
        line.close()
        if answer.status not in fine:
            self.wrong.append(f"{path}: {answer.status} {said[:300]}")
            return
        if time.monotonic() < self.counts_from:
            self._keep_base(said)
            return
        wall, cpu = answer.headers["X-Took"].split()
        self.took[kind].append((float(wall), float(cpu)))
        self._keep_base(said)

    def _keep_base(self, said: str) -> None:
        """What the next change is made on, as the page would say it."""
        if 'data-base="' in said:
            self.base = said.partition('data-base="')[2].partition('"')[0]


def seasons() -> list[dict[str, Any]]:
    """An athlete, a coach and a signed-in browser for each hand."""
    from django.test import Client
    from django.utils import timezone

    from athletes.models import CoachAthlete
    from plans.models import Schedule
    from tests.factories import CoachFactory

    made = []
    running = Schedule.objects.filter(state="running", athlete__name__startswith="Runner").order_by("pk")
    for schedule in running[:COACHES]:
        coach = CoachFactory()
        CoachAthlete.objects.create(coach=coach, athlete_id=schedule.athlete_id, since="2020-01-01")
        client, token = Client(), uuid4().hex
        client.force_login(coach.user)
        today = timezone.localdate()
        live = schedule.issues.filter(to_version=None, day__gt=today).exclude(role="race")
        first = schedule.weeks.earliest("first_day").first_day
        made.append(
            {
                "schedule": schedule.pk,
                "athlete": schedule.athlete_id,
                "sessions": [(str(one.session_id), one.day.isoformat()) for one in live],
                "week": (today - first).days // 7 + 1,
                "weeks": schedule.weeks.count(),
                "cookie": f"sessionid={client.cookies['sessionid'].value}; csrftoken={token}",
                "token": token,
            }
        )
    return made


def wait_until_up(server: subprocess.Popen[bytes]) -> None:
    for _ in range(60):
        if server.poll() is not None:
            break
        with suppress(OSError):
            line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=2)
            line.request("GET", "/health/")
            if line.getresponse().status < 500:
                return
        time.sleep(0.3)
    raise SystemExit("The server did not come up.")


def at(values: list[float], percent: int) -> float:
    return quantiles(values, n=100)[percent - 1]


def main() -> int:
    filling.settle()
    from django.conf import settings
    from django.db import connection, connections
    from django.test.utils import setup_databases, teardown_databases

    name = f"bench_{uuid4().hex[:8]}"
    settings.DATABASES["default"].setdefault("TEST", {})["NAME"] = name
    connection.settings_dict["TEST"]["NAME"] = name
    old = setup_databases(verbosity=0, interactive=False)
    server = None
    try:
        filling.fill(COACHES)
        work = seasons()
        if connection.vendor != "postgresql":
            print("PostgreSQL does not answer; eight coaches at once are its matter. Nothing was measured.")
            return 0
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        address = f"postgres://root@127.0.0.1:5432/{connection.settings_dict['NAME']}"
        command = [sys.executable, "-m", "tests.benchmarks.bench_editing"]
        server = subprocess.Popen(command, env={**os.environ, "DATABASE_URL": address, "BENCH_SERVES": "1"})
        wait_until_up(server)
        until = time.monotonic() + SECONDS
        hands = [Hand(season, until, n) for n, season in enumerate(work)]
        for hand in hands:
            hand.start()
        for hand in hands:
            hand.join()
        if wrong := [line for hand in hands for line in hand.wrong]:
            print("\n".join(wrong))
            return 1
        took = {kind: [ms for hand in hands for ms in hand.took[kind]] for kind in hands[0].took}
    finally:
        if server is not None:
            server.terminate()
            server.wait(timeout=20)
        connections.close_all()
        teardown_databases(old, verbosity=0)
    return tell(took)


def tell(took: dict[str, list[tuple[float, float]]]) -> int:
    """The clock's milliseconds, and beside them the processor's: what a busy neighbour adds is only in the first."""
    print(f"postgresql: {COACHES} coaches for {SECONDS:.0f} s, one process, {THREADS} threads, server time")
    floor = median(wall for wall, _ in took["bare"])
    for kind, words in (
        ("bare", "a bare Django view"),
        ("look", "typing: understood, rails"),
        ("change", "save, move, undo"),
    ):
        walls, cpus = ([pair[n] for pair in took[kind]] for n in (0, 1))
        print(
            f"{words:26} median {median(walls):6.1f} ms  95th percentile {at(walls, 95):6.1f} ms"
            f"  {median(walls) / floor:4.1f} times bare   processor {median(cpus):5.1f} and {at(cpus, 95):5.1f} ms"
            f"   n {len(walls)}"
        )
    edits = [wall for wall, _ in (*took["look"], *took["change"])]
    print(f"every edit in place: 95th percentile {at(edits, 95):.1f} ms (aim {AIM_MS:g})")
    return int(at(edits, 95) > AIM_MS)


if __name__ == "__main__":
    sys.exit(serve() if os.environ.get("BENCH_SERVES") else main())
