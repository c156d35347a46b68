"""Repeats and zones against the standard's own examples, another expander and the zone database.

Expected dates: RFC 5545 section 3.8.5.3, each example of the section, all at 09:00 in New York.
"""

# ruff: noqa: DTZ001 wall times stand beside their zone here

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import cache
from itertools import takewhile
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz as other_zones
from dateutil.rrule import rrulestr
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bookings.busy.limits import Budget, Problem, RuleBudget
from bookings.busy.reading import Outcome, read
from bookings.busy.rules import parse_rule
from bookings.busy.walking import walls
from tests.bookings.calendars import calendar, event

NEW_YORK = ZoneInfo("America/New_York")

# First date and rule; below them all dates (=) or the first ones of an endless series (~).
EXAMPLES = """
19970902 FREQ=DAILY;COUNT=10
    = 1997-09: 2-11
19970902 FREQ=DAILY;UNTIL=19971224T000000Z
    = 1997-09: 2-30; 1997-10: 1-31; 1997-11: 1-30; 1997-12: 1-23
19970902 FREQ=DAILY;INTERVAL=2
    ~ 1997-09: 2 4 6 8 10 12 14 16 18 20 22 24 26 28 30; 1997-10: 2 4 6 8 10 12 14 16 18 20 22 24 26 28
    30; 1997-11: 1 3 5 7 9 11 13 15 17 19 21 23 25 27 29; 1997-12: 1 3
19970902 FREQ=DAILY;INTERVAL=10;COUNT=5
    = 1997-09: 2 12 22; 1997-10: 2 12
19980101 FREQ=YEARLY;UNTIL=20000131T140000Z;BYMONTH=1;BYDAY=SU,MO,TU,WE,TH,FR,SA
    = 1998-01: 1-31; 1999-01: 1-31; 2000-01: 1-31
19980101 FREQ=DAILY;UNTIL=20000131T140000Z;BYMONTH=1
    = 1998-01: 1-31; 1999-01: 1-31; 2000-01: 1-31
19970902 FREQ=WEEKLY;COUNT=10
    = 1997-09: 2 9 16 23 30; 1997-10: 7 14 21 28; 1997-11: 4
19970902 FREQ=WEEKLY;UNTIL=19971224T000000Z
    = 1997-09: 2 9 16 23 30; 1997-10: 7 14 21 28; 1997-11: 4 11 18 25; 1997-12: 2 9 16 23
19970902 FREQ=WEEKLY;INTERVAL=2;WKST=SU
    ~ 1997-09: 2 16 30; 1997-10: 14 28; 1997-11: 11 25; 1997-12: 9 23; 1998-01: 6 20; 1998-02: 3 17
19970902 FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH
    = 1997-09: 2 4 9 11 16 18 23 25 30; 1997-10: 2
19970902 FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH
    = 1997-09: 2 4 9 11 16 18 23 25 30; 1997-10: 2
19970901 FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR
    = 1997-09: 1 3 5 15 17 19 29; 1997-10: 1 3 13 15 17 27 29 31; 1997-11: 10 12 14 24 26 28; 1997-12: 8
    10 12 22
19970902 FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH
    = 1997-09: 2 4 16 18 30; 1997-10: 2 14 16
19970905 FREQ=MONTHLY;COUNT=10;BYDAY=1FR
    = 1997-09: 5; 1997-10: 3; 1997-11: 7; 1997-12: 5; 1998-01: 2; 1998-02: 6; 1998-03: 6; 1998-04: 3;
    1998-05: 1; 1998-06: 5
19970905 FREQ=MONTHLY;UNTIL=19971224T000000Z;BYDAY=1FR
    = 1997-09: 5; 1997-10: 3; 1997-11: 7; 1997-12: 5
19970907 FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU
    = 1997-09: 7 28; 1997-11: 2 30; 1998-01: 4 25; 1998-03: 1 29; 1998-05: 3 31
19970922 FREQ=MONTHLY;COUNT=6;BYDAY=-2MO
    = 1997-09: 22; 1997-10: 20; 1997-11: 17; 1997-12: 22; 1998-01: 19; 1998-02: 16
19970928 FREQ=MONTHLY;BYMONTHDAY=-3
    ~ 1997-09: 28; 1997-10: 29; 1997-11: 28; 1997-12: 29; 1998-01: 29; 1998-02: 26
19970902 FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15
    = 1997-09: 2 15; 1997-10: 2 15; 1997-11: 2 15; 1997-12: 2 15; 1998-01: 2 15
19970930 FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1
    = 1997-09: 30; 1997-10: 1 31; 1997-11: 1 30; 1997-12: 1 31; 1998-01: 1 31; 1998-02: 1
19970910 FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15
    = 1997-09: 10-15; 1999-03: 10-13
19970902 FREQ=MONTHLY;INTERVAL=2;BYDAY=TU
    ~ 1997-09: 2 9 16 23 30; 1997-11: 4 11 18 25; 1998-01: 6 13 20 27; 1998-03: 3 10 17 24 31
19970610 FREQ=YEARLY;COUNT=10;BYMONTH=6,7
    = 1997-06: 10; 1997-07: 10; 1998-06: 10; 1998-07: 10; 1999-06: 10; 1999-07: 10; 2000-06: 10;
    2000-07: 10; 2001-06: 10; 2001-07: 10
19970310 FREQ=YEARLY;INTERVAL=2;COUNT=10;BYMONTH=1,2,3
    = 1997-03: 10; 1999-01: 10; 1999-02: 10; 1999-03: 10; 2001-01: 10; 2001-02: 10; 2001-03: 10;
    2003-01: 10; 2003-02: 10; 2003-03: 10
19970101 FREQ=YEARLY;INTERVAL=3;COUNT=10;BYYEARDAY=1,100,200
    = 1997-01: 1; 1997-04: 10; 1997-07: 19; 2000-01: 1; 2000-04: 9; 2000-07: 18; 2003-01: 1; 2003-04:
    10; 2003-07: 19; 2006-01: 1
19970519 FREQ=YEARLY;BYDAY=20MO
    ~ 1997-05: 19; 1998-05: 18; 1999-05: 17
19970512 FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO
    ~ 1997-05: 12; 1998-05: 11; 1999-05: 17
19970313 FREQ=YEARLY;BYMONTH=3;BYDAY=TH
    ~ 1997-03: 13 20 27; 1998-03: 5 12 19 26; 1999-03: 4 11 18 25
19970605 FREQ=YEARLY;BYDAY=TH;BYMONTH=6,7,8
    ~ 1997-06: 5 12 19 26; 1997-07: 3 10 17 24 31; 1997-08: 7 14 21 28; 1998-06: 4 11 18 25; 1998-07: 2
    9 16 23 30; 1998-08: 6 13 20 27; 1999-06: 3 10 17 24; 1999-07: 1 8 15 22 29; 1999-08: 5 12 19 26
19970902 FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13 EXDATE
    ~ 1998-02: 13; 1998-03: 13; 1998-11: 13; 1999-08: 13; 2000-10: 13
19970913 FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13
    ~ 1997-09: 13; 1997-10: 11; 1997-11: 8; 1997-12: 13; 1998-01: 10; 1998-02: 7; 1998-03: 7; 1998-04:
    11; 1998-05: 9; 1998-06: 13
19961105 FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8
    ~ 1996-11: 5; 2000-11: 7; 2004-11: 2
19970904 FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3
    = 1997-09: 4; 1997-10: 7; 1997-11: 6
19970929 FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2
    ~ 1997-09: 29; 1997-10: 30; 1997-11: 27; 1997-12: 30; 1998-01: 29; 1998-02: 26; 1998-03: 30
19970805 FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO
    = 1997-08: 5 10 19 24
19970805 FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU
    = 1997-08: 5 17 19 31
20070115 FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5
    = 2007-01: 15 30; 2007-02: 15; 2007-03: 15 30
"""


