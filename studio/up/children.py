"""The processes that `up` starts, watches and stops: web server, worker and beat."""

from __future__ import annotations

import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from django.conf import settings

from studio.up.door import UpError

TOO_SHORT_A_LIFE_SECONDS = 20
SECONDS_TO_STOP = 8
PR_SET_PDEATHSIG = 1  # Linux man-pages, prctl(2)


@dataclass
class Child:
    """One process in a session of its own, so that Ctrl-C in the terminal reaches only `up`."""

    name: str
    command: list[str]
    log: Path
    environment: dict[str, str]
    inherited: tuple[int, ...] = ()
    process: subprocess.Popen[bytes] = field(init=False)
    started_seconds: float = field(init=False)

    def start(self) -> None:
        self.started_seconds = time.monotonic()
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(  # noqa: S603  our own commands
                [sys.executable, "-m", *self.command],
                cwd=settings.BASE_DIR,
                env={**os.environ, **self.environment},
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                pass_fds=self.inherited,
                start_new_session=True,
                preexec_fn=die_with_parent,
            )

    def see_to(self) -> str:
        """Starts the process again if it ended; one that hardly lived would only end again."""
        if self.process.poll() is None:
            return ""
        ended = f"The {self.name} stopped by itself (exit code {self.process.returncode}; see {self.log})."
        if time.monotonic() - self.started_seconds < TOO_SHORT_A_LIFE_SECONDS:
            raise UpError(ended)
        self.start()
        return f"{ended} It was started again."

    def signal_group(self, number: signal.Signals) -> None:
        try:
            os.killpg(self.process.pid, number)
        except ProcessLookupError:
            return


def die_with_parent() -> None:
    """Linux ends a child whose `up` was killed; elsewhere only a stop that `up` sees to is complete."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)


@contextmanager
def running(children: Sequence[Child]) -> Iterator[None]:
    try:
        for child in children:
            child.start()
        yield
    finally:
        with undisturbed():
            stop([child for child in children if hasattr(child, "process")])


@contextmanager
def undisturbed() -> Iterator[None]:
    """Whoever presses Ctrl-C twice does not cut the stopping short."""
    signals = (signal.SIGINT, signal.SIGTERM)
    before = [signal.signal(number, signal.SIG_IGN) for number in signals]
    try:
        yield
    finally:
        for number, handler in zip(signals, before, strict=True):
            signal.signal(number, handler)


def stop(children: Sequence[Child]) -> None:
    """Asks each to finish what it is at, then makes sure that nothing of its group is left."""
    for child in children:
        child.process.send_signal(signal.SIGTERM)
    until = time.monotonic() + SECONDS_TO_STOP
    for child in children:
        with suppress(subprocess.TimeoutExpired):
            child.process.wait(max(0.0, until - time.monotonic()))
        child.signal_group(signal.SIGKILL)
        child.process.wait()
