"""Entries of a calendar: ends and lengths, bad ones among good ones, versions, whole days, free ones.

Field cases F27, F34, F37 and F38, each as a file of our own; intervals are UTC. Sections are of RFC 5545.
"""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from bookings.busy.reading import Outcome
from tests.bookings.calendars import BERLIN_TZID, GOOD, GOOD_BUSY, busy, calendar, event, in_june, of_2026


def test_no_end_means_no_time_for_a_time_and_a_day_for_a_date() -> None:
    """Section 3.6.1."""
    found = of_2026(
        calendar(
            event("DTSTART:20260610T080000Z"),
            event("DTSTART;VALUE=DATE:20260611"),
            event("DTSTART:20260612T080000Z", "DURATION:PT1H30M"),
            event("DTSTART;VALUE=DATE:20260615", "DURATION:P1W"),
        )
    )
    assert (found.outcome, busy(found)) == (
        Outcome.BUSY,
        ["06-10 22:00–06-11 22:00", "06-12 08:00–09:30", "06-14 22:00–06-21 22:00"],
    )


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["DTSTART:20260611T220000Z", "DTEND:20260611T020000Z"], "it ends before it starts"),
        (["DTSTART:20260612T080000Z", "DURATION:-PT1H"], "negative length"),
        (["DTSTART;VALUE=DATE:20260612", "DTEND;VALUE=DATE:20260610"], "it ends before it starts"),
        (["DTSTART:2026-06-11 09:00", "DTEND:2026-06-11 10:00"], "the start cannot be read"),
        (["DTSTART:20260631T090000Z"], "the start cannot be read"),
        (["DTSTART:20260611T250000Z"], "the start cannot be read"),
        (["DTEND:20260613T090000Z"], "it has no start"),
        (["DTSTART:20260611T090000Z", "DTSTART:20260612T090000Z"], "two different starts"),
        (
            [f"DTSTART;{BERLIN_TZID}:20260611T200000", "DTEND;VALUE=DATE:20260612"],
            "start is a time and its end is a date",
        ),
        (["DTSTART;VALUE=DATE:20260611", "DTEND:20260612T080000Z"], "start is a date and its end is a time"),
        (["DTSTART:20260611T090000Z", "DURATION:an hour"], "the length cannot be read"),
        (["DTSTART:20260611T090000Z", "DURATION:PT"], "the length cannot be read"),
        (["DTSTART:99991231T235959Z", "DURATION:PT1H"], "outside the years"),
        (["DTSTART:99980101T000000Z", "DURATION:P9999W"], "outside the years"),
        (["DTSTART;VALUE=DATE:00010101"], "outside the years"),
        (["DTSTART:20260611T090000Z", "RRULE:FREQ=SOMETIMES"], "no FREQ"),
        (["DTSTART:20260611T090000Z", "RRULE:FREQ=DAILY;COUNT=0"], "COUNT=0"),
        (["DTSTART:20260611T090000Z", "RRULE:FREQ=DAILY;BYMONTH=13"], "BYMONTH=13"),
        (["DTSTART:20260611T090000Z", "RRULE:FREQ=DAILY;UNTIL=later"], "UNTIL that cannot be read"),
        (["DTSTART:20260611T090000Z", "RRULE:FREQ=YEARLY;BYEASTER=1"], "BYEASTER"),
        (["DTSTART;VALUE=DATE:20260611", "RRULE:FREQ=HOURLY"], "it needs a time"),
        (["DTSTART:20260611T090000Z", "RRULE:FREQ=WEEKLY;BYDAY=2MO"], "numbers weekdays"),
    ],
)
def test_a_bad_entry_is_named_with_its_reason_and_the_good_ones_taken(lines: list[str], words: str) -> None:
    bad = event("UID:bad@test.example", "SUMMARY:Odd", *lines)
    for entries in ([bad, GOOD], [GOOD, bad]):
        found = of_2026(calendar(*entries))
        assert (found.outcome, busy(found)) == (Outcome.PARTIAL, [GOOD_BUSY])
        assert len(found.reports) == 1
        assert found.reports[0].startswith("“Odd” (bad@test.example): ")
        assert words in found.reports[0]
        assert found.reports[0].endswith(".")
    assert (of_2026(calendar(bad)).outcome, of_2026(calendar(bad)).busy) == (Outcome.ERROR, ())


