"""The demo has passwords everybody knows: it is served as a demo, on this machine, or not at all."""

from __future__ import annotations

from urllib.parse import urlsplit

from django.conf import settings
from django.core.management import CommandError

from athletes.models import User
from coaching.demo.people import COACHES, PASSWORD

LOCAL = {"localhost", "127.0.0.1", "::1", "[::1]"}


def refuse_in_public() -> None:
    """Raises CommandError where the demo would answer to a name that others can open."""
    public = ({urlsplit(settings.PUBLIC_URL).hostname or ""} | set(settings.HOSTS)) - LOCAL
    if not settings.DEMO or public:
        name = ", ".join(sorted(public)) or "a practice without DEMO=1"
        raise CommandError(
            f"The demo has passwords everybody knows. It runs with DEMO=1 and on localhost only, not as {name}."
        )


def refuse_what_everybody_may_enter() -> None:
    """Before serving. Raises CommandError for the demo in public, and for its club served as if it were a practice."""
    if settings.DEMO:
        refuse_in_public()
        return
    coach = User.objects.filter(email=COACHES[0][1]).first()
    if coach is not None and coach.check_password(PASSWORD):
        raise CommandError(
            f"The database in {settings.DATA_DIR} holds the demo club, with passwords everybody knows. A practice of"
            " your own needs another folder (DATA_DIR) or database; the demo is started by `make demo`."
        )
