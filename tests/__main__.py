"""`manage.py test`: the whole suite on SQLite and, beside it, what touches the database on PostgreSQL.

The whole suite runs two files at a time on each of them, chosen tests run as they are asked for.
The second run's output is kept and shown once the first is through.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from typing import IO

import pytest

from tests import services

LEFT_BEHIND = {
    "DATABASE_URL",
    "PYTHONDONTWRITEBYTECODE",
}  # some hundred processes would each compile everything
TWO_AT_A_TIME = ["-n", "2", "--dist", "loadfile", "--no-loadscope-reorder"]


def start(
    arguments: list[str], database_url: str = "", output: IO[bytes] | None = None
) -> subprocess.Popen[bytes]:
    environment = {name: value for name, value in os.environ.items() if name not in LEFT_BEHIND}
    if database_url:
        environment["DATABASE_URL"] = database_url
    command = [sys.executable, "-m", "pytest", *arguments]
    return subprocess.Popen(
        command, env=environment, stdout=output, stderr=subprocess.STDOUT if output else None
    )


def on_sqlite(arguments: list[str]) -> int:
    print("\n=== On SQLite: the whole suite ===", flush=True)
    return start(arguments or TWO_AT_A_TIME).wait()


def on_both(arguments: list[str], url: str) -> tuple[int, int]:
    with tempfile.TemporaryFile() as output:
        beside = start([*(arguments or TWO_AT_A_TIME), "--database-tests"], url, output)
        try:
            first = on_sqlite(arguments)
            if first == pytest.ExitCode.INTERRUPTED:
                return first, first
            second = beside.wait()
        finally:
            beside.kill()
        print("\n=== On PostgreSQL: what touches the database, but for pages and forms ===", flush=True)
        output.seek(0)
        sys.stdout.buffer.write(output.read())
        sys.stdout.flush()
    return first, second


def main(arguments: list[str]) -> int:
    """Both runs; the exit code is the first that isn't 0."""
    try:
        with services.postgresql(os.environ.get("DATABASE_URL", "")) as url:
            first, second = on_both(arguments, url)
    except services.Missing as missing:
        result = on_sqlite(arguments)
        print(f"SKIPPED the whole run on {missing}")
        return result or int(os.environ.get("CI") == "true")
    if arguments and second == pytest.ExitCode.NO_TESTS_COLLECTED:
        print("None of the chosen tests touches the database, so PostgreSQL had nothing to do.")
        second = 0
    return first or second


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
