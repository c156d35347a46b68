"""Reads an instrument list and says what it understood."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from tasks.catalogue import CatalogueError, load_catalogue
from tasks.reading import Reading, read

BOMS = ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"), (b"\xef\xbb\xbf", "utf-8-sig"))


class Command(BaseCommand):
    help = (
        "Reads an instrument list (a file, or - for standard input) into sources, non-inputs and questions."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "file", nargs="?", default="-", help="the list; - or nothing reads standard input"
        )
        parser.add_argument("--json", action="store_true", help="print one JSON object instead of a table")
        parser.add_argument(
            "--batch", metavar="LISTS.jsonl", help='read {"id", "text"} lines, print an object a line'
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            catalogue = load_catalogue()
        except CatalogueError as error:
            raise CommandError(f"The catalogue can't be used: {error}") from error
        if options["batch"]:
            for identity, text in _batch(options["batch"]):
                self.stdout.write(
                    json.dumps({"id": identity, **as_json(read(text, catalogue))}, ensure_ascii=False)
                )
            return
        reading = read(list_text(options["file"]), catalogue)
        if options["json"]:
            self.stdout.write(json.dumps(as_json(reading), ensure_ascii=False, indent=2))
        else:
            self.stdout.write(as_table(reading))


def as_json(reading: Reading) -> dict[str, list[dict[str, Any]]]:
    """The reading as plain data. start counts characters of the text as given."""
    return {
        "sources": [
            {
                "start": source.start,
                "as_written": source.as_written,
                "source": source.source,
                "family": source.family,
                "count": source.count,
                "channels": source.channels,
                "pickup": source.pickup,
            }
            for source in reading.sources
        ],
        "not_inputs": [
            {"start": other.start, "as_written": other.as_written, "why": other.why}
            for other in reading.not_inputs
        ],
        "questions": [
            {
                "start": question.start,
                "as_written": question.as_written,
                "suggestions": list(question.suggestions),
            }
            for question in reading.questions
        ],
    }


def as_table(reading: Reading) -> str:
    """The reading for people: one line an entry, then what is asked, then what is no input."""
    rows = [("As written", "Source", "Family", "Channels", "Pickup")]
    rows += [
        (
            _short(source.as_written),
            source.source,
            source.family,
            _channels(source.channels, source.count),
            source.pickup,
        )
        for source in reading.sources
    ]
    widths = [max(len(row[at]) for row in rows) for at in range(5)]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    ]
    for question in reading.questions:
        hint = f" Perhaps: {', '.join(question.suggestions)}." if question.suggestions else ""
        lines.append(f"Question: what is {_short(question.as_written)!r}?{hint}")
    said = [other for other in reading.not_inputs if other.why not in ("joining word", "row number")]
    lines += [f"No input ({other.why}): {_short(other.as_written)}" for other in said]
    return "\n".join(lines)


def _channels(channels: int | None, count: int | None) -> str:
    if channels is None:
        return f"{count} players, channels not stated" if count and count > 1 else "not stated"
    return str(channels) if count == 1 else f"{count} x {channels}"


def _short(text: str) -> str:
    words = " ".join(text.split())
    return words if len(words) <= 60 else words[:57] + "..."


def _bytes(name: str) -> bytes:
    if name == "-":
        return sys.stdin.buffer.read()
    try:
        return Path(name).read_bytes()
    except OSError as error:
        raise CommandError(
            f"{name} can't be read ({error.strerror}); give the path of a text file, or -."
        ) from error


def decoded(raw: bytes, name: str) -> str:
    """Bytes of a text file to text: UTF-8, UTF-16 with a mark at the beginning, or Windows-1252."""
    encodings = [encoding for bom, encoding in BOMS if raw.startswith(bom)] or ["utf-8", "cp1252"]
    for encoding in encodings:
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise CommandError(
        f"{name} is not text in UTF-8, UTF-16 or Windows-1252; save it as UTF-8 and try again."
    )


def list_text(name: str) -> str:
    """The text of a list file, or of standard input for -."""
    return decoded(_bytes(name), name)


def _batch(name: str) -> Iterable[tuple[Any, str]]:
    for number, line in enumerate(list_text(name).split("\n"), start=1):
        if not line.strip():
            continue
        try:
            entry = json.loads(line)
            identity, text = entry["id"], entry["text"]
        except (ValueError, KeyError, TypeError) as error:
            raise CommandError(
                f'{name}, line {number}: not an object with "id" and "text"; correct that line.'
            ) from error
        if not isinstance(text, str):
            raise CommandError(f'{name}, line {number}: "text" is no text; correct that line.')
        yield identity, text
