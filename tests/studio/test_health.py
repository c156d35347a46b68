"""/healthz. The silence allowed, 30 s, is our own choice: three heartbeats."""

import json
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import time_machine
from celery.signals import before_task_publish
from django.test import Client

from studio.celery import app
from studio.models import Heartbeat
from studio.wakeups import begin, heartbeat, mark_beat
from tests.services import outside_environment

NOON = datetime(2027, 3, 2, 12, 0, tzinfo=UTC)


@pytest.fixture
def beat_process() -> Iterator[None]:
    """This process plays the part of beat, which sends to the queue what other tests do at once."""
    app.conf.task_always_eager = False
    yield
    app.conf.task_always_eager = True
    before_task_publish.disconnect(mark_beat)


def test_health_page_needs_no_sign_in_and_names_what_has_not_lived_yet(db: None, client: Client) -> None:
    answer = client.get("/healthz")
    assert answer.status_code == 503
    assert answer.json() == {
        "database": "ok",
        "queue": "no worker has done anything yet",
        "beat": "beat has sent nothing yet",
    }


def test_all_is_well_while_worker_and_beat_are_heard(
    transactional_db: None, client: Client, beat_process: None
) -> None:
    with time_machine.travel(NOON, tick=False):
        begin()
        heartbeat()
    with time_machine.travel(NOON + timedelta(seconds=30), tick=False):
        answer = client.get("/healthz")
    assert (answer.status_code, answer.json()) == (200, {"database": "ok", "queue": "ok", "beat": "ok"})


def test_a_silent_worker_is_named_with_the_time_since(db: None, client: Client) -> None:
    with time_machine.travel(NOON, tick=False):
        Heartbeat.objects.beat(Heartbeat.Part.QUEUE)
    with time_machine.travel(NOON + timedelta(seconds=31), tick=False):
        Heartbeat.objects.beat(Heartbeat.Part.BEAT)
        answer = client.get("/healthz")
    assert answer.status_code == 503
    assert answer.json()["queue"] == "no worker has done anything since 2027-03-02 12:00:00 UTC"
    assert answer.json()["beat"] == "ok"


def test_two_beats_and_two_workers_leave_one_sign_each(transactional_db: None, beat_process: None) -> None:
    for _ in range(2):
        begin()
        heartbeat()
    assert sorted(Heartbeat.objects.values_list("part", flat=True)) == ["beat", "queue"]


def test_a_database_that_does_not_answer_is_said_and_not_raised(tmp_path: Path) -> None:
    unreachable = outside_environment(tmp_path, DATABASE_URL="postgresql://nobody@127.0.0.1:9/none")
    ask = "import json; from studio.health import health; print(json.dumps(health()))"
    command = [sys.executable, "manage.py", "shell", "-v", "0", "-c", ask]
    done = subprocess.run(command, env=unreachable, capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == {
        "database": "the database does not answer",
        "queue": "unknown while the database does not answer",
        "beat": "unknown while the database does not answer",
    }
