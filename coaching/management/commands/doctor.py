from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

from coaching.doctor import CHECKS, examine


class Command(BaseCommand):
    help = "Tell in plain words what is misconfigured. Exit status 1 if anything is."

    def handle(self, *args: Any, **options: Any) -> None:
        found = examine()
        for finding in found:
            self.stdout.write(f"{finding.about}: {finding.words}")
        sound = [about for about in CHECKS if about not in {finding.about for finding in found}]
        self.stdout.write(f"In order: {', '.join(sound) or 'nothing'}.")
        if found:
            sys.exit(1)
