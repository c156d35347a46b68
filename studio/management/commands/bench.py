"""`manage.py bench [NAME…] [--json]`: measurements, each beside the bare lower bound of the same run."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from dataclasses import asdict
from typing import Any

from django.core.management import BaseCommand, CommandError

from studio.benching import BENCHES, Row, find

HEADING = f"{'name':<24}{'value':>10} {'unit':<8}{'baseline':>10}{'ratio':>8}   target"


class Command(BaseCommand):
    help = "Measure, and print a row a measurement."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("names", nargs="*", metavar="NAME", help="only these (default: all)")
        parser.add_argument("--json", action="store_true", help="one JSON object a line")

    def handle(self, *args: Any, names: list[str], json: bool, **options: Any) -> None:
        try:
            chosen = find(names)
        except KeyError as unknown:
            raise CommandError(f"There is no bench {unknown}. There are: {', '.join(BENCHES)}.") from None
        if not json:
            self.stdout.write(HEADING)
        for each in chosen:
            row = each.row()
            self.stdout.write(as_json(row) if json else as_text(row))
            self.stdout.flush()


def as_json(row: Row) -> str:
    return json.dumps(asdict(row))


def as_text(row: Row) -> str:
    figures = f"{row.value:>10.4g} {row.unit:<8}{row.baseline:>10.4g}"
    ratio = "" if row.ratio is None else f"{row.ratio:.1f}"
    targets = [f"{row.target:g}"] if row.target is not None else []
    targets += [f"{row.most_times:g} times"] if row.most_times is not None else []
    target = f"{' and '.join(targets)} {'met' if row.ok else 'MISSED'}" if targets else "none"
    return f"{row.name:<24}{figures}{ratio:>8}   {target}\n    {row.how}"
