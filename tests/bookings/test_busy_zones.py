"""Whose clock the times of a calendar are on.

Field cases F20 and F21, each as a file of our own; intervals are UTC. Sections are of RFC 5545.
"""

from __future__ import annotations

import pytest

from bookings.busy.reading import Outcome
from tests.bookings.calendars import BERLIN_TZID, GOOD, GOOD_BUSY, busy, calendar, event, of_2026

EUROPE = [
    "BEGIN:DAYLIGHT", "DTSTART:16010325T020000", "RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=-1SU",
    "TZOFFSETFROM:+0100", "TZOFFSETTO:+0200", "END:DAYLIGHT",
    "BEGIN:STANDARD", "DTSTART:16011028T030000", "RRULE:FREQ=YEARLY;BYMONTH=10;BYDAY=-1SU",
    "TZOFFSETFROM:+0200", "TZOFFSETTO:+0100", "END:STANDARD",
]  # fmt: skip
LONDON = [line.replace("+0100", "+0000").replace("+0200", "+0100") for line in EUROPE]


def zone(name: str, rules: list[str]) -> list[str]:
    return ["BEGIN:VTIMEZONE", f"TZID:{name}", *rules, "END:VTIMEZONE"]


@pytest.mark.parametrize(
    ("written", "used"),
    [
        ("Hall clock of our own", '"Hall clock of our own"'),
        ("Europe/Berlin", "europe/berlin"),
        ("Rome\\, Bern\\; and more", '"Rome, Bern; and more"'),
        ("(UTC+01:00) Amsterdam\\, Rome", "(UTC+01:00) Amsterdam, Rome"),
    ],
)
def test_a_zone_that_the_file_defines_is_found_however_it_is_written(written: str, used: str) -> None:
    days = [event(f"DTSTART;TZID={used}:2026{day}T090000", "DURATION:PT8H") for day in ("0210", "0710")]
    found = of_2026(calendar(*days, before=zone(written, EUROPE)))
    assert (found.outcome, busy(found)) == (Outcome.BUSY, ["02-10 08:00–16:00", "07-10 07:00–15:00"])


def test_the_definition_in_the_file_wins_over_a_familiar_name() -> None:
    """Section 3.2.19: the name says GMT, the rules say British summer."""
    for name in ("GMT", "America/New_York"):
        one = event(f"DTSTART;TZID={name}:20260723T102000", f"DTEND;TZID={name}:20260723T105000")
        assert busy(of_2026(calendar(one, before=zone(name, LONDON)))) == ["07-23 09:20–09:50"]


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("W. Europe Standard Time", "08:00"),  # the zone map of the Unicode CLDR, through icalendar
        ("Eastern Standard Time", "14:00"),
        ("/test.example/20260101_1/Europe/Berlin", "08:00"),
        ("UTC", "10:00"),
        ("GMT+0530", "04:30"),
        ("-03:00", "13:00"),
        ('"(UTC+01:00) Nowhere, Berlin, Vienna"', "08:00"),
        ('"(UTC-05:00) Eastern Time (US & Canada)"', "14:00"),
        # from memory: how calendar programs have written such names over the years
        ('"(GMT+01.00) Sarajevo/Warsaw/Zagreb"', "08:00"),
        ('"(UTC) Dublin, Edinburgh, Lisbon, London"', "09:00"),
        ('"(GMT) Greenwich Mean Time : Dublin, Edinburgh, Lisbon, London"', "09:00"),
        ('"(UTC) Coordinated Universal Time"', "10:00"),
        ('"(UTC-04:00) Atlantic Time (Canada)"', "13:00"),
        ('"Pacific Time (US & Canada)"', "17:00"),
        ('"Amsterdam, Berlin, Bern, Rome, Stockholm, Vienna"', "08:00"),
    ],
)
def test_a_zone_that_is_only_named_is_known_by_many_names(name: str, expected: str) -> None:
    found = of_2026(calendar(event(f"DTSTART;TZID={name}:20260601T100000", "DURATION:PT1H")))
    assert found.outcome == Outcome.BUSY
    assert busy(found)[0].startswith(f"06-01 {expected}")


