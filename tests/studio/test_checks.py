"""Deployment checks: the site's production setting, and the Redis that carries the queue."""

import subprocess
import sys
from pathlib import Path

import redis
from pytest_django import Settings

from studio.checks import redis_keeps_every_message
from tests.services import free_port, outside_environment


def test_production_setting_passes_every_deployment_check(tmp_path: Path) -> None:
    production = outside_environment(tmp_path, DESKHAND_PRODUCTION="1", DESKHAND_HOSTS="desk.example")
    command = [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"]
    done = subprocess.run(command, env=production, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


def test_redis_that_evicts_keys_is_warned_of(redis_url: str, settings: Settings) -> None:
    settings.REDIS_URL = redis_url
    with redis.from_url(redis_url) as server:
        server.config_set("maxmemory-policy", "allkeys-lru")
        warned = redis_keeps_every_message()
        server.config_set("maxmemory-policy", "noeviction")
    assert [warning.msg for warning in warned] == [
        "Redis throws keys away when memory is short (allkeys-lru)."
    ]
    assert redis_keeps_every_message() == []


def test_redis_that_does_not_answer_is_warned_of(settings: Settings) -> None:
    settings.REDIS_URL = f"redis://127.0.0.1:{free_port()}/0"
    assert [warning.id for warning in redis_keeps_every_message()] == ["studio.W001"]
