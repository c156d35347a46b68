"""`manage.py test`: what touches the database on PostgreSQL, then the whole suite on SQLite."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests import services


def run_pytest(title: str, arguments: list[str], database_url: str = "") -> int:
    print(f"\n=== {title} ===", flush=True)
    environment = {**os.environ, "DATABASE_URL": database_url}
    if not database_url:
        del environment["DATABASE_URL"]
    return subprocess.call([sys.executable, "-m", "pytest", *arguments], env=environment)


def on_postgresql(arguments: list[str]) -> int:
    try:
        with services.postgresql(os.environ.get("DATABASE_URL", "")) as url:
            title = "On PostgreSQL: every test that touches the database"
            result = run_pytest(title, [*arguments, "--database-tests"], url)
    except services.Missing as missing:
        print(f"\n=== SKIPPED on PostgreSQL. {missing} ===")
        return int(os.environ.get("CI") == "true")
    return 0 if arguments and result == pytest.ExitCode.NO_TESTS_COLLECTED else result


def main(arguments: list[str]) -> int:
    """Both runs; the exit code is the first that isn't 0. A run that was interrupted stops the whole."""
    first = on_postgresql(arguments)
    if first == pytest.ExitCode.INTERRUPTED:
        return first
    second = run_pytest("On SQLite: the whole suite", arguments)
    if first and not second:
        print("The run on PostgreSQL, above, did not pass.")
    return first or second


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
