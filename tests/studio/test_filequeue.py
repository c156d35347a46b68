"""The queue as files: every message arrives once, whole, however many write and read at the same time."""

import json
import os
import threading
import time
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from kombu import Connection, Exchange, Queue

MESSAGES = 300


@pytest.fixture
def wake_ups(request: pytest.FixtureRequest) -> Queue:
    """A queue of this test's own: kombu remembers, for the whole process, which queues it has declared."""
    name = request.node.name
    return Queue(name, Exchange(name, "direct"), name)


@pytest.fixture
def folders(tmp_path: Path) -> dict[str, Any]:
    messages, control = tmp_path / "messages", tmp_path / "control"
    messages.mkdir()
    control.mkdir()
    return {
        "data_folder_in": str(messages),
        "data_folder_out": str(messages),
        "control_folder": str(control),
        "polling_interval": 0.001,
    }


def queue(folders: dict[str, Any]) -> Connection:
    return Connection("filesystem://here", transport="studio.filequeue:Transport", transport_options=folders)


def send(folders: dict[str, Any], wake_ups: Queue, numbers: range) -> None:
    with queue(folders) as connection:
        producer = connection.Producer(serializer="json")
        for number in numbers:
            producer.publish(
                number, exchange=wake_ups.exchange, routing_key=wake_ups.name, declare=[wake_ups]
            )


def receive(
    folders: dict[str, Any], wake_ups: Queue, got: Counter[int], wanted: int, seconds: float = 30
) -> None:
    def keep(number: int, message: Any) -> None:
        got[number] += 1
        message.ack()

    until = time.monotonic() + seconds
    with queue(folders) as connection, connection.Consumer([wake_ups], callbacks=[keep]):
        while sum(got.values()) < wanted and time.monotonic() < until:
            try:
                connection.drain_events(timeout=0.1)
            except TimeoutError:
                continue


def test_two_writers_and_two_readers_lose_and_repeat_nothing(
    folders: dict[str, Any], wake_ups: Queue
) -> None:
    got: Counter[int] = Counter()
    readers = [
        threading.Thread(target=receive, args=(folders, wake_ups, got, 2 * MESSAGES)) for _ in range(2)
    ]
    writers = [
        threading.Thread(target=send, args=(folders, wake_ups, range(start, start + MESSAGES)))
        for start in (0, MESSAGES)
    ]
    for thread in [*readers, *writers]:
        thread.start()
    for thread in [*writers, *readers]:
        thread.join()
    assert got == Counter(range(2 * MESSAGES))
    assert list(Path(folders["data_folder_in"]).iterdir()) == []


def test_messages_come_in_the_order_they_were_sent(folders: dict[str, Any], wake_ups: Queue) -> None:
    send(folders, wake_ups, range(20))
    got: Counter[int] = Counter()
    receive(folders, wake_ups, got, 20)
    assert list(got) == list(range(20))


def test_whoever_looks_sees_whole_messages_only(folders: dict[str, Any], wake_ups: Queue) -> None:
    writer = threading.Thread(target=send, args=(folders, wake_ups, range(MESSAGES)))
    writer.start()
    seen: set[str] = set()
    while writer.is_alive():
        waiting = {entry for entry in os.scandir(folders["data_folder_in"]) if entry.name.endswith(".msg")}
        for entry in waiting:
            if entry.name not in seen:
                assert json.loads(Path(entry.path).read_text())["body"]
                seen.add(entry.name)
    assert len(seen) > 1
