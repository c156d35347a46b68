"""The gear look-up in a terminal."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.clock import say
from studio.gear.answers import Answer, answers
from studio.gear.moments import read_time
from studio.gear.search import find
from studio.gear.state import channel_rows

SHOWN = 12


class Command(BaseCommand):
    help = "Says of a unit, a channel or a kind: does it work, where is it, who has it, when is it free."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("query", nargs="+", help="what to look for, like: oak 3")
        parser.add_argument("--at", help="another time than now, on the house's clock: 2027-03-02T16:40")

    def handle(self, *args: Any, **options: Any) -> None:
        query = " ".join(options["query"])
        tz = timezone.get_default_timezone()
        try:
            at = read_time(options["at"], tz) if options["at"] else timezone.now()
        except ValueError as error:
            raise CommandError(str(error)) from None
        hits = find(query)
        if not hits:
            raise CommandError(
                f"Nothing here is called “{query}”, or nearly so. Try a tag, a serial or a kind."
            )
        if options["at"]:
            self.stdout.write(f"As of {say(at, tz)} ({tz}):\n\n")
        shown = [hit for hit in hits if hit.exact] or hits[:SHOWN]
        for found in answers(shown, at, viewer=None):
            self.stdout.write("\n".join([*lines(found), ""]))
            if hits[0].exact and not found.channel:
                self.stdout.write("\n".join([*channel_lines(found, at), ""]))
        if len(hits) > len(shown):
            self.stdout.write(f"and {len(hits) - len(shown)} more")


def lines(found: Answer) -> list[str]:
    model = found.unit.gear_model
    return [
        f"{found.title} ({model}, {model.get_kind_display()})",
        f"  state  {found.state}",
        f"  where  {found.where}",
        *(f"  with   {taken}" for taken in found.taken),
        f"  next   {found.free}",
    ]


def channel_lines(found: Answer, at: datetime) -> list[str]:
    return [f"  {row.numbers:>5}  {row.state}" for row in channel_rows(found.unit, at)]
