"""Whatever a calendar holds, it is answered soon, within its memory, and in the same words twice.

Field case F32. The limits are our own: 5 seconds and 300 MB a file. Times are those of reading alone, measured loosely.
"""

# ruff: noqa: DTZ001 hypothesis wants wall times; their zone is set beside them

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.core.management import CommandError, call_command
from hypothesis import given, settings
from hypothesis import strategies as st

from bookings.busy.limits import MOST_BYTES, MOST_ENTRIES, MOST_SECONDS
from bookings.busy.reading import Outcome, Reading, read
from tests.bookings.calendars import BERLIN, GOOD, GOOD_BUSY, busy, calendar, event, in_june, of_2026

ROOT = Path(__file__).parents[2]
FROM_JUNE = ["UID:giant@test.example", "DTSTART:20260601T080000Z", "DURATION:PT1M"]
NUMBERS = ",".join(str(n) for n in range(60))
EVERY_SECOND = f"BYHOUR={','.join(map(str, range(24)))};BYMINUTE={NUMBERS};BYSECOND={NUMBERS}"


def in_time(data: bytes) -> Reading:
    begun = time.monotonic()
    found = in_june(data)
    assert time.monotonic() - begun < MOST_SECONDS + 1
    return found


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("FREQ=SECONDLY", "repeats more than 50,000 times"),
        ("FREQ=SECONDLY;INTERVAL=2", "repeats more than 50,000 times"),
        ("FREQ=SECONDLY;COUNT=1000000000", "repeats more than 50,000 times"),
        ("FREQ=DAILY;" + EVERY_SECOND, "repeats more than 50,000 times"),
        ("FREQ=MINUTELY;BYSECOND=0,1,2,3,4", "repeats more than 50,000 times"),
        ("FREQ=SECONDLY;BYMINUTE=59;BYSECOND=7", "too many repeats to look through"),
        ("FREQ=MONTHLY;INTERVAL=0;BYDAY=MO;BYMONTHDAY=1;UNTIL=20361231T200000Z", "INTERVAL must be"),
        ("FREQ=DAILY;INTERVAL=-1", "INTERVAL must be"),
        ("FREQ=DAILY;INTERVAL=1.5", "INTERVAL must be"),
        ("FREQ=DAILY;BYSETPOS=" + "1," * 100_000 + "1", "too long"),
    ],
)
def test_a_giant_rule_is_refused_with_its_reason_and_the_good_entries_taken(rule: str, words: str) -> None:
    giant = event(*FROM_JUNE, f"RRULE:{rule}")
    found = in_time(calendar(giant, GOOD))
    assert (found.outcome, busy(found)) == (Outcome.PARTIAL, [GOOD_BUSY])
    assert found.reports[0].startswith("giant@test.example: ")
    assert words in found.reports[0]
    assert in_time(calendar(giant)).outcome == Outcome.ERROR


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30", "FREQ=SECONDLY;BYMONTH=2;BYMONTHDAY=30",
        "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30", "FREQ=HOURLY;INTERVAL=24;BYHOUR=3",
        "FREQ=DAILY;INTERVAL=7;BYDAY=TU",
        "FREQ=MONTHLY;BYDAY=MO;BYSETPOS=300", "FREQ=YEARLY;INTERVAL=2;BYYEARDAY=366",
        "FREQ=DAILY;INTERVAL=9999999999", "FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30;COUNT=5",
    ],
)  # fmt: skip
def test_a_rule_that_never_fits_again_gives_its_first_date_at_once(rule: str) -> None:
    """A common expander looks on until the year 9999. The first date is always one (section 3.8.5.3)."""
    many = [event("DTSTART:20260601T080000Z", "DURATION:PT1M", f"RRULE:{rule}") for _ in range(20)]
    assert busy(in_time(calendar(*many))) == ["06-01 08:00–08:01"] * 20


