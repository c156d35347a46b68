"""Repeats of a calendar: rules, dates, replaced repeats, nights on which the clocks change.

Field cases F22, F24, F29, F35 and F36, each as a file of our own; intervals are UTC. Sections are of RFC 5545.
"""

from __future__ import annotations

import pytest

from bookings.busy.reading import Outcome
from tests.bookings.calendars import BERLIN_TZID, GOOD, GOOD_BUSY, busy, calendar, event, in_june, of_2026

CHOIR = [
    "UID:choir@test.example",
    f"DTSTART;{BERLIN_TZID}:20261006T190000",
    f"DTEND;{BERLIN_TZID}:20261006T230000",
]
SIX = "RRULE:FREQ=WEEKLY;BYDAY=TU;COUNT=6"
TUESDAYS = [
    "10-06 17:00–21:00", "10-13 17:00–21:00", "10-20 17:00–21:00", "10-27 18:00–22:00", "11-03 18:00–22:00",
    "11-10 18:00–22:00",
]  # fmt: skip


def test_a_series_with_a_gap_and_a_moved_evening() -> None:
    moved = event(
        "UID:choir@test.example", "SEQUENCE:4", f"RECURRENCE-ID;{BERLIN_TZID}:20261027T190000",
        f"DTSTART;{BERLIN_TZID}:20261028T200000", f"DTEND;{BERLIN_TZID}:20261028T233000",
    )  # fmt: skip
    series = event(*CHOIR, SIX, f"EXDATE;{BERLIN_TZID}:20261020T190000", "SEQUENCE:3")
    expected = [*TUESDAYS[:2], "10-28 19:00–22:30", *TUESDAYS[4:]]
    for entries in ([series, moved], [moved, series]):
        assert busy(of_2026(calendar(*entries))) == expected


@pytest.mark.parametrize(
    "date",
    [
        f"EXDATE;{BERLIN_TZID}:20261020T190000", "EXDATE:20261020T170000Z", "EXDATE;VALUE=DATE:20261020",
        "EXDATE:20261020T190000", "EXDATE;TZID=Europe/London:20261020T180000",
    ],
)  # fmt: skip
def test_a_left_out_evening_may_be_named_in_many_ways(date: str) -> None:
    assert busy(of_2026(calendar(event(*CHOIR, SIX, date)))) == [*TUESDAYS[:2], *TUESDAYS[3:]]


@pytest.mark.parametrize(
    "lines",
    [
        ["STATUS:CANCELLED"], ["TRANSP:TRANSPARENT"], ["status:cancelled"],
        ["ATTENDEE;PARTSTAT=DECLINED;CN=Ann:MAILTO:Ann@Test.example"],
    ],
)  # fmt: skip
def test_one_repeat_may_be_free_though_the_others_are_busy(lines: list[str]) -> None:
    change = event(CHOIR[0], f"RECURRENCE-ID;{BERLIN_TZID}:20261027T190000", *(
        line.replace("20261006", "20261027") for line in CHOIR[1:]
    ), *lines)  # fmt: skip
    found = of_2026(calendar(event(*CHOIR, SIX), change), owner="ann@test.example")
    assert busy(found) == [*TUESDAYS[:3], *TUESDAYS[4:]]


def test_a_replacement_that_cannot_be_read_leaves_the_repeat_busy_and_is_told() -> None:
    change = event(CHOIR[0], f"RECURRENCE-ID;{BERLIN_TZID}:20261027T190000", "DTSTART:tomorrow")
    found = of_2026(calendar(event(*CHOIR, SIX), change))
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, TUESDAYS)


def test_a_replacement_without_its_series_stands_for_itself() -> None:
    alone = event(*CHOIR, f"RECURRENCE-ID;{BERLIN_TZID}:20261006T190000")
    assert busy(of_2026(calendar(alone))) == TUESDAYS[:1]


def test_a_series_that_was_called_off_takes_its_moved_evenings_along() -> None:
    off = event(*CHOIR, SIX, "STATUS:CANCELLED", "SEQUENCE:5")
    moved = event(
        CHOIR[0], "SEQUENCE:4", "RECURRENCE-ID:20261027T180000Z", "DTSTART:20261028T180000Z", "DURATION:PT1H"
    )
    assert busy(of_2026(calendar(off, moved, GOOD))) == [GOOD_BUSY]


