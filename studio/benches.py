"""Benches of the house itself."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time

from django.conf import settings

from studio.benching import Measured, bench


@bench("restart", unit="s", target=5.0)
def restart() -> Measured:
    with tempfile.TemporaryDirectory(prefix="deskhand-bench-") as var:
        seconds_until_up(var)
        return Measured(
            value=seconds_until_up(var),
            baseline=seconds_to_load_django(var),
            how="the second `up --without-demo` in a folder, until web server, worker and beat answer; "
            "baseline: one process that only loads the site's code",
        )


def seconds_until_up(var: str) -> float:
    """Starts the house on a free port, waits for the line with its address, and stops it."""
    began = time.monotonic()
    command = [sys.executable, "manage.py", "up", "--port", "0", "--without-demo"]
    with subprocess.Popen(  # noqa: S603  our own command
        command, cwd=settings.BASE_DIR, env=environment(var), stdout=subprocess.PIPE, text=True
    ) as house:
        if house.stdout is None or "is up at" not in house.stdout.readline():
            raise RuntimeError("the house did not start")
        seconds = time.monotonic() - began
        house.send_signal(signal.SIGTERM)
        house.communicate()
    return seconds


def seconds_to_load_django(var: str) -> float:
    began = time.monotonic()
    command = [sys.executable, "manage.py", "shell", "-v", "0", "-c", ""]
    subprocess.run(command, cwd=settings.BASE_DIR, env=environment(var), check=True)  # noqa: S603
    return time.monotonic() - began


def environment(var: str) -> dict[str, str]:
    elsewhere = {"DATABASE_URL", "REDIS_URL"}
    return {name: value for name, value in os.environ.items() if name not in elsewhere} | {
        "DESKHAND_VAR": var
    }
