from __future__ import annotations

import json
from argparse import ArgumentTypeError
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from django.core.management.base import BaseCommand, CommandError, CommandParser

from bookings.busy.limits import MOST_BYTES
from bookings.busy.reading import Reading, read


def zone(name: str) -> ZoneInfo:
    if name not in available_timezones():
        raise ArgumentTypeError(f"“{name}” is not a zone of the IANA database. Write it like Europe/Berlin.")
    return ZoneInfo(name)


def moment(text: str) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"“{text}” is no date. Write it like 2026-06-01.") from None


def in_utc(instant: datetime) -> str:
    return f"{instant:%Y-%m-%dT%H:%M:%SZ}"


class Command(BaseCommand):
    help = "Shows what an import of a calendar file would take, without taking it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="an .ics file")
        parser.add_argument("--zone", type=zone, required=True, help="whose clock, like Europe/Berlin")
        help_of_date = "a date (its midnight in the zone), or a time like 2026-06-01T10:00+02:00"
        parser.add_argument("--from", type=moment, required=True, dest="start", help=help_of_date)
        parser.add_argument("--to", type=moment, required=True, dest="end", help="not included")
        parser.add_argument("--owner", default="", help="their mail address: what they declined is free")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def handle(self, *_: Any, **given: Any) -> None:
        start, end = (
            m if m.tzinfo else m.replace(tzinfo=given["zone"]) for m in (given["start"], given["end"])
        )
        if end <= start:
            raise CommandError("--to has to be later than --from.")
        try:
            with given["file"].open("rb") as file:
                data = file.read(MOST_BYTES + 1)
        except OSError as problem:
            raise CommandError(f"{given['file']} can't be read: {problem.strerror}.") from None
        reading = read(data, given["zone"], start, end, given["owner"])
        self.stdout.write(as_json(reading) if given["as_json"] else as_text(reading))


def as_json(reading: Reading) -> str:
    busy = [[in_utc(one.start), in_utc(one.end)] for one in reading.busy]
    whole = {"outcome": reading.outcome, "busy_utc": busy, "reports": list(reading.reports)}
    return json.dumps(whole, ensure_ascii=False)


def as_text(reading: Reading) -> str:
    lines = [f"{in_utc(one.start)} – {in_utc(one.end)}" for one in reading.busy]
    return "\n".join([f"Outcome: {reading.outcome}", *lines, *reading.reports])
