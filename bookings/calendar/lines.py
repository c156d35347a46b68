"""Content lines of iCalendar: cleaning, escaping, folding (RFC 5545 sections 3.1 and 3.3.11). Pure.

Feeds write their events with these: icalendar takes six times as long for the same, and reads the two letters
\\N in a text for a line break.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

OCTETS = 75  # in a line, without its CRLF
BREAKS = re.compile("\r\n?|[\v\f\x1c-\x1e\x85\u2028\u2029]")
CONTROLS = re.compile("[\x00-\x08\x0e-\x1f\x7f-\x9f\ufeff]")
GAPS = re.compile("[\n\t]+")


def cleaned(text: str) -> str:
    """Every line break as \\n, no other control character than the tab, no byte-order mark, only UTF-8."""
    plain = CONTROLS.sub("", BREAKS.sub("\n", text))
    return plain.encode("utf-8", "replace").decode()


def one_line(text: str) -> str:
    return GAPS.sub(" ", cleaned(text)).strip()


def escaped(text: str) -> str:
    """Clean text as a TEXT value. A colon and a quotation mark stay as they are."""
    return text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def in_utc(instant: datetime) -> str:
    return f"{instant.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def duration(length: timedelta) -> str:
    """A length in whole minutes, negative for before: -PT30M."""
    minutes = round(length.total_seconds() / 60)
    return f"{'-' if minutes < 0 else ''}PT{abs(minutes)}M"


def folded(line: str) -> bytes:
    """The line with its CRLF; pieces of at most 75 octets, no character cut, the next ones led by a space."""
    octets = line.encode()
    if len(octets) <= OCTETS:
        return octets + b"\r\n"
    return b"\r\n ".join(_pieces(octets)) + b"\r\n"


def _pieces(octets: bytes) -> Iterator[bytes]:
    start, room = 0, OCTETS
    while len(octets) - start > room:
        end = _before_blanks(octets, start, start + room)
        while octets[end] & 0xC0 == 0x80:  # in the middle of a UTF-8 character
            end -= 1
        backslashes = end - start - len(octets[start:end].rstrip(b"\\"))
        end -= backslashes % 2  # some readers don't find an escape that a fold has cut in two
        yield octets[start:end]
        start, room = end, OCTETS - 1
    yield octets[start:]


def _before_blanks(octets: bytes, start: int, end: int) -> int:
    """Where only blanks would be left for the last piece, one letter goes with them: some readers drop such lines."""
    if octets[end:].strip(b" \t"):
        return end
    last = start + len(octets[start:end].rstrip(b" \t")) - 1
    while last > start and octets[last] & 0xC0 == 0x80:
        last -= 1
    return last if last > start + 1 else end