def examples() -> list[tuple[str, str, bool, list[date]]]:
    found = re.findall(r"^(\d{8}) (.+)\n((?: {4}.+\n)+)", EXAMPLES, re.MULTILINE)
    return [
        (start, rule, "=" in dates, list(written_out(" ".join(dates.split()).lstrip("=~ "))))
        for start, rule, dates in found
    ]


def written_out(text: str) -> Iterator[date]:
    """“1997-09: 2-4 7” to the 2nd, 3rd, 4th and 7th of that month."""
    for month in text.split("; "):
        name, _, days = month.partition(": ")
        for part in days.split():
            first, _, last = part.partition("-")
            for day in range(int(first), int(last or first) + 1):
                yield date(*map(int, name.split("-")), day)


def starts(start: str, rule: str, until: datetime, left_out: str = "") -> list[datetime]:
    """The starts that are read of a series at 09:00 in New York, on its clock."""
    lines = [f"DTSTART;TZID=America/New_York:{start}T090000", "DURATION:PT10M", f"RRULE:{rule}"]
    if left_out:
        lines.append(f"EXDATE;TZID=America/New_York:{left_out}T090000")
    found = read(calendar(event(*lines)), NEW_YORK, datetime(1996, 1, 1, tzinfo=UTC), until)
    assert found.outcome == Outcome.BUSY
    return [one.start.astimezone(NEW_YORK) for one in found.busy]


