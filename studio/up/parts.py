"""What `up` runs: the web server on a socket that is already open, a worker and beat."""

from __future__ import annotations

import os
import socket
from urllib.error import HTTPError, URLError
from urllib.request import urlopen

from django.conf import settings

from studio.up.children import Child

ANY_ADDRESS = {"0.0.0.0": "127.0.0.1", "::": "::1"}  # noqa: S104  listened on only if --host says so


def name_here(host: str) -> str:
    """What stands for `host` in an address that is opened on this machine."""
    name = ANY_ADDRESS.get(host, host)
    return f"[{name}]" if ":" in name else name


def house(door: socket.socket, name: str, address: str) -> list[Child]:
    """Web server, worker and beat, not yet started; each writes a log under var/log."""
    logs = settings.VAR_DIR / "log"
    logs.mkdir(exist_ok=True)
    environment = {
        "DESKHAND_HOSTS": ",".join([*settings.ALLOWED_HOSTS, name]),
        "CELERY_SKIP_CHECKS": "true",  # `up` has run them
        "DESKHAND_ADDRESS": os.environ.get("DESKHAND_ADDRESS", address),
    }
    fd = door.fileno()
    celery = ["celery", "--app", "studio"]
    quiet = ["--loglevel", "WARNING"]
    worker = ["worker", "--concurrency", "2", "--without-gossip", "--without-mingle", "--without-heartbeat"]
    return [
        Child("worker", [*celery, *worker, *quiet], logs / "worker.log", environment),
        Child("beat", [*celery, "beat", "--pidfile", "", *quiet], logs / "beat.log", environment),
        Child("web server", web_server(fd), logs / "web.log", environment, inherited=(fd,)),
    ]


def web_server(fd: int) -> list[str]:
    options = ["--bind", f"fd://{fd}", "--worker-class", "gthread", "--workers", "2", "--threads", "4"]
    small = ["--graceful-timeout", "3", "--log-level", "warning", "--no-control-socket", "--preload"]
    return ["gunicorn", "studio.wsgi", *options, *small]


def answers(address: str) -> bool:
    """Whether /healthz says that all is well."""
    try:
        with urlopen(f"{address}/healthz", timeout=5) as answer:  # noqa: S310  our own address
            return bool(answer.status == 200)
    except (HTTPError, URLError, TimeoutError, ConnectionError):
        return False
