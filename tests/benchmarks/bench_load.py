"""Many at once, on real processes: athletes log while coaches work. No error may come; the 95th percentile is told.

On PostgreSQL and Redis 200 athletes log within a minute while five coaches work for two; on SQLite, one process, 40.
The clusters are this run's own, on spare ports. Who logs: signs in with a session made beforehand, opens the day's page,
logs a run by what the phone sends, opens the page again. A coach goes from the roster to an athlete, the proposals, a
template and the handouts. Exits with 1 when any answer was not 200 or 302, or a log is missing.

    python -m tests.benchmarks.bench_load [seconds]
"""

from __future__ import annotations

import json
import random
import sys
import tempfile
import threading
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from time import monotonic, sleep
from uuid import uuid4

import requests

from tests.faults.clusters import Postgres, Redis, spare_port
from tests.faults.site import Site

SECONDS = int(sys.argv[1]) if len(sys.argv) > 1 else 120
COACHES = 5
PEOPLE = """
import json, os
from datetime import date
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from athletes.models import Athlete, Coach, CoachAthlete, User
from coaching.sessions import SessionStore
from tests.factories import scheduled, AthleteFactory, UserFactory
def signed_in(user):
    store = SessionStore()
    store[SESSION_KEY], store[HASH_SESSION_KEY] = str(user.pk), user.get_session_auth_hash()
    store[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    store.create()
    return store.session_key
coaches = [Coach.objects.create(user=User.objects.create_user(f"coach{n}@example.org", None, f"Coach {n}")) for n in range(5)]
athletes = []
for n in range(int(os.environ["MANY"])):
    athlete = AthleteFactory(user=User.objects.create_user(f"runner{n}@example.org", None, f"Runner {n}"))
    scheduled(athlete, weeks=8, began_weeks_ago=2)
    CoachAthlete.objects.create(coach=coaches[n % 5], athlete=athlete, since=date(2020, 1, 1))
    athletes.append(athlete)
print(json.dumps({
    "athletes": [signed_in(a.user) for a in athletes],
    "coaches": [[signed_in(c.user), [a.pk for a in athletes[i::5]]] for i, c in enumerate(coaches)],
}))
"""


class Told:
    """What was answered, and how long it took, from all threads."""

    def __init__(self) -> None:
        self.taken: dict[str, list[float]] = {"athlete": [], "coach": []}
        self.wrong: Counter[str] = Counter()
        self.kept = 0

    def ask(
        self, who: str, client: requests.Session, method: str, address: str, **sent: object
    ) -> requests.Response | None:
        start = monotonic()
        try:
            answer = client.request(method, address, timeout=60, allow_redirects=False, **sent)  # type: ignore[arg-type]
        except requests.RequestException as error:
            self.wrong[type(error).__name__] += 1
            return None
        self.taken[who].append(monotonic() - start)
        if answer.status_code not in (200, 302):
            self.wrong[f"{answer.status_code} {method} {address.split('/', 3)[-1].split('/')[0]}"] += 1
        return answer


def client_of(session: str) -> requests.Session:
    client = requests.Session()
    client.cookies.set("sessionid", session, domain="localhost.local")
    client.cookies.set("csrftoken", "c" * 32, domain="localhost.local")
    return client


def athlete(base: str, session: str, told: Told, begins: float) -> None:
    sleep(max(0.0, begins - monotonic()))
    client, day = client_of(session), datetime.now(UTC).date().isoformat()
    told.ask("athlete", client, "GET", f"{base}/me/")
    sent = {"entry_id": str(uuid4()), "day": day, "distance": "5 km", "csrfmiddlewaretoken": "c" * 32}
    answer = told.ask("athlete", client, "POST", f"{base}/me/runs/", data=sent)
    told.kept += answer is not None and answer.status_code == 302
    told.ask("athlete", client, "GET", f"{base}/me/")


def coach(base: str, session: str, athletes: list[int], told: Told, until: float) -> None:
    client, dice = client_of(session), random.Random(session)
    while monotonic() < until:
        one = dice.choice(athletes)
        for page in (
            "",
            f"athletes/{one}/",
            "proposals/",
            f"athletes/{one}/paces/",
            "templates/",
            "handouts/",
        ):
            told.ask("coach", client, "GET", f"{base}/desk/{page}")
            sleep(dice.uniform(0.2, 0.8))


def run(site: Site, many: int) -> tuple[Told, int]:
    site.migrate()
    site.manage("collectstatic", "--noinput", "-v0")
    people = json.loads(site.shell(PEOPLE, MANY=str(many)).splitlines()[-1])
    site.serve()
    if site.env["REDIS_URL"]:
        site.worker()
        site.beat()
    told, base, start = Told(), f"http://localhost:{site.port}", monotonic() + 2
    minute, dice = min(60, SECONDS / 2), random.Random(1)
    threads = [
        threading.Thread(target=athlete, args=(base, one, told, start + dice.uniform(0, minute)))
        for one in people["athletes"]
    ] + [
        threading.Thread(target=coach, args=(base, session, mine, told, start + SECONDS))
        for session, mine in people["coaches"]
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return told, site.rows("SELECT count(*) FROM plans_log")[0][0]


def percentile(values: list[float]) -> str:
    ordered = sorted(values)
    return f"{ordered[int(len(ordered) * 0.95)] * 1000:.0f} ms (middle {ordered[len(ordered) // 2] * 1000:.0f}, of {len(ordered)})"


def report(name: str, many: int, told: Told, logs: int) -> bool:
    print(f"{name}: {many} athletes, {COACHES} coaches, {SECONDS} s")
    for who, taken in told.taken.items():
        print(f"  95th percentile of an answer to a {who}: {percentile(taken)}")
    print(f"  logs acknowledged {told.kept}, kept {logs}; errors: {dict(told.wrong) or 'none'}")
    return not told.wrong and told.kept == logs == many


def main() -> int:
    with tempfile.TemporaryDirectory() as name:
        folder, good = Path(name), []
        for part in ("one", "two", "broker"):
            (folder / part).mkdir()
        postgres, redis = Postgres(), Redis(folder / "broker")
        sites = (("PostgreSQL", 200, Site(folder / "one", spare_port(), postgres.create("load"), redis.url())),
                 ("SQLite", 40, Site(folder / "two", spare_port())))  # fmt: skip
        try:
            for kind, many, site in sites:
                good.append(report(kind, many, *run(site, many)))
                site.close()
        finally:
            for _, _, site in sites:
                site.close()
            redis.kill()
            postgres.end()
    return 0 if all(good) else 1


if __name__ == "__main__":
    sys.exit(main())
