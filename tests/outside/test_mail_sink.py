"""Reminders over a real mail server on loopback, sent by real Celery workers, one of which is killed.

On SQLite the queue is files in a folder; on PostgreSQL it is Redis.
"""

from __future__ import annotations

import asyncio
import email
import logging
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from aiosmtpd.controller import Controller
from celery import Celery
from django.conf import settings as django_settings
from django.db import connection
from django.utils import timezone

from tasks.models import Reminder
from tasks.reminders.rows import remind
from tasks.reminders.send import FIRST_PAUSE, send_due
from tests.house import make_room
from tests.services import free_port
from tests.tasks.reminder_cast import make_assistant, make_session

State = Reminder.State
HERE = Path(__file__).parents[2]
PROCESSES = 2
LEASE_SECONDS = 3


class Sink:
    """A mail server that keeps what it has taken: pairs of Message-ID and address, in order.

    A test may set `when_taken`, called with the count at the moment a letter is taken and before the sender
    hears of it; `answer`, the reply to an address; and `silent_for`, an address that gets no reply.
    """

    def __init__(self) -> None:
        self.taken: list[tuple[str, str]] = []
        self.when_taken: Callable[[int], None] = lambda count: None
        self.answer: Callable[[str], str] = lambda address: "250 OK"
        self.silent_for = ""

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str, options: Any) -> str:
        if address == self.silent_for:
            await asyncio.sleep(5)
        reply = self.answer(address)
        if reply.startswith("250"):
            envelope.rcpt_tos.append(address)
        return reply

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        letter = email.message_from_bytes(envelope.content)
        self.taken.append((letter["Message-ID"].strip(), envelope.rcpt_tos[0]))
        self.when_taken(len(self.taken))
        await asyncio.sleep(0.005)
        return "250 Taken"

    @property
    def ids(self) -> list[str]:
        return [message_id for message_id, _ in self.taken]


@pytest.fixture
def sink() -> Iterator[Sink]:
    logging.getLogger("mail.log").setLevel(logging.WARNING)
    sink = Sink()
    controller = Controller(sink, hostname="127.0.0.1", port=free_port())
    controller.start()
    sink.port = controller.port
    yield sink
    controller.stop()


class Queue:
    """Starts workers in the environment that a house of its own would have, and sends them wake-ups."""

    def __init__(self, environment: dict[str, str]) -> None:
        self.environment = environment
        self.workers: list[subprocess.Popen[bytes]] = []
        self.var = Path(environment["DESKHAND_VAR"])
        self.var.mkdir(exist_ok=True)
        self.app = Celery("ticks", set_as_current=False)
        if url := environment.get("REDIS_URL"):
            self.app.conf.broker_url = url
        else:
            folder = self.var / "queue"
            for name in ("messages", "control"):
                (folder / name).mkdir(parents=True, exist_ok=True)
            self.app.conf.broker_url = django_settings.CELERY_BROKER_URL
            self.app.conf.broker_transport = django_settings.CELERY_BROKER_TRANSPORT
            self.app.conf.broker_transport_options = {
                "data_folder_in": str(folder / "messages"),
                "data_folder_out": str(folder / "messages"),
                "control_folder": str(folder / "control"),
            }

    def tick(self) -> None:
        self.app.send_task("tasks.wakeups.send_due_reminders", expires=15, ignore_result=True)

    def start_worker(self, processes: int) -> subprocess.Popen[bytes]:
        quiet = ["--without-gossip", "--without-mingle", "--without-heartbeat", "--loglevel", "WARNING"]
        with (self.var / f"worker-{len(self.workers)}.log").open("wb") as log:
            worker = subprocess.Popen(
                [sys.executable, "-m", "celery", "-A", "studio", "worker", f"-c{processes}", *quiet],
                cwd=HERE,
                env=self.environment,
                stderr=log,
                stdout=log,
                start_new_session=True,
            )
        self.workers.append(worker)
        return worker

    def kill(self, worker: subprocess.Popen[bytes]) -> None:
        """kill -9 for the worker and everything that it started."""
        os.killpg(worker.pid, signal.SIGKILL)

    def until(self, reached: Callable[[], bool], seconds: float = 60) -> None:
        """Ticks every half second, as beat does every fifteen."""
        end = time.monotonic() + seconds
        while not reached():
            assert time.monotonic() < end, self.logs()
            self.tick()
            time.sleep(0.5)

    def logs(self) -> str:
        logs = sorted(self.var.glob("worker-*.log"))
        return "\n".join(log.read_text()[-3000:] for log in logs)


@contextmanager
def running(environment: dict[str, str]) -> Iterator[Queue]:
    queue = Queue(environment)
    try:
        yield queue
    finally:
        queue.app.close()
        for worker in queue.workers:
            if worker.poll() is None:
                queue.kill(worker)
            worker.wait(10)


@pytest.fixture
def queue(
    database_environment: dict[str, str], sink: Sink, request: pytest.FixtureRequest
) -> Iterator[Queue]:
    environment = {
        **database_environment,
        "EMAIL_URL": f"smtp://127.0.0.1:{sink.port}",
        "CELERY_SKIP_CHECKS": "true",
        "DESKHAND_REMINDER_LEASE_SECONDS": str(LEASE_SECONDS),
    }
    if connection.vendor == "postgresql":
        environment["REDIS_URL"] = request.getfixturevalue("redis_url")
    with running(environment) as queue:
        yield queue


