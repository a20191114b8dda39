"""The Celery application. What it carries out is in `plans/tasks.py`; what is promised is a job row."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coaching.settings")

app = Celery("coaching")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["plans", "coaching"])
