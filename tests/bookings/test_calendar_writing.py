"""A calendar as bytes, whatever is written in it. Names like f01 are those of the field cases, part 1."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
import vobject
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from bookings.calendar.lines import cleaned, duration, folded, one_line
from bookings.calendar.write import Entry, Feed, Status, feed_bytes
from tests.outside.calendar_reading import read, unescaped

MADE = datetime(2026, 1, 2, 8, 30, tzinfo=UTC)
START = datetime(2026, 6, 1, 8, tzinfo=UTC)
PLAIN = Entry(
    uid="a@deskhand",
    start=START,
    end=START + timedelta(hours=8),
    zone="Europe/Berlin",
    summary="Quartet",
    made_at=MADE,
    changed_at=MADE + timedelta(days=3),
    sequence=2,
    status=Status.CONFIRMED,
)
ZONES = [
    "Europe/Berlin",
    "America/New_York",
    "Australia/Lord_Howe",
    "America/Santiago",
    "Pacific/Auckland",
    "Asia/Kathmandu",
    "Europe/Dublin",
    "Africa/Casablanca",
    "Antarctica/Troll",
    "UTC",
]
BREAKS = ["\r\n", "\r", "\n", "\x0b", "\x85", "\u2028"]
MARKS = [
    "\\N",
    "\\n",
    "\\",
    ";",
    ",",
    ":",
    '"',
    "\t",
    " ",
    "^n",
    "BEGIN:VEVENT",
    "\x00",
    "\x7f",
    "\ufeff",
    "\ud800",
]
LETTERS = ["🎸", "Ö", "•", "\u202e", "אבג", "مرحبا", "e\u0301"]
NASTY = st.sampled_from([*BREAKS, *MARKS, *LETTERS])
TEXTS = st.lists(st.one_of(NASTY, st.text(max_size=4)), max_size=20).map("".join)
INSTANTS = st.integers(0, 60 * 24 * 365 * 5).map(
    lambda minutes: datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes)
)
# Shrinking texts takes minutes, and the failures are legible without.
quick = settings(deadline=None, phases=[Phase.explicit, Phase.reuse, Phase.generate])
ENTRIES = st.builds(
    lambda start, minutes, alarm, **fields: replace(
        PLAIN, start=start, end=start + timedelta(minutes=minutes), alarm=alarm, **fields
    ),
    start=INSTANTS,
    minutes=st.integers(1, 60 * 400),
    zone=st.sampled_from(ZONES),
    summary=TEXTS,
    location=TEXTS,
    description=TEXTS,
    category=TEXTS,
    status=st.sampled_from(Status),
    sequence=st.integers(0, 2**31),
    alarm=st.one_of(st.none(), st.integers(0, 10_000).map(lambda minutes: timedelta(minutes=minutes))),
)


def feed_of(*entries: Entry, **fields: object) -> bytes:
    values = {
        "name": "Weaving Hall",
        "description": "Sessions",
        "zone": "Europe/Berlin",
        "years": (2026, 2027),
    }
    return feed_bytes(Feed(**{**values, "entries": entries, "most_bytes": 10_000_000, **fields}))  # type: ignore[arg-type]


@settings(quick, max_examples=100)
@given(st.lists(ENTRIES, max_size=4), TEXTS, st.sampled_from(ZONES))
def test_a_strict_reader_gets_back_what_was_written(entries: list[Entry], name: str, zone: str) -> None:
    entries = [replace(entry, uid=f"{number}@deskhand") for number, entry in enumerate(entries)]
    found = read(feed_of(*entries, name=name, zone=zone))
    assert found.calendar.text("NAME") == found.calendar.text("X-WR-CALNAME") == one_line(name)
    assert len(found.events) == len(entries)
    for entry in entries:
        event = found.event(entry.uid)
        assert found.span(event) == (entry.start, entry.end)
        assert event.text("SUMMARY") == one_line(entry.summary)
        description = event.all("DESCRIPTION")
        assert [unescaped(text) for text in description] == [cleaned(entry.description)] * bool(
            entry.description
        )
        assert len(event.inside("VALARM")) == (entry.alarm is not None)


@settings(quick, max_examples=60)
@given(ENTRIES)
def test_another_reader_gets_the_same_words(entry: Entry) -> None:
    event = vobject.readOne(feed_of(entry).decode()).vevent
    assert event.summary.value == one_line(entry.summary)
    if entry.description:
        assert event.description.value == cleaned(entry.description)


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=400))
def test_folding_cuts_no_character_and_loses_nothing(line: str) -> None:
    octets = folded(line)
    pieces = octets.removesuffix(b"\r\n").split(b"\r\n")
    assert all(len(piece) <= 75 and piece.decode() for piece in pieces[1:])
    assert len(pieces[0]) <= 75
    assert all(piece.startswith(b" ") for piece in pieces[1:])
    assert b"".join([pieces[0], *(piece[1:] for piece in pieces[1:])]).decode() == line


@pytest.mark.parametrize("blanks", [1, 2, 60, 100])
@pytest.mark.parametrize("letter", ["x", "Ö", "🎸"])
def test_no_line_holds_only_the_blanks_at_the_end(letter: str, blanks: int) -> None:
    for before in range(70, 76):
        line = "a" * before + letter + "\t" * blanks
        pieces = folded(line).split(b"\r\n")[:-1]
        assert b"".join([pieces[0], *(piece[1:] for piece in pieces[1:])]).decode() == line
        assert all(len(piece) <= 75 and piece.decode().strip() for piece in pieces[: 2 if blanks < 70 else 1])


@pytest.mark.parametrize(("length", "lines"), [(75, 1), (76, 2), (149, 2), (150, 3)])
def test_lines_are_folded_at_75_octets(length: int, lines: int) -> None:
    """RFC 5545 section 3.1: 75 octets without the line break; a continued line spends one on its space."""
    assert folded("x" * length).count(b"\r\n") == lines


@pytest.mark.parametrize("before", range(60, 80))
def test_a_fold_never_cuts_an_escape_in_two(before: int) -> None:
    for text in ["\\" * 40, "\n" * 40, ",;" * 20]:
        octets = feed_of(replace(PLAIN, description="a" * before + text))
        for piece in octets.split(b"\r\n"):
            assert (len(piece) - len(piece.rstrip(b"\\"))) % 2 == 0, piece
        assert read(octets).event(PLAIN.uid).text("DESCRIPTION") == "a" * before + text


def test_f01_accents_emoji_breaks_and_blanks_survive_the_folding() -> None:
    title = "Ö" * 60 + "🎸" * 10
    blank_at_the_fold = "b" * (75 - len("DESCRIPTION:") - 1) + " tail"
    for note in ["a" * 62 + "\n• tail", blank_at_the_fold]:
        event = read(feed_of(replace(PLAIN, summary=title, description=note))).event(PLAIN.uid)
        assert (event.text("SUMMARY"), event.text("DESCRIPTION")) == (title, note)


def test_f03_any_time_with_a_zone_is_the_same_instant_and_one_without_is_an_error() -> None:
    """RFC 5545 sections 3.2.19 and 3.3.5. 1 June 2026, 10:00 in Berlin is 08:00 in UTC: summer time is +2."""
    wall = datetime(2026, 6, 1, 10)  # noqa: DTZ001 (the case)
    for start in (
        wall.replace(tzinfo=timezone(timedelta(hours=2))),
        wall.replace(tzinfo=ZoneInfo("Europe/Berlin")),
        datetime(2026, 6, 1, 8, tzinfo=UTC),
    ):
        octets = feed_of(replace(PLAIN, start=start))
        assert b"DTSTART;TZID=Europe/Berlin:20260601T100000\r\n" in octets
        assert octets.count(b"TZID:Europe/Berlin\r\n") == 1
        found = read(octets)
        assert found.instant(found.event(PLAIN.uid), "DTSTART") == datetime(2026, 6, 1, 8, tzinfo=UTC)
    with pytest.raises(ValueError, match="without a zone"):
        feed_of(replace(PLAIN, start=wall))


def test_an_entry_has_to_end_after_it_begins_in_elapsed_time() -> None:
    """On Berlin's clock 02:30 of summer comes before 02:10 of winter, on 25 October 2026."""
    berlin = ZoneInfo("Europe/Berlin")
    start = datetime(2026, 10, 25, 2, 30, tzinfo=berlin)
    end = datetime(2026, 10, 25, 2, 10, tzinfo=berlin, fold=1)
    found = read(feed_of(replace(PLAIN, start=start, end=end)))
    first, last = found.span(found.event(PLAIN.uid))
    assert last - first == timedelta(minutes=40)
    with pytest.raises(ValueError, match="ends before"):
        feed_of(replace(PLAIN, start=end, end=start))