def test_all_dated_examples_of_the_standard_are_here() -> None:
    assert len(examples()) == 37
    assert sum(len(dates) for *_, dates in examples()) == 665


@pytest.mark.parametrize(("start", "rule", "whole", "dates"), examples())
def test_the_examples_of_the_standard(start: str, rule: str, whole: bool, dates: list[date]) -> None:
    rule, marked, _ = rule.partition(" EXDATE")
    until = (
        datetime(2012, 1, 1, tzinfo=UTC) if whole else datetime(*dates[-1].timetuple()[:3], 23, tzinfo=UTC)
    )
    found = starts(start, rule, until, start if marked else "")
    assert [f"{moment:%H:%M}" for moment in found] == ["09:00"] * len(dates)
    assert [moment.date() for moment in found] == dates


@pytest.mark.parametrize(
    ("rule", "times"),
    [  # RFC 5545 section 3.8.5.3; the first with the UNTIL of verified erratum 3883
        ("FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T210000Z", "09:00 12:00 15:00"),
        (
            "FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T170000Z",
            "09:00 12:00",
        ),  # as first printed: computed from it
        ("FREQ=MINUTELY;INTERVAL=15;COUNT=6", "09:00 09:15 09:30 09:45 10:00 10:15"),
        ("FREQ=MINUTELY;INTERVAL=90;COUNT=4", "09:00 10:30 12:00 13:30"),
        (
            "FREQ=DAILY;BYHOUR=9,10,11,12,13,14,15,16;BYMINUTE=0,20,40",
            " ".join(f"{hour:02}:{minute:02}" for hour in range(9, 17) for minute in (0, 20, 40)),
        ),
        (
            "FREQ=MINUTELY;INTERVAL=20;BYHOUR=9,10,11,12,13,14,15,16",
            " ".join(f"{hour:02}:{minute:02}" for hour in range(9, 17) for minute in (0, 20, 40)),
        ),
    ],
)
def test_the_examples_within_a_day(rule: str, times: str) -> None:
    found = starts("19970902", rule, datetime(1997, 9, 3, 4, tzinfo=UTC))
    assert [f"{moment:%H:%M}" for moment in found] == times.split()


WEEKDAYS = ["MO", "TU", "WE", "TH", "FR", "SA", "SU"]
FREQUENCIES = ["YEARLY", "MONTHLY", "WEEKLY", "DAILY", "HOURLY", "MINUTELY"]