@pytest.mark.parametrize("until", ["20260626T190000Z", "20260626", "20260626T210000"])
def test_until_is_included_in_whatever_form_it_comes(until: str) -> None:
    """Section 3.3.10; a date means through that day where the event is."""
    friday = event(
        f"DTSTART;{BERLIN_TZID}:20260612T210000", "DURATION:PT2H30M", f"RRULE:FREQ=WEEKLY;UNTIL={until}"
    )
    found = of_2026(calendar(friday))
    assert (found.outcome, busy(found)) == (
        Outcome.BUSY,
        ["06-12 19:00–21:30", "06-19 19:00–21:30", "06-26 19:00–21:30"],
    )


def test_times_that_do_not_exist_or_happen_twice() -> None:
    """Section 3.3.5: the offset before the gap, and the first of two."""
    pairs = [("0329T0230", "0329T0430"), ("1025T0230", "1025T0330"), ("1025T0100", "1025T0230")]
    nights = [event(f"DTSTART;{BERLIN_TZID}:2026{a}00", f"DTEND;{BERLIN_TZID}:2026{b}00") for a, b in pairs]
    second = event("DTSTART:20261025T013000Z", "DTEND:20261025T020000Z")
    found = of_2026(calendar(*nights, second))
    assert (found.outcome, busy(found)) == (
        Outcome.BUSY,
        ["03-29 01:30–02:30", "10-24 23:00–10-25 00:30", "10-25 00:30–02:30", "10-25 01:30–02:00"],
    )


@pytest.mark.parametrize("end", ["033000", "031000"])
def test_what_lies_within_the_hour_that_does_not_exist_takes_no_time(end: str) -> None:
    night = event(f"DTSTART;{BERLIN_TZID}:20260329T023000", f"DTEND;{BERLIN_TZID}:20260329T{end}")
    assert busy(of_2026(calendar(night, GOOD))) == [GOOD_BUSY]


def test_a_nightly_repeat_over_the_gap_does_not_move_its_neighbours() -> None:
    nightly = event(f"DTSTART;{BERLIN_TZID}:20260327T023000", "DURATION:PT30M", "RRULE:FREQ=DAILY;COUNT=4")
    assert busy(of_2026(calendar(nightly))) == [
        "03-27 01:30–02:00", "03-28 01:30–02:00", "03-29 01:30–02:00", "03-30 00:30–01:00",
    ]  # fmt: skip


def test_a_length_in_days_is_nominal_and_in_hours_exact() -> None:
    """Section 3.3.6; 23 h over the spring change and 25 h over the autumn one, computed."""
    for start, hours in (("20260328T120000", 23), ("20261024T120000", 25)):
        for length, expected in (("P1D", hours), ("PT24H", 24)):
            found = of_2026(calendar(event(f"DTSTART;{BERLIN_TZID}:{start}", f"DURATION:{length}")))
            assert (found.busy[0].end - found.busy[0].start).total_seconds() == expected * 3600


def test_this_evening_and_all_later_ones() -> None:
    """Section 3.8.4.4: four hours later and three hours long from the third on."""
    block = [
        "UID:block@test.example",
        f"DTSTART;{BERLIN_TZID}:20260601T100000",
        "DURATION:PT2H",
        "RRULE:FREQ=WEEKLY;COUNT=4",
    ]
    change = event(
        block[0], f"RECURRENCE-ID;RANGE=THISANDFUTURE;{BERLIN_TZID}:20260615T100000",
        f"DTSTART;{BERLIN_TZID}:20260615T140000", f"DTEND;{BERLIN_TZID}:20260615T170000",
    )  # fmt: skip
    expected = ["06-01 08:00–10:00", "06-08 08:00–10:00", "06-15 12:00–15:00", "06-22 12:00–15:00"]
    assert busy(of_2026(calendar(event(*block), change))) == expected
    single = event(
        block[0], f"RECURRENCE-ID;{BERLIN_TZID}:20260622T100000", "DTSTART:20260623T060000Z", "DURATION:PT1H"
    )
    assert busy(of_2026(calendar(single, event(*block), change))) == [*expected[:3], "06-23 06:00–07:00"]
    off = event(
        block[0],
        f"RECURRENCE-ID;RANGE=THISANDFUTURE;{BERLIN_TZID}:20260615T100000",
        block[1],
        "STATUS:CANCELLED",
    )
    assert busy(of_2026(calendar(event(*block), off))) == expected[:2]