def test_f06_sessions_in_a_zone_stay_at_their_local_hour_and_the_zone_has_yearly_rules() -> None:
    """Tuesdays 19:00 in Berlin: 17:00 in UTC until 20 October 2026, 18:00 from the 27th (IANA rules)."""
    berlin = ZoneInfo("Europe/Berlin")
    tuesdays = [datetime(2026, 10, 6, 19, tzinfo=berlin) + timedelta(weeks=week) for week in range(6)]
    entries = [replace(PLAIN, uid=f"{day:%m%d}", start=day, end=day + timedelta(hours=3)) for day in tuesdays]
    octets = feed_of(*entries)
    found = read(octets)
    starts = [found.instant(event, "DTSTART") for event in found.events]
    assert [start.hour for start in starts] == [17, 17, 17, 18, 18, 18]
    assert b"RDATE" not in octets
    assert octets.count(b"RRULE:FREQ=YEARLY") == 2
    assert (
        b"DTSTART:20070325T020000\r\n" in octets
    )  # spring: the clock just before the jump, RFC 5545 section 3.6.5


def test_f10_a_feed_is_no_invitation() -> None:
    assert not read(feed_of(PLAIN)).calendar.all("METHOD")
    assert not read(feed_of(PLAIN)).event(PLAIN.uid).all("ATTENDEE")


