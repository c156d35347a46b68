"""Celery's messages as files in a folder, for a house on one machine without Redis.

Kombu's own transport opens a message under its final name before it writes it, so now and then a worker takes
an empty file and ends. Here a message is written aside, then renamed, and taken by renaming it again.
"""

from __future__ import annotations

import os
import time
import uuid
from pathlib import Path
from queue import Empty
from typing import Any

from kombu.transport import filesystem
from kombu.utils.json import dumps, loads

LONGEST_WAIT_SECONDS = 0.5  # a worker that is told to stop finishes two waits first


class Channel(filesystem.Channel):
    def _put(self, queue: str, payload: Any, **_: Any) -> None:  # type: ignore[override]
        path = Path(self.data_folder_out, f"{time.time_ns()}_{uuid.uuid4()}.{queue}.msg")
        aside = path.with_suffix(".writing")
        aside.write_text(dumps(payload), "utf-8")
        aside.rename(path)

    def _get(self, queue: str, timeout: float | None = None) -> Any:
        waiting = sorted(name for name in os.listdir(self.data_folder_in) if name.endswith(f".{queue}.msg"))
        for message in (Path(self.data_folder_in, name) for name in waiting):
            taken = message.with_suffix(".taken")
            try:
                message.rename(taken)
            except FileNotFoundError:  # another worker was quicker
                continue
            payload = taken.read_text("utf-8")
            taken.unlink()
            return loads(payload)
        raise Empty

    def _queue_bind(
        self, exchange: str, routing_key: str | None, pattern: str | None, queue: str | None
    ) -> None:
        """Written aside and renamed under a lock of its own: Kombu empties the table, then waits for its readers."""
        bound = filesystem.exchange_queue_t(routing_key or "", pattern or "", queue or "")
        file: Path = self._exchange_file(exchange)  # type: ignore[attr-defined]
        self.control_folder.mkdir(exist_ok=True)
        with file.with_suffix(".lock").open("w") as door:
            filesystem.lock(door, filesystem.LOCK_EX)  # type: ignore[attr-defined]
            table = self.get_table(exchange)
            if bound not in table:
                aside = file.with_suffix(".writing")
                aside.write_text(dumps([bound, *table]), "utf-8")
                aside.rename(file)

    def _lookup(self, exchange: str, routing_key: str, default: str | None = None) -> list[str]:
        """A queue that is just being bound has the name of its key, as all of ours do: nothing is thrown away."""
        return list(super()._lookup(exchange, routing_key, default)) or [routing_key]


class Transport(filesystem.Transport):
    Channel = Channel

    def drain_events(self, connection: Any, timeout: float | None = None, **_: Any) -> None:
        wait = timeout if timeout is None else min(timeout, LONGEST_WAIT_SECONDS)
        super().drain_events(connection, timeout=wait)
