"""Whoever has a calendar's address can read it: it must not stand in the log."""

from __future__ import annotations

import logging
import re

ADDRESS = re.compile(r"/calendar/[^\s\"']+")


def hide_addresses(record: logging.LogRecord) -> bool:
    """A logging filter that lets every record pass, without the secret in it."""
    if isinstance(record.args, tuple):
        record.args = tuple(hidden(arg) if isinstance(arg, str) else arg for arg in record.args)
    if isinstance(record.msg, str):
        record.msg = hidden(record.msg)
    return True


def hidden(text: str) -> str:
    return ADDRESS.sub("/calendar/(secret)", text)


def keep_out_of_the_log() -> None:
    for name in ("django.request", "django.server"):
        logging.getLogger(name).addFilter(hide_addresses)
