"""The rule of a series: on the wall clock, bounded, said in words, ended and moved. No database."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import islice, takewhile
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import rrulestr
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bookings.series.rules import (
    FARTHEST,
    MOST_OCCURRENCES,
    RuleRefused,
    ended_with,
    moved_rule,
    occurrences,
    with_end,
)
from bookings.series.shape import Kept, shape_of
from bookings.series.words import rule_in_words
from tests.house import BERLIN, at

WEEKLY = "FREQ=WEEKLY;COUNT=4"


def starts(rule: str, first: str, zone: str = "Europe/Berlin") -> list[str]:
    tz = ZoneInfo(zone)
    found = occurrences(rule, at(first, tz), tz)
    return [f"{each.load_in.astimezone(tz):%Y-%m-%d %H:%M}" for each in found]


# RFC 5545 section 3.8.5.3, examples, with DTSTART in the year 2027 and later for the zone's sake
RFC_EXAMPLES = [
    ("FREQ=DAILY;COUNT=10", 10),
    ("FREQ=DAILY;INTERVAL=10;COUNT=5", 5),
    ("FREQ=WEEKLY;COUNT=10", 10),
    ("FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH", 10),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH", 8),
    ("FREQ=MONTHLY;COUNT=10;BYDAY=1FR", 10),
    ("FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU", 10),
    ("FREQ=MONTHLY;COUNT=6;BYDAY=-2MO", 6),
    ("FREQ=MONTHLY;COUNT=6;BYMONTHDAY=-3", 6),
    ("FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15", 10),
    ("FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1", 10),
    ("FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3", 3),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", 4),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", 4),
]


@pytest.mark.parametrize(("rule", "count"), RFC_EXAMPLES)
def test_the_examples_of_rfc_5545_agree_with_dateutil(rule: str, count: int) -> None:
    given = datetime(2027, 9, 2, 9, 0)  # noqa: DTZ001 a wall time
    first = rrulestr(rule, dtstart=given)[0]  # a session that fits the rule is its first
    expected = [f"{wall:%Y-%m-%d %H:%M}" for wall in rrulestr(rule, dtstart=first)]
    assert starts(rule, f"{first:%Y-%m-%d %H:%M}") == expected
    assert len(expected) == count


DAYS = st.sampled_from(["MO", "TU", "WE", "TH", "FR", "SA", "SU"])
NTH_DAYS = st.tuples(st.sampled_from([1, 2, 3, 4, -1, -2]), DAYS).map(lambda nth: f"{nth[0]}{nth[1]}")


def some(values: st.SearchStrategy[object]) -> st.SearchStrategy[str]:
    return st.lists(values, min_size=1, max_size=3, unique=True).map(lambda found: ",".join(map(str, found)))


PARTS = {
    "DAILY": [("BYDAY", some(DAYS)), ("BYMONTH", some(st.integers(1, 12)))],
    "WEEKLY": [("BYDAY", some(DAYS)), ("WKST", DAYS)],
    "MONTHLY": [
        ("BYDAY", some(NTH_DAYS)),
        ("BYDAY", some(DAYS)),
        ("BYMONTHDAY", some(st.integers(-5, 31).filter(bool))),
    ],
    "YEARLY": [("BYMONTH", some(st.integers(1, 12))), ("BYYEARDAY", some(st.integers(1, 365)))],
}


@st.composite
def rules(draw: st.DrawFn) -> str:
    every = draw(st.sampled_from(list(PARTS)))
    parts = [f"FREQ={every}", f"INTERVAL={draw(st.integers(1, 4))}"]
    name, value = draw(st.sampled_from(PARTS[every]))
    parts += [f"{name}={draw(value)}"] if draw(st.booleans()) else []
    if every == "MONTHLY" and name == "BYDAY" and len(parts) == 3:
        parts += draw(st.sampled_from([[], ["BYSETPOS=-1"], ["BYSETPOS=1"]]))
    return ";".join([*parts, draw(st.sampled_from(["COUNT=1", "COUNT=7", "COUNT=20", "UNTIL=20271015"]))])


@settings(max_examples=150, deadline=None)
@given(
    rule=rules(),
    first=st.datetimes(datetime(2026, 1, 1), datetime(2027, 9, 1)),  # noqa: DTZ001
    zone=st.sampled_from(["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "America/Santiago"]),
)
def test_any_rule_agrees_with_dateutil_on_the_wall_clock(rule: str, first: datetime, zone: str) -> None:
    noon = first.replace(hour=12, second=0, microsecond=0)  # no zone changes its clock then
    expected = list(rrulestr(rule.replace("UNTIL=20271015", "UNTIL=20271015T235959"), dtstart=noon))
    assume(expected)
    # dateutil counts from where it starts; a session that fits the rule is its first
    expected = list(rrulestr(rule.replace("UNTIL=20271015", "UNTIL=20271015T235959"), dtstart=expected[0]))
    tz = ZoneInfo(zone)
    try:
        found = occurrences(rule, expected[0].replace(tzinfo=tz), tz)
    except RuleRefused:
        assert len(expected) > MOST_OCCURRENCES or expected[-1] - expected[0] > FARTHEST
        return
    assert [each.load_in.astimezone(tz).replace(tzinfo=None) for each in found] == expected


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=DAILY;INTERVAL=2",
        "FREQ=WEEKLY;INTERVAL=2;WKST=SU",
        "FREQ=MONTHLY;BYMONTHDAY=-3",
        "FREQ=MONTHLY;INTERVAL=2;BYDAY=TU",
        "FREQ=YEARLY;BYDAY=20MO",
        "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO",
        "FREQ=YEARLY;BYMONTH=3;BYDAY=TH",
        "FREQ=YEARLY;BYDAY=TH;BYMONTH=6,7,8",
        "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13",
        "FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13",
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2",
    ],
)
def test_the_endless_examples_of_rfc_5545_agree_with_dateutil_as_far_as_the_house_books(rule: str) -> None:
    first = rrulestr(rule, dtstart=datetime(2026, 9, 2, 9, 0))[0]  # noqa: DTZ001 a wall time
    near = takewhile(lambda wall: wall - first <= FARTHEST, rrulestr(rule, dtstart=first))
    expected = [f"{wall:%Y-%m-%d %H:%M}" for wall in islice(near, MOST_OCCURRENCES)]
    wall = f"{first:%Y-%m-%d %H:%M}"
    assert starts(with_end(rule, at(wall), BERLIN), wall) == expected
    assert len(expected) > 1


def test_a_weekly_evening_keeps_its_hour_over_the_clock_change() -> None:
    """Field case F06: weekly Tuesday 19:00 in Berlin, from 6 October to 10 November 2026."""
    found = occurrences("FREQ=WEEKLY;COUNT=6", at("2026-10-06 19:00"), BERLIN)
    assert [each.load_in.hour for each in found] == [17, 17, 17, 18, 18, 18]


def test_what_the_clock_skips_or_shows_twice_is_said() -> None:
    # Europe/Berlin: 28 March 2027 02:00 to 03:00, 31 October 2027 03:00 to 02:00 (IANA tz database)
    spring = occurrences("FREQ=DAILY;COUNT=3", at("2027-03-27 02:30"), BERLIN)
    assert spring[1].clock == "the clock skips 02:30: 03:30 that day"
    autumn = occurrences("FREQ=DAILY;COUNT=3", at("2027-10-30 02:30"), BERLIN)
    assert autumn[1].clock == "the clock shows 02:30 twice: the first"
    assert (spring[2].clock, autumn[2].clock) == ("", "")


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("FREQ=WEEKLY", "add COUNT or UNTIL"),
        ("FREQ=DAILY;COUNT=900", "more than 200"),
        ("FREQ=MONTHLY;COUNT=60", "smaller COUNT"),
        ("FREQ=WEEKLY;UNTIL=20400101", "Two years ahead"),
        ("FREQ=HOURLY;COUNT=3", "repeat by days"),
        ("FREQ=DAILY;BYHOUR=3;COUNT=3", "Take the hours out"),
        ("FREQ=DAILY;COUNT=3;UNTIL=20270401", "either COUNT or UNTIL"),
        ("FREQ=DAILY;UNTIL=soon", "UNTIL can't be read"),
        ("every Tuesday", "can't be used"),
        ("FREQ=WEEKLY;INTERVAL=0", "INTERVAL must be"),
    ],
)
def test_a_rule_that_no_house_can_book_is_refused_in_a_sentence(rule: str, words: str) -> None:
    with pytest.raises(RuleRefused, match=words):
        starts(rule, "2027-03-02 10:00")


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("FREQ=WEEKLY;INTERVAL=2;COUNT=5", "every second Tuesday, load-in 10:00, 5 times"),
        ("FREQ=DAILY;UNTIL=20270630", "every day, load-in 10:00, until 30 June 2027"),
        ("FREQ=WEEKLY;BYDAY=TU,TH;COUNT=4", "every week on Tuesday and Thursday, load-in 10:00, 4 times"),
        ("FREQ=MONTHLY;BYDAY=-1TU;COUNT=3", "every month on the last Tuesday, load-in 10:00, 3 times"),
        ("FREQ=MONTHLY;COUNT=3", "every month on day 2, load-in 10:00, 3 times"),
        ("FREQ=YEARLY;COUNT=2", "every year on 2 March, load-in 10:00, 2 times"),
    ],
)
def test_a_rule_is_said_in_words(rule: str, words: str) -> None:
    first = at("2027-03-02 10:00")
    assert rule_in_words(rule, first, BERLIN) == words
    with_hours = words.replace("load-in 10:00", "10:00 to 12:00")
    assert rule_in_words(rule, first, BERLIN, first + timedelta(hours=2)) == with_hours


def test_a_rule_is_ended_with_one_of_its_days() -> None:
    ended = ended_with("FREQ=WEEKLY;COUNT=10", at("2027-03-09 10:00"))
    assert starts(ended, "2027-03-02 10:00") == ["2027-03-02 10:00", "2027-03-09 10:00"]
    assert rule_in_words(ended, at("2027-03-02 10:00"), BERLIN).endswith("until 9 March 2027")


@pytest.mark.parametrize(
    ("rule", "hours", "moved"),
    [
        ("FREQ=WEEKLY;BYDAY=TU,SU;COUNT=10", 24, "FREQ=WEEKLY;COUNT=8;BYDAY=MO,WE"),
        ("FREQ=WEEKLY;BYDAY=TU;COUNT=10", 2, "FREQ=WEEKLY;COUNT=8;BYDAY=WE"),  # past midnight
        ("FREQ=WEEKLY;BYDAY=TU;COUNT=10", -24, "FREQ=WEEKLY;COUNT=8;BYDAY=MO"),
        ("FREQ=WEEKLY;UNTIL=20270427", 24, "FREQ=WEEKLY;UNTIL=20270428"),
        ("FREQ=WEEKLY;UNTIL=20270427T210000Z", 1, "FREQ=WEEKLY;UNTIL=20270427T215900Z"),
        ("FREQ=MONTHLY;BYDAY=3TU;COUNT=10", 2, None),
        ("FREQ=MONTHLY;BYDAY=3TU;COUNT=10", -2, "FREQ=MONTHLY;COUNT=8;BYDAY=3TU"),
        ("FREQ=MONTHLY;BYMONTHDAY=16;COUNT=10", 24, None),
    ],
)
def test_the_rest_of_a_rule_is_said_anew_when_it_is_moved(rule: str, hours: int, moved: str | None) -> None:
    first = {"W": "2027-03-02 22:59", "M": "2027-03-16 22:59"}[rule[5]]
    rest = [each.load_in for each in occurrences(rule, at(first), BERLIN)][2:]
    assert moved_rule(rule, rest, timedelta(hours=hours), BERLIN) == moved


@settings(max_examples=80, deadline=None)
@given(
    rule=st.sampled_from(
        [
            "FREQ=DAILY;INTERVAL=3;COUNT=9",
            "FREQ=WEEKLY;INTERVAL=2;BYDAY=MO,TH;COUNT=9",
            "FREQ=WEEKLY;UNTIL=20270630",
            "FREQ=MONTHLY;BYDAY=2TU;COUNT=6",
            "FREQ=MONTHLY;BYMONTHDAY=-1;COUNT=6",
        ]
    ),
    done=st.integers(0, 4),
    minutes=st.integers(-3 * 24 * 60, 3 * 24 * 60),
    zone=st.sampled_from(["Europe/Berlin", "America/Santiago", "Australia/Lord_Howe"]),
    into=st.sampled_from(["Europe/Berlin", "America/New_York"]),
)
def test_a_moved_rule_gives_what_is_left_and_nothing_else(
    rule: str, done: int, minutes: int, zone: str, into: str
) -> None:
    tz, there, shift = ZoneInfo(zone), ZoneInfo(into), timedelta(minutes=minutes)
    rest = [each.load_in for each in occurrences(rule, at("2027-03-02 22:30", tz), tz)][done:]
    moved = moved_rule(rule, rest, shift, tz, there)
    if moved is None:
        assert abs(minutes) >= 90  # only a move to other days, or into a gap of the clock, needs no rule
        return
    walls = [each.astimezone(tz).replace(tzinfo=None) + shift for each in rest]
    found = [each.load_in for each in occurrences(moved, walls[0].replace(tzinfo=there), there)]
    assert found == [wall.replace(tzinfo=there).astimezone(UTC) for wall in walls]


def test_a_rule_without_an_end_goes_on_as_far_as_the_house_books() -> None:
    weekly = with_end("FREQ=WEEKLY", at("2027-03-02 10:00"), BERLIN)
    assert weekly == "FREQ=WEEKLY;UNTIL=20290227T090000Z"
    assert len(starts(weekly, "2027-03-02 10:00")) == 105
    daily = with_end("RRULE:FREQ=DAILY", at("2027-03-02 10:00"), BERLIN)
    assert len(starts(daily, "2027-03-02 10:00")) == 200
    assert with_end(WEEKLY, at("2027-03-02 10:00"), BERLIN) == WEEKLY


def test_the_shape_of_a_series_tells_the_regular_from_the_moved_and_the_left_out() -> None:
    days = [at(f"2027-03-{day:02} 10:00") for day in (2, 9, 16, 23)]
    kept = [Kept(1, days[0], "a"), Kept(2, days[1], "moved"), Kept(4, days[3], "a")]
    shape = shape_of(WEEKLY, days[0], BERLIN, kept)
    assert shape
    assert (shape.regular, shape.overrides, shape.left_out) == (frozenset({1, 4}), (2,), (days[2],))
    assert shape_of(WEEKLY, days[0], BERLIN, kept[1:]) is None