@pytest.mark.parametrize("later", ["", ";RANGE=THISANDFUTURE"])
def test_a_change_of_what_is_no_repeat_stands_for_itself(later: str) -> None:
    daily = event(
        "UID:d@test.example", "DTSTART:20260601T080000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=2"
    )
    change = event(
        "UID:d@test.example",
        f"RECURRENCE-ID{later}:20260605T080000Z",
        "DTSTART:20260605T120000Z",
        "DURATION:PT1H",
    )
    expected = ["06-01 08:00–09:00", "06-02 08:00–09:00", "06-05 12:00–13:00"]
    assert busy(of_2026(calendar(daily, change))) == expected


def test_a_change_of_all_later_ones_that_moves_them_into_the_window() -> None:
    daily = event(
        "UID:d@test.example", "DTSTART:20260301T080000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=3"
    )
    change = event(
        "UID:d@test.example", "RECURRENCE-ID;RANGE=THISANDFUTURE:20260302T080000Z",
        "DTSTART:20260605T080000Z",
        "DURATION:PT1H",
    )  # fmt: skip
    assert busy(in_june(calendar(daily, change))) == ["06-05 08:00–09:00", "06-06 08:00–09:00"]


def test_extra_dates_bring_their_own_length_or_take_the_series() -> None:
    """Sections 3.8.5.2 and 3.3.9."""
    mixing = event(
        "DTSTART:20260601T080000Z", "DTEND:20260601T100000Z",
        "RDATE;VALUE=PERIOD:20260603T120000Z/PT3H,20260605T180000Z/20260606T020000Z",
        "RDATE:20260608T080000Z,20260601T080000Z",
    )  # fmt: skip
    assert busy(of_2026(calendar(mixing))) == [
        "06-01 08:00–10:00", "06-03 12:00–15:00", "06-05 18:00–06-06 02:00", "06-08 08:00–10:00",
    ]  # fmt: skip


def test_a_date_in_a_list_that_cannot_be_read_is_told_and_the_others_taken() -> None:
    one = event(
        "UID:x@test.example", "DTSTART:20260601T080000Z", "DURATION:PT1H", "RDATE:20260602T080000Z,soon"
    )
    found = of_2026(calendar(one))
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, ["06-01 08:00–09:00", "06-02 08:00–09:00"])
    assert "x@test.example: an extra date cannot be read: “soon”" in found.reports[0]


@pytest.mark.parametrize(
    "date", ["20260602T220000Z", "20260603T000000Z", "20260603T120000Z", "20260603T000000"]
)  # fmt: skip
def test_a_left_out_day_may_be_written_as_a_time(date: str) -> None:
    days = event("DTSTART;VALUE=DATE:20260602", "RRULE:FREQ=DAILY;COUNT=3", f"EXDATE:{date}")
    assert busy(of_2026(calendar(days))) == ["06-01 22:00–06-02 22:00", "06-03 22:00–06-04 22:00"]


def test_an_extra_date_of_another_kind_is_told_and_taken_as_its_series() -> None:
    evening = event(f"DTSTART;{BERLIN_TZID}:20260602T190000", "DURATION:PT2H", "RDATE;VALUE=DATE:20260604")
    found = of_2026(calendar(evening))
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, ["06-02 17:00–19:00", "06-04 17:00–19:00"])
    day = event("DTSTART;VALUE=DATE:20260602", "RDATE:20260604T120000Z")
    found = of_2026(calendar(day))
    assert found.outcome == Outcome.PARTIAL
    assert busy(found) == ["06-01 22:00–06-02 22:00", "06-03 22:00–06-04 22:00"]


def test_a_change_of_all_later_ones_may_name_its_repeat_by_the_day() -> None:
    name = "UID:later@test.example"
    weekly = event(
        name, f"DTSTART;{BERLIN_TZID}:20260601T100000", "DURATION:PT2H", "RRULE:FREQ=WEEKLY;COUNT=4"
    )
    later = event(
        name, "RECURRENCE-ID;RANGE=THISANDFUTURE;VALUE=DATE:20260615",
        f"DTSTART;{BERLIN_TZID}:20260615T140000", "DURATION:PT3H",
    )  # fmt: skip
    expected = ["06-01 08:00–10:00", "06-08 08:00–10:00", "06-15 12:00–15:00", "06-22 12:00–15:00"]
    assert busy(of_2026(calendar(weekly, later))) == expected