def due_reminders(count: int) -> set[str]:
    """Message-IDs of that many reminders that are due now: five assistants on each session."""
    people = [make_assistant(f"Player{number}") for number in range(5)]
    for number in range(count // len(people)):
        downbeat = timezone.now() + timedelta(hours=2, minutes=10)
        remind(make_session(make_room(f"Room {number}"), downbeat, *people))
    found = set(Reminder.objects.due(timezone.now()).values_list("message_id", flat=True))
    assert len(found) == count
    return found


def all_sent() -> bool:
    return not Reminder.objects.due(timezone.now() + timedelta(hours=1)).filter(kind="morning").exists()


def test_kill_9_in_the_middle_of_200_reminders_loses_none(queue: Queue, sink: Sink) -> None:
    """The kill falls into the window itself: the 80th letter is taken, and its sender never hears of it."""
    expected = due_reminders(200)
    worker = queue.start_worker(PROCESSES)
    sink.when_taken = lambda count: queue.kill(worker) if count == 80 else None
    queue.until(lambda: worker.poll() is not None)
    time.sleep(0.1)
    taken_before = len(sink.taken)
    in_flight = set(Reminder.objects.filter(state=State.SENDING).values_list("message_id", flat=True))
    waiting = Reminder.objects.due(timezone.now()).filter(state=State.WAITING).count()

    queue.start_worker(PROCESSES)
    queue.until(all_sent)
    times = Counter(sink.ids)
    twice = {message_id for message_id, count in times.items() if count > 1}
    window = (
        f"Killed at letter 80 with {len(in_flight)} being sent and {waiting} waiting; "
        f"{taken_before} had been taken. In flight: {sorted(in_flight)}. Twice: {sorted(twice)}."
    )
    assert worker.returncode == -signal.SIGKILL
    assert waiting >= 100, window
    assert times.keys() == expected, window
    assert 1 <= len(in_flight) <= PROCESSES, window
    assert sink.ids[79] in twice, window
    assert twice <= in_flight, window
    assert len(sink.taken) == len(expected) + len(twice), window
    assert Reminder.objects.filter(state=State.SENT).count() == 200


def test_two_workers_and_two_ticks_at_once_send_each_reminder_once(queue: Queue, sink: Sink) -> None:
    expected = due_reminders(60)
    for _ in range(2):
        queue.start_worker(processes=1)
    busy = threading.Event()
    sink.when_taken = lambda count: busy.set()
    for _ in range(4):
        queue.tick()
    assert busy.wait(60), queue.logs()
    queue.until(all_sent)
    assert Counter(sink.ids) == dict.fromkeys(expected, 1)
    assert set(Reminder.objects.filter(state=State.SENT).values_list("attempts", flat=True)) == {1}


@pytest.fixture
def over_smtp(sink: Sink, settings: Any, transactional_db: None) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", sink.port
    settings.EMAIL_TIMEOUT = 0.5


@pytest.mark.usefixtures("over_smtp")
def test_a_refused_address_fails_with_the_servers_words_and_nine_others_arrive(sink: Sink) -> None:
    due_reminders(10)
    sink.answer = lambda address: "550 5.1.1 Nobody of that name" if "player2" in address else "250 OK"
    send_due()
    assert Counter(address for _, address in sink.taken) == {
        f"player{n}@example.org": 2 for n in (0, 1, 3, 4)
    }
    failed = Reminder.objects.filter(state=State.FAILED)
    assert {(row.person.name, row.error) for row in failed} == {("Player2", "550 5.1.1 Nobody of that name")}


@pytest.mark.usefixtures("over_smtp")
def test_where_one_letter_meets_silence_the_others_go_on_and_it_is_tried_again(sink: Sink) -> None:
    due_reminders(5)
    sink.silent_for = "player0@example.org"
    begin = time.monotonic()
    send_due()
    send_due()
    assert time.monotonic() - begin < 3
    assert {address for _, address in sink.taken} == {f"player{n}@example.org" for n in (1, 2, 3, 4)}
    (row,) = Reminder.objects.filter(state=State.SENDING)
    assert row.error == "The mail server does not answer."
    sink.silent_for = ""
    with time_machine.travel(timezone.now() + FIRST_PAUSE, tick=False):
        send_due()
    assert len(sink.taken) == 5
    assert len(set(sink.ids)) == 5


@pytest.mark.usefixtures("over_smtp")
def test_a_server_that_accepts_and_stays_silent_holds_a_round_for_one_timeout(settings: Any) -> None:
    due_reminders(10)
    with socket.create_server(("127.0.0.1", 0)) as deaf:
        settings.EMAIL_PORT = deaf.getsockname()[1]
        begin = time.monotonic()
        assert send_due() == 1
        assert time.monotonic() - begin < 2
    assert Reminder.objects.filter(state=State.WAITING, kind="morning").count() == 9
    (row,) = Reminder.objects.filter(state=State.SENDING)
    assert row.error == "The mail server does not answer."
