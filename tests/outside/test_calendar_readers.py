"""Feeds read back by two readers that did not write them, around every clock change of 2026 to 2030.

The right instants are `zoneinfo`'s. The readers get the zones under other names, so that they have to work
with the definitions in the file and can't fall back on a database of their own.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import count
from zoneinfo import ZoneInfo

import icalendar
import pytest
import vobject

from bookings.calendar.write import Entry, Feed, Status, feed_bytes
from bookings.calendar.zones import changes, observances
from tests.outside.calendar_reading import read

MADE = datetime(2026, 1, 2, 8, tzinfo=UTC)
FROM, TO = datetime(2026, 1, 1, tzinfo=UTC), datetime(2031, 1, 1, tzinfo=UTC)
CLOCK_CHANGES = {  # how many there are in 2026 to 2030, by the IANA database, 2026 releases
    "Europe/Berlin": 10,
    "America/New_York": 10,
    "Australia/Lord_Howe": 10,  # by half an hour
    "America/Santiago": 10,
    "Pacific/Auckland": 10,
    "Asia/Kathmandu": 0,
    "Europe/Dublin": 10,  # summer is standard time there, winter is an hour less
    "Africa/Casablanca": 11,  # winter time in Ramadan, twice in 2030
    "Asia/Jerusalem": 10,
    "America/Nuuk": 10,
    "Africa/Cairo": 10,
}
Span = tuple[datetime, datetime]
_reading = count(1)


def around(change: datetime) -> list[Span]:
    """Sessions before, across, at and after a change, some of them over midnight."""
    offsets = [(-26, -20), (-3, 4), (-0.5, 0.5), (-1, 0), (0, 1), (0.75, 1.25), (20, 32), (-40, 60)]
    return [(change + timedelta(hours=start), change + timedelta(hours=end)) for start, end in offsets]


def entry(uid: str, start: datetime, end: datetime, zone: str) -> Entry:
    return Entry(uid, start, end, zone, "Session", MADE, MADE, 0, Status.CONFIRMED)


def written(spans: dict[str, Span], zone: str) -> bytes:
    entries = [entry(uid, start, end, zone) for uid, (start, end) in spans.items()]
    return feed_bytes(Feed("Weaving Hall", "Sessions", zone, (2026, 2030), entries, 10_000_000))


def by_vobject(octets: bytes) -> dict[str, Span]:
    calendar = vobject.readOne(octets.decode())
    return {
        event.uid.value: (event.dtstart.value.astimezone(UTC), event.dtend.value.astimezone(UTC))
        for event in calendar.vevent_list
    }


def by_strict_reader(octets: bytes) -> dict[str, Span]:
    found = read(octets)
    return {event.one("UID"): found.span(event) for event in found.events}


READERS = [by_vobject, by_strict_reader]


@pytest.mark.parametrize("zone", CLOCK_CHANGES)
@pytest.mark.parametrize("reader", READERS)
def test_every_clock_change_is_read_back_as_the_same_instants(
    zone: str, reader: Callable[[bytes], dict[str, Span]]
) -> None:
    turns = [change.at for change in changes(zone, FROM, TO)]
    assert len(turns) == CLOCK_CHANGES[zone]
    middays = [datetime(year, month, 1, 12, tzinfo=UTC) for year in range(2026, 2031) for month in (1, 7)]
    spans = {f"{n}": span for n, span in enumerate(span for turn in turns + middays for span in around(turn))}
    octets = written(spans, zone)
    renamed = octets.replace(zone.encode(), f"House/Clock-{next(_reading)}".encode())
    assert renamed != octets
    assert reader(renamed) == spans


@pytest.mark.parametrize("zone", CLOCK_CHANGES)
def test_a_change_is_found_at_the_second_on_which_the_clock_is_set(zone: str) -> None:
    tz = ZoneInfo(zone)
    for change in changes(zone, FROM, TO):
        just_before = (change.at - timedelta(seconds=1)).astimezone(tz)
        assert (just_before.utcoffset(), change.at.astimezone(tz).utcoffset()) == (
            change.before,
            change.after,
        )


def test_the_local_time_of_a_session_is_written_unless_the_clock_shows_it_twice() -> None:
    """From the IANA rules of Berlin: on 25 October 2026 the clock shows 02:00 to 03:00 twice."""
    night = datetime(2026, 10, 24, 20, tzinfo=UTC)
    plain = written({"a": (night, night + timedelta(hours=8))}, "Europe/Berlin")
    assert b"DTSTART;TZID=Europe/Berlin:20261024T220000\r\n" in plain
    assert b"DTEND;TZID=Europe/Berlin:20261025T050000\r\n" in plain
    twice = written({"a": (night, night + timedelta(hours=5, minutes=30))}, "Europe/Berlin")
    assert b"DTSTART:20261024T200000Z\r\n" in twice
    assert b"DTEND:20261025T013000Z\r\n" in twice


def test_new_york_is_defined_as_in_the_rfcs_own_example() -> None:
    """RFC 5545 section 3.6.5: the onset is in the local time before the jump, the rule is a yearly one."""
    found = {
        o.name: (f"{o.onset:%H%M%S}", o.rule, o.daylight) for o in observances("America/New_York", 2026, 2027)
    }
    assert found == {
        "EDT": ("020000", {"FREQ": "YEARLY", "BYMONTH": 3, "BYDAY": "2SU"}, True),
        "EST": ("020000", {"FREQ": "YEARLY", "BYMONTH": 11, "BYDAY": "1SU"}, False),
    }


def test_regular_zones_get_yearly_rules_and_no_list_of_dates() -> None:
    for zone in (
        "Europe/Berlin",
        "America/Santiago",
        "Asia/Jerusalem",
        "Australia/Lord_Howe",
        "Pacific/Auckland",
    ):
        assert [bool(o.rule) for o in observances(zone, 2026, 2027)] == [True, True], zone
    assert b"RDATE" not in written({"a": (FROM, TO)}, "Africa/Casablanca")


def test_a_zone_whose_changes_follow_no_rule_gets_one_part_an_onset() -> None:
    """Morocco sets its clocks back for Ramadan: twice in 2030 by the IANA database."""
    parts = observances("Africa/Casablanca", 2026, 2030)
    assert not any(part.rule for part in parts)
    assert {part.daylight for part in parts if part.after == timedelta(0)} == {False}


def test_a_zone_without_changes_has_one_standard_time() -> None:
    (only,) = observances("Asia/Kathmandu", 2026, 2030)
    assert (only.before, only.after, only.rule, only.daylight) == (
        timedelta(hours=5, minutes=45),
        timedelta(hours=5, minutes=45),
        None,
        False,
    )


@pytest.mark.parametrize("zone", ["UTC", "Zulu", "Etc/UTC", "Atlantic/Reykjavik"])
def test_where_the_clock_is_utc_times_are_written_so(zone: str) -> None:
    """Some validators refuse TZID=UTC, and vobject takes a zone that is always UTC for none."""
    octets = written({"a": (FROM, TO)}, zone)
    assert b"DTSTART:20260101T000000Z\r\n" in octets
    assert "UTC" not in read(octets).zones
    assert by_strict_reader(octets) == by_vobject(octets) == {"a": (FROM, TO)}


def test_the_library_that_wrote_the_head_reads_the_events_we_wrote() -> None:
    spans = {f"{n}": span for n, span in enumerate(around(datetime(2026, 3, 29, 1, tzinfo=UTC)))}
    calendar = icalendar.Calendar.from_ical(written(spans, "Europe/Berlin"))
    found = {str(e["UID"]): (e.start.astimezone(UTC), e.end.astimezone(UTC)) for e in calendar.events}
    assert found == spans
    assert not [error for event in calendar.events for error in event.errors]
