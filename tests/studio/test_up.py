"""`manage.py up` as its own process: it answers, it is alone, and it leaves nothing behind."""

from __future__ import annotations

import json
import os
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.request import urlopen

import psycopg
import pytest
from playwright.sync_api import Page

from studio.up.children import Child, running
from studio.up.door import UpError, listening
from tests.services import outside_environment

UP = [sys.executable, "manage.py", "up", "--port"]
WITHOUT_DEMO = "--without-demo"
ALL_WELL = {"database": "ok", "queue": "ok", "beat": "ok"}


@contextmanager
def up(environment: dict[str, str], *options: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The process of `up` on a free port, and its address once it has said that it is up."""
    house = subprocess.Popen([*UP, "0", *options], env=environment, stdout=subprocess.PIPE, text=True)
    try:
        assert house.stdout
        said = line_with_address(house.stdout)
        assert said.startswith("Deskhand is up at http://127.0.0.1:"), said
        yield house, said.split()[4]
    finally:
        house.terminate()
        house.communicate(timeout=30)


def line_with_address(lines: Iterable[str]) -> str:
    return next((line for line in lines if "is up at" in line), "It ended before it was up.")


def refused(environment: dict[str, str], port: int = 0) -> str:
    """What `up` says when it can't start; one sentence, and an exit code that says so too."""
    done = subprocess.run(
        [*UP, str(port), WITHOUT_DEMO], env=environment, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    return done.stderr.strip()


def health(address: str) -> dict[str, str]:
    with urlopen(f"{address}/healthz", timeout=5) as answer:  # noqa: S310
        return dict(json.load(answer))


def left_over(var: Path) -> list[str]:
    """The command lines of processes that were given this var folder."""
    mark = f"DESKHAND_VAR={var}".encode()
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if mark in (process / "environ").read_bytes().split(b"\0"):
                found.append((process / "cmdline").read_text().replace("\0", " "))
        except OSError:
            continue  # it ended meanwhile, or it is another person's
    return found


def wait_for(happened: Callable[[], bool], seconds: float = 20) -> bool:
    until = time.monotonic() + seconds
    while not happened() and time.monotonic() < until:
        time.sleep(0.1)
    return happened()


@dataclass(frozen=True)
class House:
    """A running `up`: its var folder, the environment it was given, its process and where it answers."""

    var: Path
    environment: dict[str, str]
    process: subprocess.Popen[str]
    address: str


@pytest.fixture(scope="module")
def first_house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """Opened for the first time in an empty folder, for all tests that only ask; the last one kills it."""
    var = tmp_path_factory.mktemp("house")
    environment = outside_environment(var)
    with up(environment) as (process, address):
        yield House(var, environment, process, address)


def test_first_start_loads_the_demo_house_and_its_printed_passwords_sign_in(
    first_house: House, open_page: Callable[[], Page]
) -> None:
    said = first_house.process.stdout
    assert said
    assert said.readline() == "Sign in as one of these people of the demo house:\n"
    kept = first_house.var / "demo-sign-in.txt"
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    people = [said.readline() for _ in kept.read_text("utf-8").splitlines()]
    for role in ("manager", "assistant", "engineer", "bench tech"):
        username, password, *_ = next(line for line in people if role in line).split()
        page = open_page()
        page.goto(f"{first_house.address}/sign-in")
        page.get_by_label("Name").fill(username)
        page.get_by_label("Password").fill(password)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(lambda url: "sign-in" not in url)
        page.context.close()  # before its page asks a house that has closed


def test_up_answers_in_all_parts_and_stands_alone(first_house: House) -> None:
    assert health(first_house.address) == ALL_WELL
    second = refused(first_house.environment)
    assert second == f"Deskhand is already up here, as process {first_house.process.pid}."
    assert health(first_house.address) == ALL_WELL


def test_up_that_is_killed_takes_its_children_along_starts_again_and_stops_without_orphans(
    first_house: House,
) -> None:
    var, environment = first_house.var, first_house.environment
    assert len(left_over(var)) >= 4
    first_house.process.kill()
    first_house.process.wait()
    assert wait_for(lambda: left_over(var) == []), left_over(var)
    with up(environment, WITHOUT_DEMO) as (house, address):
        assert health(address) == ALL_WELL
        assert len(left_over(var)) >= 4
        house.send_signal(signal.SIGTERM)
        said, _ = house.communicate(timeout=30)
        assert said.endswith("Deskhand has stopped.\n")
        assert house.returncode == 0
    assert left_over(var) == []


@pytest.fixture
def own_database(postgresql_url: str) -> Iterator[str]:
    before, _, after = postgresql_url.partition("?")
    with psycopg.connect(postgresql_url, autocommit=True) as server:
        server.execute("CREATE DATABASE deskhand_up")
        yield f"{before.rpartition('/')[0]}/deskhand_up?{after}"
        server.execute("DROP DATABASE deskhand_up WITH (FORCE)")


def test_up_works_on_postgresql_and_redis(own_database: str, redis_url: str, tmp_path: Path) -> None:
    environment = outside_environment(tmp_path, DATABASE_URL=own_database, REDIS_URL=redis_url)
    with up(environment, WITHOUT_DEMO) as (_, address):
        assert health(address) == ALL_WELL
    assert not list(tmp_path.glob("*.sqlite3"))
    assert not list((tmp_path / "queue").rglob("*.*"))


def test_a_taken_port_is_named(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        sentence = refused(outside_environment(tmp_path), port)
    assert sentence == f"Port {port} of 127.0.0.1 is taken by another program: choose another with --port."


@pytest.mark.parametrize(
    ("host", "port", "sentence"),
    [
        ("127.0.0.1", 70000, "There is no port 70000: choose one from 1 to 65535 with --port."),
        ("192.0.2.1", 0, "192.0.2.1 is no address of this machine: choose another with --host."),  # RFC 5737
        ("desk.invalid", 0, "desk.invalid is no address of this machine: choose another with --host."),
    ],
)
def test_an_address_that_cannot_be_listened_on_is_named(host: str, port: int, sentence: str) -> None:
    with pytest.raises(UpError) as refusal, listening(host, port):
        pass
    assert str(refusal.value) == sentence


def test_a_folder_that_cannot_be_written_is_named() -> None:
    """In /proc nobody can make a folder, root included."""
    sentence = refused(outside_environment(Path("/proc/deskhand")))
    assert sentence == "Deskhand can't write in /proc/deskhand: No such file or directory."


def test_a_database_that_does_not_answer_is_named(tmp_path: Path) -> None:
    sentence = refused(outside_environment(tmp_path, DATABASE_URL="postgresql://nobody@127.0.0.1:9/none"))
    assert sentence.startswith("The database can't be used: ")
    assert "Connection refused" in sentence


@pytest.fixture
def sleeper(tmp_path: Path) -> Child:
    command = ["timeit", "-n", "1", "-r", "1", "-s", "import time", "time.sleep(60)"]
    return Child("sleeper", command, tmp_path / "sleeper.log", {})


def test_a_child_that_dies_after_a_while_is_started_again_and_this_is_said(sleeper: Child) -> None:
    with running([sleeper]):
        assert sleeper.see_to() == ""
        first = sleeper.process
        first.kill()
        first.wait()
        sleeper.started_seconds -= 60
        assert sleeper.see_to() == (
            f"The sleeper stopped by itself (exit code -9; see {sleeper.log}). It was started again."
        )
        assert sleeper.process.pid != first.pid
        assert sleeper.process.poll() is None
    assert sleeper.process.returncode == -signal.SIGTERM


def test_a_child_that_dies_at_once_stops_the_whole(sleeper: Child) -> None:
    with running([sleeper]):
        sleeper.process.kill()
        sleeper.process.wait()
        with pytest.raises(UpError, match="The sleeper stopped by itself"):
            sleeper.see_to()


def test_a_child_that_will_not_stop_is_ended(sleeper: Child, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.up.children.SECONDS_TO_STOP", 0.2)
    sleeper.command[-2] = "import signal, time; signal.signal(15, signal.SIG_IGN); print('deaf', flush=True)"
    with running([sleeper]):
        assert wait_for(lambda: sleeper.log.exists() and "deaf" in sleeper.log.read_text())
    assert sleeper.process.returncode == -signal.SIGKILL
    with pytest.raises(ProcessLookupError):
        os.kill(sleeper.process.pid, 0)