@pytest.mark.parametrize(
    ("lines", "words", "expected"),
    [
        (["DTSTART;VALUE=DATE:20260611", "DTEND;VALUE=DATE:20260611"], "same date",
         ["06-10 22:00–06-11 22:00"]),
        (["DTSTART:20260611T080000Z", "DTEND:20260611T080000Z"], "takes no time", []),
        (["DTSTART;VALUE=DATE:20260920T080000", "DTEND;VALUE=DATE:20260920T100000"], "VALUE=DATE with a time",
         ["09-20 06:00–08:00"]),
        (["DTSTART:20260611T080000Z", "DTEND:20260611T090000Z", "DURATION:PT3H"], "differ",
         ["06-11 08:00–09:00"]),
        (["DTSTART;VALUE=DATE:20260611", "DURATION:PT5H"], "whole day", ["06-10 22:00–06-11 22:00"]),
    ],
)  # fmt: skip
def test_a_slip_that_can_be_read_all_the_same_is_taken_and_told(
    lines: list[str], words: str, expected: list[str]
) -> None:
    found = of_2026(calendar(event("UID:slip@test.example", *lines)))
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, expected)
    assert any(report.startswith("slip@test.example: ") and words in report for report in found.reports)


def test_junk_in_a_line_that_does_not_matter_does_not_matter() -> None:
    lines = [
        "X-RADIUS=49.9",
        "====",
        "X",
        "DTSTART:20260612T080000Z",
        "DTEND:20260612T090000Z",
        "GEO:here;there",
    ]
    found = of_2026(calendar(event(*lines)))
    assert (found.outcome, busy(found), found.reports) == (Outcome.BUSY, ["06-12 08:00–09:00"], ())


def test_the_higher_version_holds_then_the_later_stamp() -> None:
    """RFC 5546 section 2.1.5."""
    old = event("UID:v@test.example", "SEQUENCE:9", "DTSTART:20260610T080000Z", "DURATION:PT1H")
    new = event("UID:v@test.example", "SEQUENCE:10", "DTSTART:20260611T080000Z", "DURATION:PT1H")
    later = [line.replace("20260101T", "20260201T").replace("20260611", "20260612") for line in new]
    for entries, expected in (([new, old], "06-11"), ([old, new], "06-11"), ([later, new, old], "06-12")):
        found = of_2026(calendar(*entries))
        assert (found.outcome, busy(found)) == (Outcome.BUSY, [f"{expected} 08:00–09:00"])


def test_entries_without_a_uid_are_still_entries() -> None:
    lines = [line for line in GOOD if not line.startswith("UID")]
    second = [line.replace("20260610", "20260611") for line in lines]
    found = of_2026(calendar(lines, second))
    assert (found.outcome, busy(found)) == (Outcome.BUSY, [GOOD_BUSY, "06-11 08:00–09:00"])


def test_two_times_under_one_uid_and_version_are_both_busy_and_told() -> None:
    second = [line.replace("20260610", "20260617") for line in GOOD]
    found = of_2026(calendar(GOOD, second, GOOD))
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, [GOOD_BUSY, "06-17 08:00–09:00"])
    assert "good@test.example: the same UID twice" in found.reports[0]


@pytest.mark.parametrize(
    ("clock", "expected"),
    [
        ("Europe/Berlin", ["03-28 23:00–03-29 22:00", "10-24 22:00–10-25 23:00"]),
        ("America/New_York", ["03-29 04:00–03-30 04:00", "10-25 04:00–10-26 04:00"]),
    ],
)
def test_a_day_is_the_readers_day(clock: str, expected: list[str]) -> None:
    """Section 3.3.4; in Berlin the two days have 23 and 25 hours."""
    days = [event(f"DTSTART;VALUE=DATE:{a}", f"DTEND;VALUE=DATE:{b}") for a, b in
            (("20260329", "20260330"), ("20261025", "20261026"))]  # fmt: skip
    assert busy(of_2026(calendar(*days), ZoneInfo(clock))) == expected


def test_midnight_in_utc_is_no_whole_day() -> None:
    one = event("DTSTART:20260610T000000Z", "DTEND:20260611T000000Z")
    assert busy(of_2026(calendar(one))) == ["06-10 00:00–06-11 00:00"]


@pytest.mark.parametrize(
    "line",
    [
        "TRANSP:TRANSPARENT", "transp:Transparent", "STATUS:CANCELLED",
        "ATTENDEE;PARTSTAT=DECLINED:mailto:ann@test.example",
        'ATTENDEE;CN="Bee; Ann";PARTSTAT=declined;EMAIL=ANN@test.example:urn:uuid:1',
        "ATTENDEE;PARTSTAT=DELEGATED:mailto:ann%40test.example",
    ],
)  # fmt: skip
def test_free_entries_take_no_time(line: str) -> None:
    another = event("DTSTART:20260611T080000Z", "DURATION:PT1H", line)
    found = of_2026(calendar(another, GOOD), owner="mailto:Ann@test.example")
    assert (found.outcome, busy(found)) == (Outcome.BUSY, [GOOD_BUSY])


