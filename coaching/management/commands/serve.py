"""Serve the site. Without REDIS_URL one process does it all: waitress, the worker and the periodic look."""

from __future__ import annotations

import logging
import threading
from typing import Any

import waitress
from celery.beat import EmbeddedService
from celery.worker import WorkController, state
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandParser

from coaching.celery import app
from coaching.demo import guard
from coaching.uploads import MOST_BYTES

log = logging.getLogger(__name__)

# Waitress keeps a body on the disk before a page sees it. More than the pages take, so that they can say what is too
# big; far less than its own gigabyte, which any stranger could send.
MOST_BODY = 10 * MOST_BYTES


class Command(BaseCommand):
    help = "Serve the site with waitress; embedded, also the worker and the periodic look."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        guard.refuse_what_everybody_may_enter()
        stop = None
        if not settings.REDIS_URL:
            call_command("collectstatic", interactive=False, verbosity=0)
            stop = start_embedded()
        from coaching.wsgi import (
            application,  # once the files are there: whitenoise looks for them as it begins
        )

        try:
            # Four threads: SQLite has one writer, and a page takes a few milliseconds.
            waitress.serve(
                application,
                host=options["host"],
                port=options["port"],
                threads=4,
                max_request_body_size=MOST_BODY,
                **behind_proxies(),
            )
        finally:
            if stop:
                stop()


def behind_proxies() -> dict[str, Any]:
    """How waitress reads what proxies say. By default it believes nothing: X-Forwarded-* are taken off."""
    below = settings.FORCE_SCRIPT_NAME or ""
    found: dict[str, Any] = {
        "ident": None,
        "url_scheme": "https" if settings.PUBLIC_URL.startswith("https://") else "http",
        "url_prefix": below,  # taken off the path when a proxy leaves it on
    }
    if settings.TRUSTED_PROXIES > 0:
        # The last so many addresses of X-Forwarded-For were written by our own proxies; what stands before, by anybody.
        found |= {
            "trusted_proxy": "*",
            "trusted_proxy_count": settings.TRUSTED_PROXIES,
            "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
        }
    return found


def start_embedded() -> Any:
    """A Celery worker and its beat in threads of this process. Returns what stops both; a running job finishes."""
    worker = WorkController(
        app=app, pool_cls="threads", concurrency=1, without_heartbeat=True, without_mingle=True
    )
    thread = threading.Thread(target=worker.start, name="worker", daemon=True)
    thread.start()
    beat = EmbeddedService(
        app, max_interval=1, thread=True, schedule_filename=str(settings.DATA_DIR / "beat")
    )
    beat.start()

    def stop() -> None:
        beat.stop()
        state.should_stop = 0
        thread.join(timeout=30)
        log.info("The worker has stopped.")

    return stop
