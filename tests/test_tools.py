"""The tools of the tests themselves: each must be able to fail a test."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path
from typing import IO

import pytest
from django.contrib.staticfiles import finders
from playwright.sync_api import Page, Route

from tests import __main__ as both_runs
from tests import services
from tests.browser import PHONE, axe, open_settled

GOOD_PAGE = "<!doctype html><html lang='en'><title>Day</title><main><h1>Day</h1><p>Line 3: snare</p></main>"


def test_what_a_page_complains_of_fails_its_test(page: Page, console_errors: list[str]) -> None:
    page.set_content(GOOD_PAGE)
    assert console_errors == []
    page.evaluate("console.error('the desk is on fire')")
    page.evaluate("setTimeout(() => { throw new Error('so is the rack') })")
    page.wait_for_timeout(100)
    assert [error.partition(": ")[2] for error in console_errors] == ["the desk is on fire", "so is the rack"]
    console_errors.clear()


def test_axe_passes_a_good_page_and_names_what_is_wrong_with_a_bad_one(page: Page) -> None:
    page.set_content(GOOD_PAGE)
    axe(page)
    page.set_content(GOOD_PAGE + "<p style='color: #ccc; background: #fff'>too pale</p>")
    with pytest.raises(AssertionError, match="color-contrast"):
        axe(page)


def test_phone_and_desk_are_pages_of_two_people(phone_page: Page, desk_page: Page) -> None:
    assert phone_page.context is not desk_page.context
    assert (phone_page.viewport_size or {}).get("width") == PHONE[0]
    assert phone_page.evaluate("matchMedia('(pointer: coarse)').matches")
    assert not desk_page.evaluate("matchMedia('(pointer: coarse)').matches")


def test_a_page_is_settled_only_once_the_parts_that_it_asks_for_are_there(page: Page) -> None:
    htmx = Path(finders.find("django_htmx/htmx-2.min.js") or "").read_text("utf-8")
    part = "<div hx-get='{}' hx-trigger='load' hx-swap='outerHTML'></div>"
    bodies = {
        "": f"<!doctype html><script>{htmx}</script>{part.format('/outer')}",
        "outer": part.format("/inner"),
        "inner": "<p>the inner part</p>",
    }

    def answer(route: Route) -> None:
        time.sleep(0.3)
        route.fulfill(body=bodies[route.request.url.rpartition("/")[2]], content_type="text/html")

    page.route("**/*", answer)
    open_settled(page, "http://localhost/")
    assert page.get_by_text("the inner part").is_visible()


@pytest.fixture
def pytest_on(tmp_path: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    """Runs a small suite of its own under this suite's rules, as CI or not."""

    def run(suite: str, *arguments: str, ci: bool = False) -> subprocess.CompletedProcess[str]:
        (tmp_path / "test_small.py").write_text(suite)
        options = ["-p", "tests.conftest", "-p", "no:cacheprovider", "--ds", "tests.settings", *arguments]
        environment = {**os.environ, "CI": "true" if ci else ""}
        command = [sys.executable, "-m", "pytest", "--rootdir", str(tmp_path), *options, str(tmp_path)]
        return subprocess.run(command, env=environment, capture_output=True, text=True)

    return run


PytestOn = Callable[..., subprocess.CompletedProcess[str]]


@pytest.mark.parametrize("ci", [False, True])
def test_a_skipped_test_fails_the_run_in_ci_only(pytest_on: PytestOn, ci: bool) -> None:
    done = pytest_on("import pytest\ndef test_lazy(): pytest.skip('no desk here')\n", "-rs", ci=ci)
    assert "no desk here" in done.stdout
    assert ("a skipped test is a failure" in done.stdout) == ci
    assert done.returncode == int(ci)


def test_second_run_takes_what_touches_the_database_and_nothing_else(pytest_on: PytestOn) -> None:
    suite = """
import pytest
def test_pure(): pass
def test_rows(db): pass
def test_transactions(transactional_db): pass
@pytest.mark.django_db
def test_marked(): pass
def test_seen(browser, db): pass
"""
    done = pytest_on(suite, "--database-tests", "--collect-only", "-q")
    chosen = [line.partition("::")[2] for line in done.stdout.splitlines() if "::" in line]
    assert sorted(chosen) == ["test_marked", "test_rows", "test_transactions"]


class Run:
    """Stands for one run of pytest: on SQLite it passes, on PostgreSQL it fails with exit code 1."""

    def __init__(self, database_url: str, output: IO[bytes] | None) -> None:
        self.code = int(bool(database_url))
        if output:
            output.write(b"1 failed\n")

    def wait(self) -> int:
        return self.code

    def kill(self) -> None:
        pass


@pytest.fixture
def runs(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """What `manage.py test` would give to pytest."""
    started: list[list[str]] = []

    def start(arguments: list[str], database_url: str = "", output: IO[bytes] | None = None) -> Run:
        started.append(arguments)
        return Run(database_url, output)

    monkeypatch.setattr(both_runs, "start", start)
    monkeypatch.setattr(services, "postgresql", lambda outer: nullcontext("postgresql://here/one"))
    return started


def test_failure_on_either_database_fails_the_command_and_is_shown(
    runs: list[list[str]], capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert both_runs.main(["-k", "hold"]) == 1
    assert sorted(runs, key=len) == [["-k", "hold"], ["-k", "hold", "--database-tests"]]
    said = capfdbinary.readouterr().out
    assert said.index(b"On PostgreSQL") < said.index(b"1 failed")


@pytest.mark.parametrize("ci", [False, True])
def test_without_postgresql_the_reason_stands_at_the_end_and_ci_fails(
    runs: list[list[str]], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, ci: bool
) -> None:
    def nowhere(outer: str) -> None:
        raise services.Missing("PostgreSQL: set DATABASE_URL.")

    monkeypatch.setattr(services, "postgresql", nowhere)
    monkeypatch.setenv("CI", "true" if ci else "")
    assert both_runs.main([]) == int(ci)
    assert runs == [both_runs.TWO_AT_A_TIME]
    assert capsys.readouterr().out.endswith("SKIPPED the whole run on PostgreSQL: set DATABASE_URL.\n")
