"""Which of the two rounds of `make test` runs what. Each fault brings its own clusters, so once is enough."""

from __future__ import annotations

import os

import pytest
from django.conf import settings

_TABLE = "FAULTS_TABLE" in os.environ  # `make faults` runs all of them in one round
ROUND_ONE = pytest.mark.skipif(bool(settings.REDIS_URL) and not _TABLE, reason="runs in the first round")
ROUND_TWO = pytest.mark.skipif(not settings.REDIS_URL and not _TABLE, reason="runs in the second round")
