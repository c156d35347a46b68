"""One `up` a folder, one listener a port; whoever comes second is told so in a sentence."""

from __future__ import annotations

import errno
import fcntl
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class UpError(Exception):
    """Why the house can't open or stay open, in one sentence for whoever gave the command."""


@contextmanager
def only_one(var: Path) -> Iterator[None]:
    """Holds a lock in the var folder; the system lets go of it however this process ends."""
    try:
        file = (var / "up.lock").open("a+")
    except OSError as problem:
        raise UpError(f"Deskhand can't write in {var}: {problem.strerror}.") from None
    with file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            file.seek(0)
            raise UpError(f"Deskhand is already up here, as process {file.read().strip()}.") from None
        file.truncate(0)
        file.write(str(os.getpid()))
        file.flush()
        yield


@contextmanager
def listening(host: str, port: int) -> Iterator[socket.socket]:
    """The web server's socket, opened here so that a taken port is noticed before anything starts."""
    if not 0 <= port <= 65535:
        raise UpError(f"There is no port {port}: choose one from 1 to 65535 with --port.")
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        door = socket.create_server((host, port), family=family, backlog=128)
    except OSError as problem:
        raise UpError(why_not(problem, host, port)) from None
    with door:
        yield door


def why_not(problem: OSError, host: str, port: int) -> str:
    if problem.errno == errno.EADDRINUSE:
        return f"Port {port} of {host} is taken by another program: choose another with --port."
    if problem.errno in (errno.EADDRNOTAVAIL, socket.EAI_NONAME):
        return f"{host} is no address of this machine: choose another with --host."
    return f"Deskhand can't listen on port {port} of {host}: {os.strerror(problem.errno or 0)}."
