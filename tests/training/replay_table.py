"""Print the table of docs/replay.md: `python -m tests.training.replay_table`, half a minute."""

import os
import sys
import tempfile


def main() -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coaching.settings")
    os.environ.setdefault("SECRET_KEY", "only for the table")
    os.environ.setdefault("DATA_DIR", tempfile.mkdtemp(prefix="replay_"))
    import django

    django.setup()
    from tests.training.replaying import BLOCKS, replay, table

    sys.stdout.write(table([replay(block) for block in BLOCKS]) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
