"""Taking in a house's own gear list from a terminal."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand
from django.db import connection
from django.utils import timezone

from studio.gearlists.matching import Known
from studio.gearlists.taking_in import ListRefused, Plan, plan, remembered, store, usual_site
from studio.importing.reading import Reading, read_gear
from studio.models import HeadingMatch, Site

WITH_ERRORS, UNREADABLE = 1, 2


class Command(BaseCommand):
    help = (
        "Takes in a gear list as the house keeps it, CSV or XLSX: units by tag, counted stock, and a report row by "
        "row. What is asked stays out until it is answered under House. Exit code 1: errors, nothing was taken in; "
        "2: the file can't be read."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the list, a CSV or XLSX file")
        parser.add_argument("--dry-run", action="store_true", help="report only, change nothing")
        parser.add_argument("--json", action="store_true", help="the report as JSON")
        parser.add_argument(
            "--good-rows", action="store_true", help="rows with errors stay out, the others come in"
        )
        parser.add_argument("--site", help="the site at which the things are, if not the first")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            content = Path(options["file"]).read_bytes()
        except OSError as error:
            self._leave(UNREADABLE, f"{options['file']}: {error.strerror}. Give the path of the list.")
        ready = HeadingMatch._meta.db_table in connection.introspection.table_names()
        if not ready and not options["dry_run"]:
            self._leave(WITH_ERRORS, "The house has no database yet. Start it once with “manage.py up”.")
        reading = read_gear(content, timezone.localdate().year, remembered() if ready else {})
        made, refused = self._take_in(reading, ready, options)
        report = made.reading.to_json()
        text = (
            json.dumps(report, ensure_ascii=False, indent=2)
            if options["json"]
            else "\n".join(lines(made, refused))
        )
        self.stdout.write(text)
        if not made.reading.layout.columns:
            sys.exit(UNREADABLE)
        if made.reading.errors and (refused or options["dry_run"]):
            sys.exit(WITH_ERRORS)

    def _take_in(self, reading: Reading, ready: bool, options: dict[str, Any]) -> tuple[Plan, str]:
        """What it changes, and why it was refused. A dry run needs no house yet."""
        if not ready:
            return plan(reading, Known(Site(name="House"))), ""
        site = self._site(options["site"])
        made = plan(reading, Known.read(site))
        if options["dry_run"]:
            return made, ""
        try:
            return store(reading, site, options["good_rows"]), ""
        except ListRefused as error:
            return made, str(error)

    def _site(self, name: str | None) -> Site:
        if not name:
            return usual_site()
        if site := Site.objects.filter(name__iexact=name).first():
            return site
        known = ", ".join(map(str, Site.objects.all()))
        return self._leave(WITH_ERRORS, f"There is no site “{name}”. The house has: {known or 'none yet'}.")

    def _leave(self, code: int, why: str) -> NoReturn:
        self.stderr.write(why)
        sys.exit(code)


def lines(made: Plan, refused: str) -> Iterator[str]:
    """The report for a reader: what the file is, then row by row, then what is asked."""
    report = made.reading.to_json()
    yield f"Encoding {report['encoding']}, delimiter {report['delimiter'] or 'none'}."
    yield f"Headings in row {report['heading_row']}:" if report["heading_row"] else "No headings:"
    yield from (f"  {heading}: {field}" for heading, field in report["columns"].items())
    said = {line.row: f"{line.pieces} × {line.name}: {line.what}" for line in made.lines}
    said |= {each.row: f"left out, {each.what}" for each in made.reading.skipped if each.row}
    said |= {event.row: "an event of a fault, asked below" for event in made.reading.events}
    yield from (f"row {row}: {said[row]}" for row in sorted(said))
    yield from (f"asked, {place(each)}: {each.what}" for each in made.reading.questions)
    yield from (f"error, {place(each)}: {each.what}" for each in made.reading.errors)
    yield f"{made.reading.units} units and counted pieces: {made.says}."
    if made.reading.is_log:
        yield "This is a log of faults. Each is recorded once somebody has confirmed it: under House, “Take in a list”."
    if refused:
        yield refused


def place(finding: Any) -> str:
    return f"column “{finding.column}”" if finding.row is None else f"row {finding.row}"
