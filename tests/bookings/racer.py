"""Processes of their own, full of threads that book or move against each other, started by one signal.

The test writes one JSON line a race on stdin: {"signal": PATH, "processes": [[[wish, …], …], …]}, the wishes
of each thread of each process, and is answered with one JSON line that counts the outcomes. The processes are
forked from this one, which has loaded everything and never talks to a database.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

from django.db import connection

from bookings.booking import Draft, Stale, book, cancel, change
from bookings.holds import NotNow, challenge, confirm, lapse_holds, release
from bookings.ladder import PastHolds
from bookings.models import Session
from studio.claims import Conflict
from studio.models import Person, Room
from tasks.catalogue import load_catalogue
from tasks.follow import replan
from tasks.planning import plan
from tasks.reading import read
from tests.house import at

START = "import django; django.setup(); from tests.bookings.racer import main; main()"


def confirmed(by: Person, hold: Session) -> str:
    confirm(by, hold.pk, hold.version)
    return "confirmed"


def overruled(by: Person, hold: Session) -> str:
    confirm(by, hold.pk, hold.version, "race")
    return "confirmed"


def challenged(by: Person, hold: Session) -> str:
    challenge(by, hold.pk)
    return "challenged"


def released(by: Person, hold: Session) -> str:
    release(by, hold.pk)
    return "released"


def lapsed(by: Person, hold: Session) -> str:
    lapse_holds()
    return "lapsed"


ON_HOLDS = {
    "confirm": confirmed,
    "overrule": overruled,
    "challenge": challenged,
    "release": released,
    "lapse": lapsed,
}


def attempt(by: Person, wish: dict[str, Any]) -> str:
    """One attempt: “booked”, “confirmed”, “conflict”, “stale”, “past holds” … or the error's own words."""
    try:
        if wish["do"] == "cancel":
            session = Session.objects.get(pk=wish["session"])
            cancel(by, session.pk, session.version, "race")
            return "cancelled"
        if wish["do"] == "replan":
            return "planned" if replan(wish["session"]) else "not planned"
        if wish["do"] in ON_HOLDS:
            return ON_HOLDS[wish["do"]](by, Session.objects.get(pk=wish["session"]))
        room = Room.objects.select_related("site").get(pk=wish["room"])
        moments = {name: at(wish[name]) for name in ("load_in", "downbeat", "end")}
        more = {"instrument_list": wish.get("list", ""), "wanted_units": tuple(wish.get("wanted", ()))}
        draft = Draft(wish["job"], room, "Race", **moments, status=wish.get("status", "confirmed"), **more)
        if wish["do"] == "book":
            book(by, draft, wish.get("form_key"))
            return "booked"
        session = Session.objects.get(pk=wish["session"])
        change(by, session.pk, session.version, replace(draft, title=session.title))
        return "moved"
    except Conflict:
        return "conflict"
    except Stale:
        return "stale"
    except PastHolds:
        return "past holds"
    except NotNow:
        return "not now"
    except Exception as error:  # an outcome like any other: the test says that there must be none
        return f"{type(error).__name__}: {error}"


def run(by: Person, signal: Path, number: int, wishes: list[dict[str, Any]]) -> list[str]:
    connection.ensure_connection()
    signal.with_suffix(f".{os.getpid()}-{number}").touch()
    while not signal.exists():
        time.sleep(0.005)
    try:
        return [attempt(by, wish) for wish in wishes]
    finally:
        connection.close()


def one_process(signal: Path, threads: list[list[dict[str, Any]]]) -> Counter[str]:
    by = Person.objects.prefetch_related("roles_held").get(roles_held__role="manager")
    connection.close()
    with ThreadPoolExecutor(max(len(threads), 1)) as pool:
        done = [pool.submit(run, by, signal, number, wishes) for number, wishes in enumerate(threads)]
        return Counter(outcome for each in done for outcome in each.result())


def one_race(signal: Path, processes: list[list[list[dict[str, Any]]]]) -> Counter[str]:
    """Each process has one share: it stays at it until the signal comes, and so takes no other's."""
    with ProcessPoolExecutor(len(processes), multiprocessing.get_context("fork")) as pool:
        done = [pool.submit(one_process, signal, threads) for threads in processes]
        return sum((each.result() for each in done), Counter[str]())


def load_everything() -> None:
    """What a booking loads when it is first needed: word books and solver."""
    assert plan
    read("kick", load_catalogue())


def main() -> None:
    load_everything()
    for line in sys.stdin:
        order = json.loads(line)
        print(json.dumps(one_race(Path(order["signal"]), order["processes"])), flush=True)
