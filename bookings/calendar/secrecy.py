"""Whoever has a calendar's address can read it: it must not stand in the log."""

from __future__ import annotations

import logging
import re

ADDRESS = re.compile(r"/calendar/[^\s\"']+")
LOGS_OF_REQUESTS = ("django.request", "django.server", "gunicorn.access", "gunicorn.error")


def hide_addresses(record: logging.LogRecord) -> bool:
    """A logging filter that lets every record pass, without the secret in it."""
    words = record.getMessage()
    if ADDRESS.search(words):
        record.msg, record.args = ADDRESS.sub("/calendar/(secret)", words), None
    return True


def keep_out_of_the_log() -> None:
    for name in LOGS_OF_REQUESTS:
        logging.getLogger(name).addFilter(hide_addresses)