def test_of_a_billion_days_those_in_the_window_are_taken() -> None:
    found = in_time(calendar(event(*FROM_JUNE, "RRULE:FREQ=DAILY;COUNT=1000000000")))
    assert busy(found) == [f"06-{day:02} 08:00–08:01" for day in range(1, 15)]


def test_a_dense_rule_with_a_count_of_one_is_its_first_date() -> None:
    months = ",".join(str(n) for n in range(1, 13))
    days = ",".join(str(n) for n in range(1, 32))
    rule = f"RRULE:FREQ=YEARLY;COUNT=1;BYMONTH={months};BYMONTHDAY={days};{EVERY_SECOND}"
    assert busy(in_time(calendar(event(*FROM_JUNE, rule)))) == ["06-01 08:00–08:01"]


def test_a_rule_that_removes_all_it_makes_leaves_nothing() -> None:
    """EXRULE is deprecated (appendix A.3) and still written."""
    lines = ["DTSTART:20000101T010000Z", "DURATION:PT1M", "RRULE:FREQ=MINUTELY", "EXRULE:FREQ=MINUTELY"]
    found = in_time(calendar(event(*lines)))
    assert (found.outcome, found.busy) == (Outcome.BUSY, ())


def test_an_exrule_leaves_out_what_it_fits_and_not_the_first_date() -> None:
    lines = [*FROM_JUNE, "RRULE:FREQ=DAILY;COUNT=4", "EXRULE:FREQ=WEEKLY;BYDAY=TU,WE"]
    assert busy(in_time(calendar(event(*lines)))) == ["06-01 08:00–08:01", "06-04 08:00–08:01"]


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=WEEKLY", "FREQ=DAILY;COUNT=20000;BYDAY=MO", "FREQ=WEEKLY;COUNT=99999",
        "FREQ=WEEKLY;UNTIL=99991231", "FREQ=WEEKLY;UNTIL=99991231T235959Z",
    ],
)  # fmt: skip
def test_an_old_and_honest_weekly_meeting_is_not_refused(rule: str) -> None:
    zone = "TZID=Europe/Berlin"
    meeting = event(f"DTSTART;{zone}:20060102T100000", f"DTEND;{zone}:20060102T110000", f"RRULE:{rule}")
    assert busy(in_time(calendar(meeting))) == ["06-01 08:00–09:00", "06-08 08:00–09:00"]


SLOW: dict[str, Callable[[], bytes]] = {
    "line ends": lambda: b"BEGIN:VCALENDAR\r" + b"\r" * 5_000_000,
    "folds": lambda: b"BEGIN:VCALENDAR\n" + b"\n " * 3_000_000,
    "calendars": lambda: b"BEGIN:VCALENDAR\n" * 300_000,
    "nesting": lambda: b"BEGIN:VCALENDAR\n" + b"BEGIN:X\n" * 300_000,
    "commas": lambda: calendar(event(*FROM_JUNE, "EXDATE:" + "," * 5_000_000)),
    "dates": lambda: calendar(event(*FROM_JUNE, *["EXDATE:20260601T080000Z"] * 100_000)),
    "quotes": lambda: calendar(event(*FROM_JUNE, "ATTENDEE;CN=" + '"a",' * 500_000)),
    "marks": lambda: b"\xef\xbb\xbf" * 3_000_000 + calendar(GOOD),
    "parameters": lambda: calendar(event("DTSTART" + ";A=b" * 2_000_000 + ":20260610T080000Z")),
    "zones": lambda: calendar(
        *[
            event(f'DTSTART;TZID="{",".join(f"{n}-{c}" for c in range(60))}":20260610T080000')
            for n in range(2000)
        ]
    ),
    "dense rules": lambda: calendar(*[event(*FROM_JUNE, "RRULE:FREQ=DAILY;" + EVERY_SECOND)] * 300),
    "versions": lambda: calendar(*[event(*FROM_JUNE, f"RRULE:FREQ=HOURLY;COUNT={n}") for n in range(1000)]),
    "entries": lambda: calendar(*[GOOD] * (MOST_ENTRIES + 1)),
    "size": lambda: b"x" * (MOST_BYTES + 1),
}


