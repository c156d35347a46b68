"""Fixtures for every test: databases, services and a browser, each real.

`db` and `transactional_db` are pytest-django's; a test that uses one runs on SQLite and again on PostgreSQL
(`manage.py test` sees to both). `database_environment` lets other processes use the same test database.
For pages: `live_site` is the address of a running site, `phone_page` and `desk_page` are browser pages of
their own person each; `open_page(size)` opens more. An error in a page's console fails the test.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import time_machine
from django.conf import settings
from django.db import connection
from hypothesis import HealthCheck
from hypothesis import settings as hypothesis_settings
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

from studio import clock
from tests import services
from tests.browser import ARGUMENTS, DESK, PHONE

Size = tuple[int, int]
LEFT_BEHIND = re.compile("^htmx:(sendAbort|afterRequest)")  # a request in flight when the page is left
OpenPage = Callable[..., Page]
OF_PAGES = re.compile(r"_(pages?|form\w*|views)\.py$")  # what they say is the same on every database
LONG = {"browser", "database_environment", "pytest_on"}

os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = (
    "1"  # Playwright keeps an event loop in the thread that asks the ORM
)


# Two runs share two cores: how long an example takes says nothing there.
hypothesis_settings.register_profile("desk", deadline=None, suppress_health_check=[HealthCheck.too_slow])
hypothesis_settings.load_profile("desk")

YEAR = 2027  # of most tests' sessions
this_year = clock.this_year


@pytest.fixture(autouse=True)
def _the_year_of_the_tests(monkeypatch: pytest.MonkeyPatch) -> None:
    """Days of 2027 are said without their year, whenever the tests run and where they don't stop the clock."""
    stopped = time_machine.escape_hatch.is_travelling
    monkeypatch.setattr(clock, "this_year", lambda: this_year() if stopped() else YEAR)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--database-tests", action="store_true", help="run only what touches the database")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--database-tests"):
        left_out = [item for item in items if not touches_database(item)]
        items[:] = [item for item in items if touches_database(item)]
        config.hook.pytest_deselected(items=left_out)
    if hasattr(config, "workerinput"):
        long_first(items)


def long_first(items: list[pytest.Item]) -> None:
    """Files that start browsers or processes come first, so that two workers end at about the same time."""
    long = {item.path for item in items if LONG & set(getattr(item, "fixturenames", ()))}
    items.sort(key=lambda item: item.path not in long)


def touches_database(item: pytest.Item) -> bool:
    fixtures = set(getattr(item, "fixturenames", ()))
    asks = item.get_closest_marker("django_db") or fixtures & {"db", "transactional_db"}
    return bool(asks) and "browser" not in fixtures and not OF_PAGES.search(item.path.name)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if terminalreporter.stats.get("skipped") and os.environ.get("CI") == "true":
        terminalreporter.write_line("CI=true: a skipped test is a failure.", red=True)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if reporter and reporter.stats.get("skipped") and os.environ.get("CI") == "true":
        session.exitstatus = session.exitstatus or pytest.ExitCode.TESTS_FAILED


@pytest.fixture
def database_environment(transactional_db: None, tmp_path: Path) -> dict[str, str]:
    """The environment of another process that works on this test's own database, with an empty var folder."""
    name = str(connection.settings_dict["NAME"])
    if connection.vendor == "sqlite":
        url = f"sqlite:///{name}"
    else:
        outer = os.environ["DATABASE_URL"].partition("?")
        url = outer[0].rpartition("/")[0] + f"/{name}" + outer[1] + outer[2]
    return services.outside_environment(tmp_path / "var", DATABASE_URL=url)


@pytest.fixture(scope="session")
def postgresql_url() -> Iterator[str]:
    """A PostgreSQL for what a test starts outside itself, whichever database the test itself is on."""
    try:
        with services.postgresql(os.environ.get("DATABASE_URL", "")) as url:
            yield url
    except services.Missing as missing:
        pytest.skip(str(missing))


@pytest.fixture(scope="session")
def redis_url() -> Iterator[str]:
    try:
        with services.redis(settings.OUTER_REDIS_URL) as url:
            yield url
    except services.Missing as missing:
        pytest.skip(str(missing))


@pytest.fixture
def live_site(live_server: object) -> str:
    """The address of this site, served from threads of this process; the test may use the ORM beside it."""
    return str(live_server)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    try:
        program = services.chromium()
    except services.Missing as missing:
        pytest.skip(str(missing))
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=program, headless=True, chromium_sandbox=False, args=ARGUMENTS
        )
        yield chromium
        chromium.close()


@pytest.fixture
def console_errors() -> Iterator[list[str]]:
    """What the consoles complained of. A test that provokes an error asserts it, then clears the list."""
    errors: list[str] = []
    yield errors
    assert not errors, "\n".join(errors)


@pytest.fixture
def open_page(browser: Browser, console_errors: list[str]) -> Iterator[OpenPage]:
    """Opens a page with cookies of its own: `open_page(PHONE, color_scheme="dark")`."""
    contexts = []

    def listen(message: ConsoleMessage) -> None:
        if message.type == "error" and not LEFT_BEHIND.search(message.text):
            console_errors.append(f"{message.location.get('url')}: {message.text}")

    def opened(size: Size = DESK, **options: object) -> Page:
        phone = {"is_mobile": True, "has_touch": True} if size == PHONE else {}
        viewport = {"width": size[0], "height": size[1]}
        context = browser.new_context(viewport=viewport, **{**phone, **options})
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.on("console", listen)
        page.on("pageerror", lambda error: console_errors.append(f"{page.url}: {error}"))
        return page

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture
def phone_page(open_page: OpenPage) -> Page:
    return open_page(PHONE)


@pytest.fixture
def desk_page(open_page: OpenPage) -> Page:
    return open_page(DESK)


@pytest.fixture
def page(desk_page: Page) -> Page:
    return desk_page
