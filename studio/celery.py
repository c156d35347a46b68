"""The queue. It only carries wake-ups: what is due stands in the database; no message is ever missed."""

from __future__ import annotations

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")

app = Celery("deskhand")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["studio", "bookings", "tasks"], related_name="wakeups")
