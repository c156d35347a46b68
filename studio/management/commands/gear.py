"""The gear look-up in a terminal."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.clock import say
from studio.gear.answers import Answer, answers
from studio.gear.counted import Counted, counted
from studio.gear.moments import read_time
from studio.gear.search import find_stock, found
from studio.gear.state import channel_rows

SHOWN = 12


class Command(BaseCommand):
    help = "Says of a unit, a channel, a kind or counted stock: does it work, where is it, who has it, when is it free."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("query", nargs="+", help="what to look for, like: oak 3")
        parser.add_argument("--json", action="store_true", help="the same for programs")
        parser.add_argument("--at", help="another time than now, on the house's clock: 2027-03-02T16:40")

    def handle(self, *args: Any, **options: Any) -> None:
        query = " ".join(options["query"])
        tz = timezone.get_default_timezone()
        try:
            at = read_time(options["at"], tz) if options["at"] else timezone.now()
        except ValueError as error:
            raise CommandError(str(error)) from None
        hits, total = found(query, SHOWN)
        stock = counted(find_stock(query, SHOWN), at, viewer=None)
        if not hits and not stock:
            raise CommandError(
                f"Nothing here is called “{query}”, or nearly so. Try a tag, a serial or a kind."
            )
        shown = [hit for hit in hits if hit.exact] or hits
        units = answers(shown, at, viewer=None)
        whole = bool(hits and hits[0].exact)
        more = 0 if whole else total - len(shown)
        if options["json"]:
            said = as_json(units, [] if whole else stock, at, more)
            self.stdout.write(json.dumps(said, ensure_ascii=False, indent=2))
            return
        if options["at"]:
            self.stdout.write(f"As of {say(at, tz)} ({tz}):\n\n")
        self._say(units, [] if whole else stock, at, channels=whole)
        if more:
            self.stdout.write(f"and {more} more")

    def _say(self, units: list[Answer], stock: list[Counted], at: datetime, *, channels: bool) -> None:
        for unit in units:
            self.stdout.write("\n".join([*lines(unit), ""]))
            if channels and not unit.channel:
                self.stdout.write("\n".join([*channel_lines(unit, at), ""]))
        for each in stock:
            self.stdout.write("\n".join([*stock_lines(each), ""]))


def as_json(units: list[Answer], stock: list[Counted], at: datetime, more: int) -> dict[str, Any]:
    return {
        "at": at.isoformat(),
        "units": [unit_as_json(unit, at) for unit in units],
        "stock": [stock_as_json(each) for each in stock],
        "more": more,
    }


def unit_as_json(found: Answer, at: datetime) -> dict[str, Any]:
    rows = [] if found.channel else channel_rows(found.unit, at)
    return {
        "tag": found.unit.tag,
        "channel": found.channel.number if found.channel else None,
        "model": str(found.unit.gear_model),
        "kind": found.unit.gear_model.get_kind_display(),
        "state": found.state.words,
        "more": found.state.more,
        "usable": found.state.usable,
        "works": found.state.works,
        "where": found.where,
        "with": found.taken,
        "next": found.free,
        "history": found.history,
        "channels": [
            {"first": row.first, "last": row.last, "state": row.state.words, "more": row.state.more}
            for row in rows
        ],
    }


def stock_as_json(each: Counted) -> dict[str, Any]:
    return {
        "name": each.stock.name,
        "kind": each.stock.get_kind_display(),
        "site": each.stock.site.name,
        "count": each.stock.count,
        "free": each.free,
        "figures": each.figures,
        "where": each.where,
        "with": each.taken,
    }


def lines(found: Answer) -> list[str]:
    model = found.unit.gear_model
    return [
        f"{found.title} ({model}, {model.get_kind_display()})",
        f"  state  {found.state}",
        f"  where  {found.where}",
        *(f"  with   {taken}" for taken in found.taken),
        f"  next   {found.free}",
        *([f"  before {found.history}"] if found.history else []),
    ]


def stock_lines(each: Counted) -> list[str]:
    figures = f", {each.figures}" if each.figures else ""
    return [
        f"{each.stock.name} ({each.stock.get_kind_display()}, counted{figures})",
        f"  state  {each.words}",
        f"  where  {each.where}",
        *(f"  with   {taken}" for taken in each.taken),
    ]


def channel_lines(found: Answer, at: datetime) -> list[str]:
    return [f"  {row.numbers:>5}  {row.state}" for row in channel_rows(found.unit, at)]
