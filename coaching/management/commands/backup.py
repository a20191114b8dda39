from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management import CommandError
from django.core.management.base import BaseCommand, CommandParser

from coaching.backing_up import run_backup


class Command(BaseCommand):
    help = "Back up everything to one file in BACKUP_DIR, encrypted if BACKUP_KEY is set."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", nargs="?", help="another folder than BACKUP_DIR")

    def handle(self, *args: Any, **options: Any) -> None:
        from django.conf import settings

        if options["folder"]:
            settings.BACKUP_DIR = Path(options["folder"])
        run = run_backup()
        if not run.good:
            raise CommandError(f"The backup failed: {run.error}")
        self.stdout.write(
            f"{run.file} ({run.size / 1e6:.1f} MB{', encrypted' if run.file.endswith('.backup') else ''})"
        )
