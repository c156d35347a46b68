"""Bytes of a calendar, as programs of many kinds write them.

Field cases F25 and F26, each as a file of our own; intervals are UTC. Sections are of RFC 5545.
"""

from __future__ import annotations

import pytest

from bookings.busy.limits import Budget
from bookings.busy.lines import components
from bookings.busy.reading import Outcome
from tests.bookings.calendars import GOOD, GOOD_BUSY, busy, calendar, event, of_2026

PLAIN = event("UID:p@test.example", "SUMMARY:Plain", "DTSTART:20260610T080000Z", "DTEND:20260610T093000Z")


@pytest.mark.parametrize(
    "data",
    [
        b"\xef\xbb\xbf" + calendar(PLAIN), calendar(PLAIN, end="\n"), calendar(PLAIN, end="\r"),
        calendar(PLAIN, end="\r\r\n"), calendar(PLAIN, end="\r\n\r\n"),
        calendar(PLAIN).decode().encode("utf-16"), calendar(PLAIN).decode().encode("utf-16-le"),
        calendar(PLAIN).decode().encode("utf-16-be"), calendar(PLAIN).decode().encode("utf-32"),
        b"\xef\xbb\xbf\xef\xbb\xbf" + calendar(PLAIN), calendar() + b"\xef\xbb\xbf" + calendar(PLAIN),
        calendar(PLAIN).replace(b"DTSTART", b"DTST\r\n\tART"),
        calendar(PLAIN).replace(b"BEGIN", b"begin").replace(b"DTEND", b"Dtend").replace(b"VEVENT", b"vevent"),
        b"\r\n\r\n" + calendar(PLAIN) + b"\r\n\r\n", calendar(PLAIN).replace(b"Plain", b"M\xfchle"),
    ],
)  # fmt: skip
def test_marks_line_ends_and_case_carry_nothing(data: bytes) -> None:
    found = of_2026(data)
    assert (found.outcome, busy(found), found.reports) == (Outcome.BUSY, ["06-10 08:00–09:30"], ())


def test_a_letter_cut_in_two_by_folding_comes_back() -> None:
    """Section 3.1: unfold the octets first, decode afterwards."""
    title = b"SUMMARY:" + b"M" * 65 + b"\xc3\r\n \x96 drums"
    data = calendar(PLAIN).replace(b"SUMMARY:Plain", title)
    entry = components(data, Budget()).calendars[0].parts[0]
    assert entry.text("SUMMARY") == "M" * 65 + "Ö drums"


def test_a_line_folded_with_a_tab_before_a_blank_line() -> None:
    data = calendar(PLAIN).replace(b"SUMMARY:Plain", b"summary:Folded with\r\n\t a tab\r\n\r\nX-MORE:1")
    assert components(data, Budget()).calendars[0].parts[0].text("SUMMARY") == "Folded with a tab"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"), (b" \r\n ", "empty"),
        (b"<!DOCTYPE html><title>Sign in</title>", "web page"),
        (b"Dear all, see you at ten", "not an iCalendar file"),
        (b"\x00\x01\x02" * 50, "not an iCalendar file"),
        (b"BEGIN:VEVENT\r\nDTSTART:20260610T080000Z\r\nEND:VEVENT\r\n", "not an iCalendar file"),
    ],
)  # fmt: skip
def test_what_is_no_calendar_gets_a_sentence(data: bytes, words: str) -> None:
    found = of_2026(data)
    assert (found.outcome, found.busy) == (Outcome.ERROR, ())
    assert words in found.reports[0]


def test_a_calendar_with_nothing_in_it_is_nothing_busy() -> None:
    assert of_2026(calendar()).outcome == Outcome.BUSY


def test_a_file_that_breaks_off_is_told() -> None:
    found = of_2026(calendar(GOOD, PLAIN)[:-60])
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, [GOOD_BUSY])
    assert "cut short" in found.reports[0]


def test_an_entry_that_is_not_closed_does_not_swallow_the_next() -> None:
    found = of_2026(calendar(PLAIN[:-1], GOOD))
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, ["06-10 08:00–09:00", "06-10 08:00–09:30"])
    assert "“Plain” (p@test.example): it has no END" in found.reports[0]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (calendar(PLAIN[1:], GOOD), "“Plain” (p@test.example): it has no BEGIN"),
        (calendar(GOOD, PLAIN[1:]), "“Plain” (p@test.example): it has no BEGIN"),
        (calendar(GOOD, ["END:VCALENDAR"], PLAIN), "“Plain” (p@test.example): it stands after the calendar's END"),
        (calendar(["END:VCALENDAR"], PLAIN, GOOD), "“Plain” (p@test.example): it stands after the calendar's END"),
    ],
)  # fmt: skip
def test_an_entry_out_of_its_place_is_taken_and_told(data: bytes, words: str) -> None:
    found = of_2026(data)
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, ["06-10 08:00–09:00", "06-10 08:00–09:30"])
    assert found.reports[0].startswith(words)


def test_an_end_of_nothing_is_told() -> None:
    found = of_2026(calendar(GOOD, ["END:VEVENT"]))
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, [GOOD_BUSY])
