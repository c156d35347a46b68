"""Bytes to content lines to components (RFC 5545 section 3.1), forgiving what does no harm.

Octets are unfolded first and decoded afterwards, so that a letter cut in two by folding comes back. Line ends
may be CRLF, LF or CR; a byte order mark, blank lines and the case of names carry nothing.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO

from bookings.busy.limits import MOST_ENTRIES, MOST_NESTING, MOST_PARAMETERS, Budget, Unreadable

NAME = re.compile(r"\s*([A-Za-z0-9-]+)\s*(?=[;:])")
PARAMETER = re.compile(r';\s*([A-Za-z0-9-]+)=((?:"[^"]*"|[^";:,]*)(?:,(?:"[^"]*"|[^";:,]*))*)')
VALUE_OF_PARAMETER = re.compile(r'"([^"]*)"|([^",]+)')
CARET = re.compile(r"\^([n'^])")
ESCAPE = re.compile(r"\\(.)", re.DOTALL)

WIDE = {  # the longer marks first: one begins with another
    codecs.BOM_UTF32_LE: "utf-32", codecs.BOM_UTF32_BE: "utf-32",
    codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16",
    b"B\0": "utf-16-le", b"\0B": "utf-16-be", b"b\0": "utf-16-le", b"\0b": "utf-16-be",
}  # fmt: skip
TIMES = {"DTSTART", "DTEND", "RECURRENCE-ID", "RDATE", "EXDATE"}
KEPT = TIMES | {
    "UID", "SUMMARY", "SEQUENCE", "DTSTAMP", "DURATION", "RRULE", "EXRULE", "TRANSP", "STATUS", "ATTENDEE",
    "FREEBUSY", "TZID", "TZOFFSETFROM", "TZOFFSETTO", "X-LIC-LOCATION", "X-WR-TIMEZONE", "METHOD", "COMMENT",
}  # fmt: skip
ENTRIES = {"VEVENT", "VFREEBUSY"}
OF_THE_CALENDAR = {"METHOD", "X-WR-TIMEZONE"}
READ = ENTRIES | {"VCALENDAR", "VTIMEZONE", "STANDARD", "DAYLIGHT", "VAVAILABILITY"}


@dataclass(frozen=True, slots=True)
class Line:
    """One property: NAME;PARAMETER=value:value. Names are in capitals; values as written."""

    name: str
    parameters: dict[str, str]
    value: str

    def upper(self, parameter: str) -> str:
        return self.parameters.get(parameter, "").upper()


@dataclass(slots=True)
class Component:
    """BEGIN to END with the lines that matter here, still as text, and what stands inside."""

    kind: str
    number: int = 0
    closed: bool = False
    lines: dict[str, list[str]] = field(default_factory=dict)
    parts: list[Component] = field(default_factory=list)

    def all(self, name: str) -> Iterator[Line]:
        for text in self.lines.get(name, ()):
            yield content_line(text)

    def first(self, name: str) -> Line | None:
        return next(self.all(name), None)

    def text(self, name: str) -> str:
        """The unescaped TEXT value (RFC 5545 section 3.3.11) of the first such line, or nothing."""
        line = self.first(name)
        return unescaped(line.value).strip() if line else ""

    def token(self, name: str) -> str:
        """The value in capitals, for properties that take one of a few words."""
        return self.text(name).upper()


def unescaped(text: str) -> str:
    return ESCAPE.sub(lambda found: "\n" if found[1] in "nN" else found[1], text)


def unfolded(data: bytes) -> bytes:
    """LF at the end of each logical line, no blank lines. Time and memory grow with the size alone."""
    data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    while b"\n\n" in data:
        data = data.replace(b"\n\n", b"\n")
    return data.replace(b"\n ", b"").replace(b"\n\t", b"")


def in_octets(data: bytes) -> bytes:
    """Letters of two or four octets, as their mark or the first letter shows them, as UTF-8."""
    for start, encoding in WIDE.items():
        if data.startswith(start):
            return data.decode(encoding, errors="replace").encode()
    return data


def logical_lines(data: bytes) -> Iterator[str]:
    """Unfolded, decoded lines without their ends; blank ones left out. Joined files have marks in the middle."""
    for raw in BytesIO(unfolded(in_octets(data))):
        if line := raw.rstrip(b"\n").lstrip(codecs.BOM_UTF8):  # its octets begin no line that has a name
            try:
                yield line.decode()
            except UnicodeDecodeError:
                yield line.decode("cp1252", errors="replace")


def content_line(text: str) -> Line:
    """A line whose name was found by `property_name`. Parameters are unquoted, RFC 6868 carets undone."""
    found = NAME.match(text)
    if not found:
        return Line("", {}, text)
    name, at = found[1].upper(), found.end()
    if text[at] == ":":
        return Line(name, {}, text[at + 1 :].strip())
    parameters: dict[str, str] = {}
    for _ in range(MOST_PARAMETERS):
        one = PARAMETER.match(text, at)
        if one is None:
            break
        parameters[one[1].upper()] = _parameter(one[2])
        at = one.end()
    value = text[at:].partition(":")[2]
    if name in TIMES and "TZID" in parameters and ":" in value:
        rest, _, value = value.rpartition(":")  # a colon in a zone's name that should have been quoted
        parameters["TZID"] += f":{rest}"
    return Line(name, parameters, value.strip())


def _parameter(text: str) -> str:
    values = [quoted or plain for quoted, plain in VALUE_OF_PARAMETER.findall(text)]
    return CARET.sub(lambda found: {"n": "\n", "'": '"', "^": "^"}[found[1]], ",".join(values)).strip()


def property_name(text: str) -> str:
    found = NAME.match(text)
    return found[1].upper() if found else ""


@dataclass(slots=True)
class File:
    """The calendars of a file; `cut_short` when it ends inside one. Entries that had no END, no BEGIN, or stood
    outside of any calendar, which are taken to the one before."""

    calendars: list[Component] = field(default_factory=list)
    cut_short: bool = False
    unclosed: list[Component] = field(default_factory=list)
    unbegun: list[Component] = field(default_factory=list)
    outside: list[Component] = field(default_factory=list)


class Builder:
    """Puts components together line by line. Whatever isn't read here is passed over with all inside."""

    def __init__(self, budget: Budget) -> None:
        self.file = File()
        self.open: list[Component] = []
        self.entries = 0
        self.begun = 0
        self.budget = budget

    def take(self, text: str) -> None:
        self.budget.spend()
        name = property_name(text)
        if name == "BEGIN":
            self.begin(text.partition(":")[2].strip().upper())
        elif name == "END":
            self.end(text.partition(":")[2].strip().upper())
        elif self.open and name in KEPT and self.open[-1].kind in READ:
            self.open[-1].lines.setdefault(name, []).append(text)

    def begin(self, kind: str) -> None:
        if kind in ENTRIES | {"VCALENDAR", "VTIMEZONE"}:
            self.close_down_to({"VCALENDAR"} if kind != "VCALENDAR" else set())
        if kind in ("STANDARD", "DAYLIGHT") and any(c.kind == "VTIMEZONE" for c in self.open):
            self.close_down_to({"VTIMEZONE"})
        if len(self.open) >= MOST_NESTING:
            raise Unreadable("The calendar is nested too deep to be read. Nothing was taken.")
        self.begun += kind in READ
        self.entries += kind in ENTRIES
        if self.begun > MOST_ENTRIES:
            raise Unreadable(
                f"The calendar has more than {MOST_ENTRIES:,} entries. Nothing was taken; export fewer."
            )
        component = Component(kind, self.entries)
        if kind == "VCALENDAR":
            self.file.calendars.append(component)
        elif self.open and kind in READ:
            self.open[-1].parts.append(component)
        elif kind in READ and self.file.calendars:
            self.file.calendars[-1].parts.append(component)
            if kind in ENTRIES:
                self.file.outside.append(component)
        self.open.append(component)

    def end(self, kind: str) -> None:
        if not any(component.kind == kind for component in self.open):
            if kind in ENTRIES:
                self.end_unbegun(kind)
            return
        while self.open:
            component = self.open.pop()
            component.closed = component.kind == kind
            if component.closed:
                return
            self.note_unclosed(component)

    def end_unbegun(self, kind: str) -> None:
        """The lines of an entry without BEGIN have landed in the calendar itself."""
        if not self.open or self.open[-1].kind != "VCALENDAR":
            return
        calendar = self.open[-1]
        self.begin(kind)
        entry = self.open.pop()
        entry.closed = True
        for name in calendar.lines.keys() - OF_THE_CALENDAR:
            entry.lines[name] = calendar.lines.pop(name)
        self.file.unbegun.append(entry)

    def close_down_to(self, kinds: set[str]) -> None:
        while self.open and self.open[-1].kind not in kinds:
            self.note_unclosed(self.open.pop())

    def note_unclosed(self, component: Component) -> None:
        component.closed = True
        if component.kind in ENTRIES:
            self.file.unclosed.append(component)


def components(data: bytes, budget: Budget) -> File:
    """The file's calendars. Raises Unreadable when there is none, or far too much of it."""
    builder = Builder(budget)
    for text in logical_lines(data):
        builder.take(text)
    if not builder.file.calendars:
        raise Unreadable(_not_a_calendar(data))
    builder.file.cut_short = any(component.kind in READ for component in builder.open)
    return builder.file


def _not_a_calendar(data: bytes) -> str:
    start = data[:400].lstrip().lower()
    if not start:
        return "The file is empty. Export the calendar again as an .ics file."
    if start.startswith((b"<!doctype", b"<html", b"<?xml", b"<")):
        return "This is a web page, not a calendar: perhaps a page that asks to sign in. Export an .ics file."
    return (
        "This is not an iCalendar file: it has no line BEGIN:VCALENDAR. Export the calendar as an .ics file."
    )
