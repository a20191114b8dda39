from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

from coaching.doctor import CHECKS, KNOWN_TO_DATABASE, examine


class Command(BaseCommand):
    help = "Tell in plain words what is misconfigured. Exit status 1 if anything is."

    def handle(self, *args: Any, **options: Any) -> None:
        found = examine()
        for finding in found:
            self.stdout.write(f"{finding.about}: {finding.words}")
        wrong = {finding.about for finding in found}
        sound = [about for about in CHECKS if about not in wrong]
        if "database" in wrong:  # then these were not looked at
            sound = [about for about in sound if about not in KNOWN_TO_DATABASE]
        self.stdout.write(f"In order: {', '.join(sound) or 'nothing'}.")
        if found:
            sys.exit(1)
