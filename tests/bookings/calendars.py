"""Calendar files for tests, written out of a few lines."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import count
from zoneinfo import ZoneInfo

from bookings.busy.reading import Reading, read

BERLIN = ZoneInfo("Europe/Berlin")
_number = count(1)


def event(*lines: str, kind: str = "VEVENT") -> list[str]:
    """An entry of these lines, with a UID of its own if it has none."""
    uid = (
        [] if any(line.upper().startswith("UID") for line in lines) else [f"UID:{next(_number)}@test.example"]
    )
    return [f"BEGIN:{kind}", *uid, "DTSTAMP:20260101T090000Z", *lines, f"END:{kind}"]


def calendar(*entries: list[str], before: list[str] | None = None, end: str = "\r\n") -> bytes:
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Tests//EN", *(before or [])]
    whole = [*lines, *(line for entry in entries for line in entry), "END:VCALENDAR"]
    return "".join(line + end for line in whole).encode()


def of_2026(data: bytes, zone: ZoneInfo = BERLIN, owner: str = "") -> Reading:
    return read(data, zone, datetime(2026, 1, 1, tzinfo=UTC), datetime(2027, 1, 1, tzinfo=UTC), owner)


def in_june(data: bytes) -> Reading:
    """The first two weeks of June 2026."""
    return read(data, BERLIN, datetime(2026, 6, 1, tzinfo=UTC), datetime(2026, 6, 15, tzinfo=UTC))


def busy(reading: Reading) -> list[str]:
    """Each interval as “06-10 08:00–09:00” in UTC, with the day of its end where that is another."""
    return [
        f"{one.start:%m-%d %H:%M}–{one.end:%H:%M}"
        if one.start.date() == one.end.date()
        else f"{one.start:%m-%d %H:%M}–{one.end:%m-%d %H:%M}"
        for one in reading.busy
    ]


BERLIN_TZID = "TZID=Europe/Berlin"
GOOD = event("UID:good@test.example", "DTSTART:20260610T080000Z", "DTEND:20260610T090000Z")
GOOD_BUSY = "06-10 08:00–09:00"