@pytest.mark.parametrize("kind", SLOW)
def test_a_file_made_to_be_slow_is_answered_in_time(kind: str) -> None:
    assert in_time(SLOW[kind]()).outcome in (Outcome.BUSY, Outcome.PARTIAL, Outcome.ERROR)


def test_reading_the_largest_file_stays_within_its_memory(tmp_path: Path) -> None:
    """300 MB in a process of its own, with all that it imports."""
    filler = "DESCRIPTION:" + "x" * 280
    entry = [*GOOD[:-1], filler, GOOD[-1]]
    one = calendar(entry)
    file = tmp_path / "large.ics"
    body = one[one.index(b"BEGIN:VEVENT") : one.index(b"END:VCALENDAR")]
    file.write_bytes(one.replace(body, body * (MOST_BYTES // len(body) - 2)))
    code = (
        "import resource, sys; resource.setrlimit(resource.RLIMIT_AS, (300 * 2**20,) * 2);"
        "from datetime import UTC, datetime; from zoneinfo import ZoneInfo;"
        "from bookings.busy.reading import read;"
        "data = open(sys.argv[1], 'rb').read();"
        "window = datetime(2026, 1, 1, tzinfo=UTC), datetime(2027, 1, 1, tzinfo=UTC);"
        "print(read(data, ZoneInfo('UTC'), *window).outcome)"
    )
    command = [sys.executable, "-c", code, str(file)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() in ("busy", "error")  # a busy machine may run out of time, not of memory


TOKENS = """
    BEGIN:VCALENDAR END:VCALENDAR BEGIN:VEVENT END:VEVENT BEGIN:VTIMEZONE END:VTIMEZONE TZID:Z
    BEGIN:STANDARD END:STANDARD TZOFFSETFROM:+0100 TZOFFSETTO:-2359 DTSTART:20260601T080000Z
    DTSTART;TZID=Z:20260601T080000 DTSTART;VALUE=DATE:20260601 DTEND:20260601T090000Z DURATION:P1D
    DURATION:P999999W RRULE:FREQ=DAILY RRULE:FREQ=MINUTELY;COUNT=9 RRULE:FREQ=YEARLY;BYWEEKNO=-53
    EXRULE:FREQ=WEEKLY;BYDAY=-0MO RDATE:20260607T080000Z/P2D EXDATE;VALUE=DATE:20260601 UID:a UID:b
    RECURRENCE-ID:20260602T080000Z RECURRENCE-ID;RANGE=THISANDFUTURE:20260602 SEQUENCE:-1 SEQUENCE:³
    DTSTART:00010101T000000Z DTSTART:99991231T235959 RDATE:00010101 X-WR-TIMEZONE:../x METHOD:CANCEL
    BEGIN:VFREEBUSY END:VFREEBUSY FREEBUSY:20260601T080000Z/PT1H,x/y RRULE:FREQ=DAILY;UNTIL=00010101
    DTSTART;TZID=Australia/Lord_Howe:20261004T021500 RDATE;TZID=Z;VALUE=PERIOD:99991231T000000/P9W TZID:
"""
WORDS = st.sampled_from(TOKENS.split())
LINES = st.lists(WORDS | st.text(max_size=30), max_size=25)


def answered(data: bytes) -> Reading:
    found = of_2026(data, owner="ann@test.example")
    assert found.outcome in set(Outcome)
    assert all(one.start < one.end for one in found.busy)
    assert list(found.busy) == sorted(found.busy)
    assert found.outcome == Outcome.BUSY or found.reports
    assert found.outcome != Outcome.ERROR or not found.busy
    assert all(report.isprintable() and report.endswith(".") for report in found.reports)
    return found


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_answered(data: bytes) -> None:
    answered(data)
    answered(b"BEGIN:VCALENDAR\n" + data)
    answered(calendar(GOOD)[:-20] + data)


@settings(max_examples=250, deadline=None)
@given(lines=LINES)
def test_any_lines_are_answered_alike_twice_and_with_every_line_end(lines: list[str]) -> None:
    whole = [line for line in lines if not any(end in line for end in "\r\n")]
    versions = [
        end.join(["BEGIN:VCALENDAR", *whole, "END:VCALENDAR", ""]).encode(errors="replace")
        for end in ("\r\n", "\n", "\r", "\r\n")
    ]
    assert len({answered(data) for data in versions}) == 1


@settings(max_examples=100, deadline=None)
@given(
    start=st.datetimes(datetime(2026, 5, 1), datetime(2026, 7, 1)),
    minutes=st.integers(1, 5000),
    zone=st.sampled_from(["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "America/Santiago"]),
)
def test_an_entry_is_read_back_as_it_was_written(start: datetime, minutes: int, zone: str) -> None:
    begins = start.replace(microsecond=0, tzinfo=ZoneInfo(zone))
    ends = begins.astimezone(UTC) + timedelta(minutes=minutes)
    lines = [f"DTSTART;TZID={zone}:{begins:%Y%m%dT%H%M%S}", f"DTEND:{ends:%Y%m%dT%H%M%SZ}"]
    found = of_2026(calendar(event(*lines)))
    assert [tuple(one) for one in found.busy] == [(begins.astimezone(UTC), ends)]


def test_the_window_decides_what_is_told_and_nothing_else() -> None:
    series = calendar(event(*FROM_JUNE, "RRULE:FREQ=HOURLY;INTERVAL=5"))
    whole = in_june(series).busy
    parts = [
        one
        for day in range(1, 15)
        for one in read(
            series, BERLIN, datetime(2026, 6, day, tzinfo=UTC), datetime(2026, 6, day + 1, tzinfo=UTC)
        ).busy
    ]
    assert parts == list(whole)


def shown(file: Path, *options: str) -> str:
    out = StringIO()
    window = ["--zone", "Europe/Berlin", "--from", "2026-06-01", "--to", "2026-06-15"]
    call_command("read_busy", str(file), *window, *options, stdout=out)
    return out.getvalue()


def test_the_command_prints_what_an_import_would_take(tmp_path: Path) -> None:
    file = tmp_path / "ann.ics"
    declined = event(
        "DTSTART:20260611T080000Z", "DURATION:PT1H", "ATTENDEE;PARTSTAT=DECLINED:mailto:a@test.example"
    )
    file.write_bytes(calendar(GOOD, declined, event("UID:bad@test.example", "DTSTART:soon")))
    found = json.loads(shown(file, "--json", "--owner", "a@test.example"))
    assert found == {
        "outcome": "partial",
        "busy_utc": [["2026-06-10T08:00:00Z", "2026-06-10T09:00:00Z"]],
        "reports": [
            "bad@test.example: the start cannot be read: “soon” is not written like 20260611T090000."
        ],
    }
    assert len(json.loads(shown(file, "--json"))["busy_utc"]) == 2
    assert shown(file).startswith("Outcome: partial\n2026-06-10T08:00:00Z – 2026-06-10T09:00:00Z\n")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--zone", "Mars/Base"], "not a zone"),
        (["--from", "tomorrow"], "is no date"),
        (["--to", "2026-06-01"], "later than --from"),
    ],
)
def test_the_command_says_what_is_wrong_with_what_it_was_given(
    tmp_path: Path, options: list[str], words: str
) -> None:
    file = tmp_path / "ann.ics"
    file.write_bytes(calendar(GOOD))
    with pytest.raises(CommandError, match=words):
        shown(file, *options)
    with pytest.raises(CommandError, match=r"can't be read: No such file"):
        shown(tmp_path / "none.ics")