@pytest.mark.parametrize(
    "name",
    ["Nowhere/Land", "PST8", "(UTC+02:00) Berlin", "Berlin", "London, Berlin", "+99:00", "../etc/passwd"],
)
def test_a_zone_that_nobody_knows_is_told_and_never_floating(name: str) -> None:
    lost = event("UID:lost@test.example", f'DTSTART;TZID="{name}":20260601T100000', "DURATION:PT1H")
    found = of_2026(calendar(GOOD, lost))
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, [GOOD_BUSY])
    assert found.reports == (
        f"lost@test.example: the start is in the zone “{name}”, which the file doesn't define and the zone "
        "database doesn't know; the time can't be placed.",
    )
    assert of_2026(calendar(lost)).outcome == Outcome.ERROR


def test_a_broken_definition_of_a_known_zone_is_told_and_the_known_one_used() -> None:
    broken = zone("Europe/Berlin", [line.replace("+0200", "two") for line in EUROPE])
    one = event(f"DTSTART;{BERLIN_TZID}:20260601T100000", "DURATION:PT1H")
    found = of_2026(calendar(one, before=broken))
    assert busy(found) == ["06-01 08:00–09:00"]
    assert "The definition of the zone “Europe/Berlin” can't be used" in found.reports[0]


@pytest.mark.parametrize("written", ["+01", "+01:00", "+010000"])
def test_an_offset_may_be_written_shorter_or_with_colons(written: str) -> None:
    hall = zone("Hall", [line.replace("+0100", written).replace("+0200", "+02") for line in EUROPE])
    one = event("DTSTART;TZID=Hall:20260601T100000", "DURATION:PT1H")
    assert busy(of_2026(calendar(one, before=hall))) == ["06-01 08:00–09:00"]


def test_a_definition_that_cannot_be_read_is_not_called_missing() -> None:
    broken = zone("Hall", [line.replace("+0200", "two") for line in EUROPE])
    found = of_2026(calendar(event("DTSTART;TZID=Hall:20260601T100000"), before=broken))
    assert "which the file defines in a way that can't be read" in found.reports[0]


def test_a_definition_without_changes_goes_by_the_place_that_it_names() -> None:
    named = ["BEGIN:VTIMEZONE", "TZID:Hall", "X-LIC-LOCATION:Europe/Berlin", "END:VTIMEZONE"]
    one = event("DTSTART;TZID=Hall:20260601T100000", "DURATION:PT1H")
    assert busy(of_2026(calendar(one, before=named))) == ["06-01 08:00–09:00"]


def test_utc_is_utc_whatever_zone_the_calendar_names() -> None:
    once = event("DTSTART:20260701T140000Z", "DTEND:20260701T160000Z")
    weekly = event("DTSTART:20260302T150000Z", "DTEND:20260302T160000Z", "RRULE:FREQ=WEEKLY;COUNT=3")
    found = of_2026(calendar(once, weekly, before=["X-WR-TIMEZONE:America/New_York"]))
    assert busy(found) == ["03-02 15:00–16:00", "03-09 15:00–16:00", "03-16 15:00–16:00", "07-01 14:00–16:00"]


@pytest.mark.parametrize(
    ("before", "clock", "expected"),
    [
        ([], "Europe/Berlin", "07-01 12:00–14:00"),
        (["X-WR-TIMEZONE:Europe/London"], "Europe/London", "07-01 13:00–15:00"),
        (["X-WR-TIMEZONE:Nowhere"], "Europe/Berlin", "07-01 12:00–14:00"),
    ],
)
def test_a_floating_time_is_on_the_calendars_clock_or_the_readers(
    before: list[str], clock: str, expected: str
) -> None:
    found = of_2026(calendar(event("DTSTART:20260701T140000", "DTEND:20260701T160000"), before=before))
    assert (found.outcome, busy(found)) == (Outcome.BUSY, [expected])
    assert f"Floating times, which have no zone, are read as {clock}." in found.reports
