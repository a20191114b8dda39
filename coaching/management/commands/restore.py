from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import CommandError
from django.core.management.base import BaseCommand, CommandParser

from coaching.backing_up import BackupError, restore


class Command(BaseCommand):
    help = "Restore a backup file into an empty, migrated installation."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file")
        parser.add_argument("--key", default="", help="by default BACKUP_KEY")

    def handle(self, *args: Any, **options: Any) -> None:
        path = Path(options["file"])
        if not path.is_file():
            raise CommandError(f"There is no file {path}.")
        try:
            manifest = restore(path, options["key"] or settings.BACKUP_KEY)
        except BackupError as error:
            raise CommandError(f"Nothing was restored. {error}") from error
        rows = sum(count for count, _ in manifest["rows"].values())
        self.stdout.write(
            f"Restored {rows} rows and {len(manifest['files'])} files of {manifest['made_at'][:16]}."
        )