def some(least: int, most: int, *, negative: bool = False) -> st.SearchStrategy[str]:
    number = st.integers(least, most)
    if negative:
        number |= st.integers(-most, -least)
    return st.lists(number, min_size=1, max_size=4, unique=True).map(lambda ns: ",".join(map(str, ns)))


@st.composite
def rules(draw: st.DrawFn) -> str:
    """Rules that both expanders take alike: dateutil wants weekdays all numbered or none, and counts
    positions in the first week from the first date on."""
    every = draw(st.sampled_from(FREQUENCIES))
    parts = {"FREQ": every, "INTERVAL": str(draw(st.integers(1, 7)))}
    days = st.lists(st.sampled_from(WEEKDAYS), min_size=1, max_size=3, unique=True).map(",".join)
    if every in ("YEARLY", "MONTHLY") and draw(st.booleans()):
        number = draw(st.sampled_from([1, 2, 3, 4, 5, -1, -2]))
        days = days.map(lambda names: ",".join(f"{number}{name}" for name in names.split(",")))
    choices = {"BYMONTH": some(1, 12), "BYDAY": days, "BYHOUR": some(0, 23), "BYMINUTE": some(0, 59)}
    if every != "WEEKLY":
        choices["BYMONTHDAY"] = some(1, 31, negative=True)
    if every == "YEARLY":
        choices["BYYEARDAY"] = some(1, 366, negative=True)
    for name in draw(st.lists(st.sampled_from(sorted(choices)), max_size=3, unique=True)):
        parts[name] = draw(choices[name])
    if draw(st.booleans()) and len(parts) > 2 and every not in ("WEEKLY", "HOURLY", "MINUTELY"):
        parts["BYSETPOS"] = draw(st.sampled_from(["1", "-1", "2", "1,-1", "3,-2"]))
    if every == "WEEKLY":
        parts["WKST"] = draw(st.sampled_from(["MO", "SU", "TH"]))
    if draw(st.booleans()):
        parts["COUNT"] = str(draw(st.integers(1, 40)))
    return ";".join(f"{name}={value}" for name, value in parts.items())


REACH_DAYS = {"HOURLY": 90, "MINUTELY": 4}  # of the sub-daily ones; the other expander steps through each


def other_expander(rule: str, first: datetime, until: datetime) -> list[datetime]:
    """python-dateutil's repeats. It never stops at `until` by itself, only at a repeat after it."""
    return list(takewhile(lambda repeat: repeat <= until, rrulestr(rule, dtstart=first)))


@settings(max_examples=120, deadline=None)
@given(rule=rules(), first=st.datetimes(datetime(2024, 1, 1), datetime(2027, 1, 1)), part=st.floats(0.1, 0.9))
def test_repeats_agree_with_another_expander(rule: str, first: datetime, part: float) -> None:
    first = first.replace(second=0, microsecond=0)
    reach = timedelta(days=REACH_DAYS.get(rule[5:].partition(";")[0], 1500))
    until = first + reach * part
    ours = list(walls_of(rule, first, first, first + reach, fits=True))
    counted = "COUNT" in rule and len(ours) == int(rule.rpartition("=")[2])
    assume(counted or (ours and ours[-1] > until))  # else the other one would look until the year 9999
    assert [wall for wall in ours if wall <= until] == other_expander(rule, first, until)


@settings(max_examples=60, deadline=None)
@given(
    rule=rules(), first=st.datetimes(datetime(2019, 1, 1), datetime(2024, 1, 1)), window=st.integers(1, 60)
)
def test_a_window_far_from_the_first_date_gives_the_same_repeats(
    rule: str, first: datetime, window: int
) -> None:
    first = first.replace(second=0, microsecond=0)
    lower = datetime(2026, 3, 1)
    upper = lower + timedelta(days=window)
    try:
        whole = [wall for wall in walls_of(rule, first, first, upper) if wall >= lower]
    except Problem:
        return  # too many steps from the first date on: that a window is cheaper is the point
    assert list(walls_of(rule, first, lower, upper)) == whole


