"""Many processes want the same hour at once (field cases F40, F41, F62), on the database the test runs on."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from bookings.booking import change
from bookings.models import Job, Session
from bookings.wishes import not_kept
from studio.claims import Conflict
from studio.models import Claim, Resource, Room
from tasks.models import Plan
from tests.bookings.cast import make_draft, make_job, make_session, manager
from tests.bookings.racer import START
from tests.house import make_mic, make_preamp, make_room, make_site, make_stock

PROCESSES = 4
LATER, LIST = ("14:00", "16:00"), "kick\nsnare\nvocal"
ROOT = Path(__file__).resolve().parent.parent.parent
Race = Callable[..., "Counter[str]"]


def wish(do: str, room: Room, load_in: str, end: str, **more: Any) -> dict[str, Any]:
    moments = {"load_in": load_in, "downbeat": load_in, "end": end}
    return {"do": do, "room": room.pk, "job": Job.objects.get().pk, **moments, **more}


@pytest.fixture(scope="module")
def racers() -> Iterator[list[subprocess.Popen[str]]]:
    """Started by the first test that races, ended after the last one."""
    started: list[subprocess.Popen[str]] = []
    yield started
    for process in started:
        os.killpg(process.pid, signal.SIGKILL)  # and what it has forked
        process.communicate()


@pytest.fixture
def race(racers: list[subprocess.Popen[str]], database_environment: dict[str, str], tmp_path: Path) -> Race:
    """Deals threads out to so many processes, lets all of them go at once, and counts the outcomes."""
    environment = {**database_environment, "DJANGO_SETTINGS_MODULE": "studio.settings"}
    environment["DESKHAND_LOCK_SECONDS"] = "300"  # eight processes at once on a busy machine wait long
    if not racers:
        command = [sys.executable, "-c", START]
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
        started = subprocess.Popen(
            command, cwd=ROOT, env=environment, text=True, start_new_session=True, **pipes
        )
        racers.append(started)

    def go(threads: list[list[dict[str, Any]]], processes: int = PROCESSES) -> Counter[str]:
        shares = [threads[number::processes] for number in range(processes)]
        order = {"signal": str(tmp_path / "go"), "processes": shares}
        assert racers[0].stdin is not None
        assert racers[0].stdout is not None
        print(json.dumps(order), file=racers[0].stdin, flush=True)
        wait_until_ready(tmp_path, len(threads), racers[0])
        (tmp_path / "go").touch()
        return Counter(json.loads(racers[0].stdout.readline()))

    return go


def wait_until_ready(folder: Path, count: int, racer: subprocess.Popen[str]) -> None:
    until = time.monotonic() + 90
    while len(list(folder.glob("go.*"))) < count:
        assert racer.poll() is None, "the racers ended before the start"
        assert time.monotonic() < until, "not all threads came to the start"
        time.sleep(0.02)


def overlaps_of_firm_claims() -> int:
    """Counted by hand, pair by pair."""
    found = 0
    for resource in Resource.objects.filter(exclusive=True):
        spans = [claim.span for claim in Claim.objects.firm().filter(resource=resource)]
        found += sum(a.overlaps(b) for number, a in enumerate(spans) for b in spans[:number])
    return found


def test_of_a_hundred_who_want_the_same_room_and_hour_exactly_one_gets_it(race: Race) -> None:
    manager(), make_job()
    room = make_room("Weaving Hall")
    attempts = [[wish("book", room, "2027-03-04 10:00", "2027-03-04 12:00")] * 2] * 50
    assert race(attempts) == {"booked": 1, "conflict": 99}
    assert Session.objects.count() == 1
    assert Claim.objects.count() == 3  # setup, session and turnaround of one session


def test_a_form_pressed_many_times_at_once_books_one_session(race: Race) -> None:
    """Field case F62: nobody sees an error, everybody is shown the first session."""
    manager(), make_job()
    key = "6a0c1f6e-7a2f-4a0d-9a50-2f0f4c1f2a11"
    once = wish("book", make_room(), "2027-03-04 10:00", "2027-03-04 12:00", form_key=key)
    assert race([[once]] * 20) == {"booked": 20}
    assert Session.objects.count() == 1


def test_of_many_sessions_moved_into_one_hour_exactly_one_arrives(race: Race) -> None:
    manager(), make_job()
    hall = make_room("Weaving Hall")
    others = [make_session(make_room(f"Room {number}"), "10:00", "12:00") for number in range(20)]
    moves = [
        [wish("move", hall, "2027-03-05 10:00", "2027-03-05 12:00", session=session.pk)] for session in others
    ]
    assert race(moves) == {"moved": 1, "conflict": 19}
    assert Session.objects.filter(room=hall).count() == 1
    assert overlaps_of_firm_claims() == 0
    assert Claim.objects.count() == 3 + 19


def test_those_who_want_a_unit_and_plan_with_another_s_never_wait_for_each_other(race: Race) -> None:
    """Two sites share their units; a plan made anew takes gear without the ladder of its site."""
    manager(), make_job()
    sites = [make_site("Mill Lane"), make_site("Quay House")]
    units = [
        make_mic(f"M-{number}", site=site)
        for site in sites
        for number in range(site.pk * 10, site.pk * 10 + 9)
    ]
    for site in sites:
        make_preamp(f"Rack {site.pk}", 32, site=site)
        for stand in ("short boom", "tall boom", "low boom"):
            make_stock(stand, 40, site)
    rooms = [make_room(f"Room {number}", sites[number % 2]) for number in range(6)]
    hour = ("2027-03-04 10:00", "2027-03-04 12:00")
    planned = [
        make_session(make_room(f"Old {site.pk}", site), *LATER, instrument_list=LIST) for site in sites
    ]
    threads = [
        [
            wish("book", room, *hour, list=LIST, wanted=[units[(number + 5 * turn) % 18].pk])
            for turn in range(2)
        ]
        + [wish("replan", room, *hour, session=planned[number % 2].pk)]
        for number, room in enumerate(rooms)
    ]
    outcomes = race(threads)
    assert set(outcomes) <= {"booked", "conflict", "planned"}, outcomes
    assert outcomes["booked"] >= 1
    assert overlaps_of_firm_claims() == 0
    booked = Session.objects.filter(wanted_units__isnull=False)
    assert not not_kept(list(booked))
    assert not Plan.objects.filter(stale=True).exists()  # a plan that had to wait in a circle is given up


@pytest.mark.django_db
def test_a_loser_finds_nothing_half_saved() -> None:
    room = make_room()
    make_session(room, "14:00", "16:00")
    session = make_session(room, "10:00", "12:00")
    with pytest.raises(Conflict):
        change(manager(), session.pk, 1, make_draft(room, "13:00", "15:00"))
    assert (Session.objects.count(), Claim.objects.count(), session.history.count()) == (2, 2, 1)