@pytest.mark.parametrize(
    "line",
    [
        "STATUS:TENTATIVE", "TRANSP:OPAQUE", "ATTENDEE;PARTSTAT=DECLINED:mailto:bo@test.example",
        "ATTENDEE;PARTSTAT=NEEDS-ACTION:mailto:ann@test.example",
    ],
)  # fmt: skip
def test_entries_that_may_yet_be_take_their_time(line: str) -> None:
    found = of_2026(calendar([*GOOD[:-1], line, GOOD[-1]]), owner="ann@test.example")
    assert busy(found) == [GOOD_BUSY]


def test_a_calling_off_is_no_entry_and_an_answer_no_calendar() -> None:
    assert busy(of_2026(calendar(GOOD, before=["METHOD:CANCEL"]))) == []
    found = of_2026(calendar(GOOD, before=["METHOD:REPLY"]))
    assert found.outcome == Outcome.ERROR
    assert "answer to an invitation" in found.reports[0]


def test_free_busy_times_are_taken_but_the_free_ones() -> None:
    """Sections 3.6.4 and 3.2.9: a kind that is not known is busy."""
    times = event(
        "DTSTART:20260601T000000Z", "DTEND:20260630T000000Z",
        "FREEBUSY:20260603T080000Z/PT1H,20260604T080000Z/20260604T093000Z",
        "FREEBUSY;FBTYPE=FREE:20260605T080000Z/PT1H", "FREEBUSY;FBTYPE=X-ODD:20260606T080000Z/PT1H",
        kind="VFREEBUSY",
    )  # fmt: skip
    assert busy(of_2026(calendar(times))) == ["06-03 08:00–09:00", "06-04 08:00–09:30", "06-06 08:00–09:00"]


def test_an_end_without_a_zone_is_on_the_clock_of_its_start() -> None:
    found = of_2026(calendar(event("DTSTART;TZID=America/New_York:20260610T100000", "DTEND:20260610T120000")))
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, ["06-10 14:00–16:00"])
    assert "its end names no zone" in found.reports[0]


def test_an_answer_to_a_question_for_busy_times_is_one() -> None:
    """RFC 5546 section 3.3.3."""
    times = event("DTSTART:20260601T000000Z", "FREEBUSY:20260603T080000Z/PT1H", kind="VFREEBUSY")
    found = of_2026(calendar(times, before=["METHOD:REPLY"]))
    assert (found.outcome, busy(found)) == (Outcome.BUSY, ["06-03 08:00–09:00"])


def test_what_is_called_off_needs_no_start() -> None:
    """RFC 5546 section 3.2.5: of a whole entry, and of one repeat."""
    name = "UID:off@test.example"
    series = event(name, "DTSTART:20260601T080000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=2")
    one = event(name, "RECURRENCE-ID:20260602T080000Z", "STATUS:CANCELLED")
    assert busy(of_2026(calendar(series, one))) == ["06-01 08:00–09:00"]
    off = calendar(event(name, "SEQUENCE:1"), before=["METHOD:CANCEL"])
    found = of_2026(calendar(series) + off)
    assert (found.outcome, busy(found)) == (Outcome.BUSY, [])


def test_alarms_and_things_to_do_take_no_time() -> None:
    alarm = ["BEGIN:VALARM", "TRIGGER:-PT15M", "DURATION:PT5H", "REPEAT:4", "ACTION:AUDIO", "END:VALARM"]
    todo = event("DTSTART:20260611T080000Z", "DUE:20260611T180000Z", kind="VTODO")
    assert busy(of_2026(calendar([*GOOD[:-1], *alarm, GOOD[-1]], todo))) == [GOOD_BUSY]


def test_what_overlaps_the_window_is_told_whole() -> None:
    long = event("DTSTART:20260530T080000Z", "DTEND:20260603T080000Z")
    before = event("DTSTART:20260530T080000Z", "DTEND:20260601T000000Z")
    after = event("DTSTART:20260615T000000Z", "DTEND:20260616T000000Z")
    assert busy(in_june(calendar(long, before, after))) == ["05-30 08:00–06-03 08:00"]
