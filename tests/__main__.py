"""`manage.py test`: what touches the database on PostgreSQL, then the whole suite on SQLite."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests import services


def run_pytest(title: str, arguments: list[str], database_url: str = "") -> int:
    print(f"\n=== {title} ===", flush=True)
    environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    if database_url:
        environment["DATABASE_URL"] = database_url
    return subprocess.call([sys.executable, "-m", "pytest", *arguments], env=environment)


def on_postgresql(arguments: list[str]) -> tuple[int, str]:
    """The exit code, and what to say of it at the very end."""
    try:
        with services.postgresql(os.environ.get("DATABASE_URL", "")) as url:
            title = "On PostgreSQL: every test that touches the database"
            result = run_pytest(title, [*arguments, "--database-tests"], url)
    except services.Missing as missing:
        return int(os.environ.get("CI") == "true"), f"SKIPPED the whole run on {missing}"
    if arguments and result == pytest.ExitCode.NO_TESTS_COLLECTED:
        return 0, "None of the chosen tests touches the database, so PostgreSQL had nothing to do."
    return result, "The run on PostgreSQL, above, did not pass." if result else ""


def main(arguments: list[str]) -> int:
    """Both runs; the exit code is the first that isn't 0. A run that was interrupted stops the whole."""
    first, remark = on_postgresql(arguments)
    if first == pytest.ExitCode.INTERRUPTED:
        return first
    second = run_pytest("On SQLite: the whole suite", arguments)
    if remark:
        print(remark)
    return first or second


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