def walls_of(
    rule: str, first: datetime, lower: datetime, upper: datetime, *, fits: bool = False
) -> Iterator[datetime]:
    """fits: the first date only if the rule gives it, as the other expander has it."""
    return walls(parse_rule(rule), first, lower, upper, RuleBudget(Budget(), 40_000), first_given=not fits)


ZONES = [
    "Europe/Berlin",
    "Europe/Dublin",  # standard time in summer
    "America/New_York",
    "America/Santiago",  # south of the equator, at midnight
    "Australia/Lord_Howe",  # half an hour
    "Pacific/Chatham",  # a quarter of an hour beside the full ones
    "Africa/Casablanca",  # no yearly rule
]
Change = tuple[datetime, timedelta, timedelta]


@cache
def changes(zone: str) -> list[Change]:
    """Instant, offset before, offset after: every clock change of 2026 to 2030, to the second."""
    tz = ZoneInfo(zone)
    hours = [datetime(2026, 1, 1, tzinfo=UTC) + timedelta(hours=n) for n in range(5 * 8766)]
    offsets = [hour.astimezone(tz).utcoffset() or timedelta() for hour in hours]
    found = []
    for index in range(1, len(hours)):
        if offsets[index] != offsets[index - 1]:
            low, high = hours[index - 1], hours[index]
            while high - low > timedelta(seconds=1):
                middle = low + timedelta(seconds=(high - low).total_seconds() // 2)
                low, high = (
                    (middle, high)
                    if middle.astimezone(tz).utcoffset() == offsets[index - 1]
                    else (low, middle)
                )
            found.append((high, offsets[index - 1], offsets[index]))
    return found


MINUTES_AROUND = (-61, -16, -1, 0, 1, 14, 29, 31, 59, 61, 119)


def around(change: Change) -> list[tuple[datetime, datetime]]:
    """Wall times about a change with the instants that RFC 5545 section 3.3.5 gives them: what the clocks
    skip takes the offset before the gap, what happens twice is the first."""
    instant, before, after = change
    at = instant.replace(tzinfo=None)
    skipped_until, doubled_until = at + max(before, after), at + before
    walls = [
        at + min(before, after) + timedelta(minutes=m) for m in (-61, -16, -1, 0, 1, 14, 29, 31, 59, 61, 119)
    ]
    expected = []
    for wall in walls:
        offset = before if wall < max(skipped_until, doubled_until) else after
        expected.append((wall, (wall - offset).replace(tzinfo=UTC)))
    return expected


@pytest.mark.parametrize("zone", ZONES)
def test_another_reader_of_the_zone_database_sees_the_same_changes(zone: str) -> None:
    other = other_zones.gettz(zone)
    assert len(changes(zone)) == 10 or zone == "Africa/Casablanca"
    for instant, before, after in changes(zone):
        assert (instant - timedelta(seconds=1)).astimezone(other).utcoffset() == before
        past_the_doubled_hour = instant + timedelta(minutes=61)  # which dateutil misreads in Dublin
        assert past_the_doubled_hour.astimezone(other).utcoffset() == after


def offset_text(offset: timedelta) -> str:
    seconds = int(offset.total_seconds())
    hours, rest = divmod(abs(seconds), 3600)
    return f"{'-' if seconds < 0 else '+'}{hours:02}{rest // 60:02}"


def definition_by_dates(zone: str, name: str) -> list[str]:
    """A VTIMEZONE that lists each change as an RDATE, which some writers do."""
    lines = ["BEGIN:VTIMEZONE", f"TZID:{name}"]
    pairs = dict.fromkeys((before, after) for _, before, after in changes(zone))
    for before, after in pairs:
        onsets = [
            f"{instant.replace(tzinfo=None) + before:%Y%m%dT%H%M%S}"
            for instant, b, a in changes(zone)
            if (b, a) == (before, after)
        ]
        kind = "DAYLIGHT" if after > before else "STANDARD"
        lines += [f"BEGIN:{kind}", f"DTSTART:{onsets[0]}", f"RDATE:{','.join(onsets)}"]
        lines += [f"TZOFFSETFROM:{offset_text(before)}", f"TZOFFSETTO:{offset_text(after)}", f"END:{kind}"]
    return [*lines, "END:VTIMEZONE"]


@pytest.mark.parametrize("written", ["known by name", "defined by dates"])
@pytest.mark.parametrize("zone", ZONES)
def test_wall_times_about_every_clock_change_of_2026_to_2030(zone: str, written: str) -> None:
    name = zone if written == "known by name" else "Hall clock"
    expected = [pair for change in changes(zone) for pair in around(change)]
    entries = [event(f"DTSTART;TZID={name}:{wall:%Y%m%dT%H%M%S}", "DURATION:PT1M") for wall, _ in expected]
    defined = definition_by_dates(zone, name) if name != zone else []
    file = calendar(*entries, before=defined)
    found = read(file, ZoneInfo("UTC"), datetime(2025, 1, 1, tzinfo=UTC), datetime(2032, 1, 1, tzinfo=UTC))
    assert found.outcome == Outcome.BUSY
    assert [one.start for one in found.busy] == sorted(instant for _, instant in expected)


@pytest.mark.parametrize(
    ("zone", "spring", "autumn"),
    [
        ("Europe/Berlin", "3;BYDAY=-1SU 020000 +0100", "10;BYDAY=-1SU 030000 +0200"),
        ("America/New_York", "3;BYDAY=2SU 020000 -0500", "11;BYDAY=1SU 020000 -0400"),
        ("Australia/Lord_Howe", "10;BYDAY=1SU 020000 +1030", "4;BYDAY=1SU 020000 +1100"),
    ],  # rules of the zone database, tzdata 2026
)
def test_a_definition_by_yearly_rules_agrees_with_the_zone_database(
    zone: str, spring: str, autumn: str
) -> None:
    lines = ["BEGIN:VTIMEZONE", "TZID:Hall clock"]
    for kind, text, other in (("DAYLIGHT", spring, autumn), ("STANDARD", autumn, spring)):
        month_and_day, time, before = text.split()
        lines += [f"BEGIN:{kind}", f"DTSTART:16010101T{time}", f"RRULE:FREQ=YEARLY;BYMONTH={month_and_day}"]
        lines += [f"TZOFFSETFROM:{before}", f"TZOFFSETTO:{other.split()[2]}", f"END:{kind}"]
    lines.append("END:VTIMEZONE")
    expected = [pair for change in changes(zone) for pair in around(change)]
    entries = [
        event(f"DTSTART;TZID=Hall clock:{wall:%Y%m%dT%H%M%S}", "DURATION:PT1M") for wall, _ in expected
    ]
    window = datetime(2025, 1, 1, tzinfo=UTC), datetime(2032, 1, 1, tzinfo=UTC)
    found = read(calendar(*entries, before=lines), ZoneInfo("UTC"), *window)
    assert [one.start for one in found.busy] == sorted(instant for _, instant in expected)


@pytest.mark.parametrize("zone", ZONES)
def test_a_daily_series_keeps_its_wall_time_over_every_change(zone: str) -> None:
    """Noon is never skipped or doubled in these zones."""
    file = calendar(event(f"DTSTART;TZID={zone}:20260101T120000", "DURATION:PT1H", "RRULE:FREQ=DAILY"))
    found = read(file, ZoneInfo("UTC"), datetime(2026, 1, 1, tzinfo=UTC), datetime(2031, 1, 1, tzinfo=UTC))
    tz = ZoneInfo(zone)
    assert len(found.busy) in (1826, 1827)
    assert {f"{one.start.astimezone(tz):%H:%M}" for one in found.busy} == {"12:00"}
    assert {one.end - one.start for one in found.busy} == {timedelta(hours=1)}
