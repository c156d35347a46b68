"""Benches of the house itself."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from itertools import islice
from typing import Any

from django.conf import settings
from django.db import connection
from django.utils import timezone

from studio.benches_of_gear import UNITS, house_of_gear, typed
from studio.benching import Measured, bench, own_database
from studio.gear.answers import answers
from studio.gear.search import find, units_index
from studio.models import GearUnit

SHOWN, QUERIES = 12, 600


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


@bench("gear look-up", unit="ms", most_times=4)
def gear_look_up() -> Measured:
    with own_database():
        house_of_gear()
        queries = list(islice(typed(), QUERIES))
        pages = [[hit.pk for hit in find(query, SHOWN)] for query in queries]
        searched = p95_ms(lambda query: find(query, SHOWN), queries)
        bare = p95_ms(rows_of, pages)
        answered = p95_ms(lambda query: answers(find(query, SHOWN), timezone.now(), None), queries)
        made = seconds(units_index)
        unit = GearUnit.objects.order_by("pk")[UNITS // 2]
        unit.tag = "Renamed 1"
        unit.save()
        renewed = seconds(lambda: find("renamed 1", SHOWN))
        return Measured(
            value=searched,
            baseline=bare,
            how=f"p95 of {QUERIES} queries over {UNITS:,} units, by tag, serial, kind, words, half typed, misspelt; "
            f"baseline: the bare SQL that reads the {SHOWN} units of the page by primary key with model and room. "
            f"With reading them, state, claims and next free span: {answered:.1f} ms; "
            f"the index is made in {made:.1f} s, once, and is right again {renewed:.2f} s after a unit has changed",
        )


def seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def p95_ms(work: Callable[[Any], object], asked: Iterable[Any]) -> float:
    """Milliseconds that 95 of 100 stay within, of each the quickest of five turns."""
    spent = []
    for each in asked:
        turns = []
        for _ in range(5):
            began = time.perf_counter()
            work(each)
            turns.append(time.perf_counter() - began)
        spent.append(min(turns))
    return 1000 * sorted(spent)[int(0.95 * len(spent))]


ROWS = """SELECT unit.id, unit.tag, unit.serial, unit.storage, model.maker, model.name, model.kind, room.name
FROM studio_gearunit unit JOIN studio_gearmodel model ON model.id = unit.gear_model_id
LEFT JOIN studio_room room ON room.id = unit.home_room_id WHERE unit.id IN (%s)"""


def rows_of(pks: list[int]) -> list[tuple[object, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(ROWS.replace("%s", ", ".join(["%s"] * max(len(pks), 1))), pks or [0])
        rows: list[tuple[object, ...]] = cursor.fetchall()
    return rows