def test_f12_an_alarm_says_how_long_before_and_what() -> None:
    """RFC 5545 sections 3.6.6 and 3.8.6.3."""
    event = read(feed_of(replace(PLAIN, alarm=timedelta(minutes=30)))).event(PLAIN.uid)
    (alarm,) = event.inside("VALARM")
    assert (alarm.one("TRIGGER"), alarm.one("ACTION"), alarm.one("DESCRIPTION")) == (
        "-PT30M",
        "DISPLAY",
        "Quartet",
    )


def test_lengths_are_whole_minutes() -> None:
    """RFC 5545 section 3.3.6."""
    assert [duration(timedelta(minutes=m)) for m in (-90, 0, 5)] == ["-PT90M", "PT0M", "PT5M"]


def test_f13_every_required_line_is_there() -> None:
    """RFC 5545 sections 3.4, 3.6, 3.6.1; DTSTAMP of what is no message is the latest change (3.8.7.2)."""
    octets = feed_of(PLAIN)
    found = read(octets)
    event = found.event(PLAIN.uid)
    assert found.calendar.one("CALSCALE") == "GREGORIAN"
    assert found.calendar.one("PRODID") == "-//Deskhand//Calendar feed//EN"
    assert event.one("DTSTAMP") == event.one("LAST-MODIFIED") == "20260105T083000Z"
    assert event.one("CREATED") == "20260102T083000Z"
    assert event.one("SEQUENCE") == "2"


@pytest.mark.parametrize("zone", ZONES)
def test_f14_a_calendar_with_nothing_in_it_is_whole(zone: str) -> None:
    found = read(feed_of(zone=zone))
    assert found.events == []
    assert len(found.calendar.inside("VTIMEZONE")) == 1


def test_f16_clients_are_asked_to_look_again_every_hour() -> None:
    """RFC 7986 section 5.7."""
    octets = feed_of(PLAIN)
    assert b"REFRESH-INTERVAL;VALUE=DURATION:PT1H\r\n" in octets
    assert b"X-PUBLISHED-TTL:PT1H\r\n" in octets


def test_f17_what_would_not_fit_stays_out_from_the_far_end_and_the_calendar_says_so() -> None:
    entries = [
        replace(PLAIN, uid=f"{n}", start=START + timedelta(days=n), end=START + timedelta(days=n, hours=1))
        for n in range(50)
    ]
    found = read(feed_of(*entries, most_bytes=6_000))
    kept = [event.one("UID") for event in found.events]
    assert kept == [f"{n}" for n in range(len(kept))]
    assert 10 < len(kept) < 50
    assert f"{50 - len(kept)} entries further away are left out" in found.calendar.text("DESCRIPTION")


def test_entries_of_several_zones_bring_one_definition_each() -> None:
    found = read(feed_of(PLAIN, replace(PLAIN, uid="b", zone="America/New_York"), replace(PLAIN, uid="c")))
    assert sorted(found.zones) == ["America/New_York", "Europe/Berlin"]


def test_a_cancelled_entry_takes_no_time() -> None:
    event = read(feed_of(replace(PLAIN, status=Status.CANCELLED))).event(PLAIN.uid)
    assert (event.one("STATUS"), event.one("TRANSP")) == ("CANCELLED", "TRANSPARENT")
