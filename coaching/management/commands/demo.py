"""The demo: an invented club on this machine, made when the database is empty, served until it is stopped."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.conf import settings
from django.core.management import CommandError, call_command
from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from athletes.models import Athlete, User
from coaching.demo import club, guard
from coaching.demo.people import COACHES, PASSWORD

STALE_AFTER_DAYS = 4


class Command(BaseCommand):
    help = "Load the demo club if there is none, and serve it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument(
            "--renew", action="store_true", help="throw the demo away and make it anew around today"
        )
        parser.add_argument("--no-serve", action="store_true", help="only load it")

    def handle(self, *args: Any, **options: Any) -> None:
        guard.refuse_in_public()
        call_command("migrate", verbosity=0)
        ours = User.objects.filter(email=COACHES[0][1]).exists()
        if User.objects.exists() and not ours:
            raise CommandError("This database belongs to a real practice. The demo stays out of it.")
        if ours and options["renew"]:
            call_command("flush", interactive=False, verbosity=0)
            ours = False
        if not ours:
            self.stdout.write("Making the demo club")
            club.load(self.stdout.write)
            self.stamp().write_text(timezone.localdate().isoformat())
        self.tell(options["port"])
        if not options["no_serve"]:
            call_command("serve", port=options["port"])

    def stamp(self) -> Any:
        return settings.DATA_DIR / "demo-made-on"

    def tell(self, port: int) -> None:
        made = date.fromisoformat(self.stamp().read_text()) if self.stamp().exists() else timezone.localdate()
        age = (timezone.localdate() - made).days
        line = "-" * 64
        self.stdout.write(
            f"{line}\nA DEMONSTRATION with an invented club of {Athlete.objects.count()} athletes.\n"
            f"  Open     http://localhost:{port}\n"
            f"  Coach    {COACHES[0][1]}\n  Athlete  athlete@example.org\n  Password {PASSWORD} (both)\n"
            f"Stop it with Ctrl-C; your changes are kept.\n{line}"
        )
        if age > STALE_AFTER_DAYS:
            self.stdout.write(
                f"The club was made {age} days ago and has fallen behind. To make it anew around today:\n"
                f"  make demo RENEW=1"
            )
        self.stdout.flush()
