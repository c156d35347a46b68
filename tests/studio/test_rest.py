"""Rest between calls. The figures: Directive 2003/88/EC, Articles 3 (11 h in 24) and 5 (24 h and those 11 in seven
days); counted by hand. That a rest is counted from the start of work: Case C-151/02 (Jaeger), paragraphs 94 to 95,
asks for it to follow the work directly; common practice otherwise."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studio.rest import Call, Short, all_short_rests, in_short, rules, sentence, short_rests
from studio.spans import Span
from tests.house import BERLIN, at

USUAL = rules(11, 35)
DAILY, WEEKLY = USUAL
HOUR = timedelta(hours=1)


def call(start: str, end: str, title: str = "Quartet") -> Call:
    return Call(Span(at(start), at(end)), title)


def hours(found: list[Short]) -> list[float]:
    return [short.rest / HOUR for short in found]


def test_eleven_hours_between_two_calls_are_enough() -> None:
    """Article 3: 22:00 to 09:00 is 11 h."""
    late = call("2027-03-04 11:00", "2027-03-04 22:00")
    assert short_rests([late], [call("2027-03-05 09:00", "2027-03-05 17:00")], [DAILY]) == []


def test_a_minute_less_is_told_with_both_calls() -> None:
    """Article 3: 22:01 to 09:00 is 10 h 59 min."""
    late, early = call("2027-03-04 11:00", "2027-03-04 22:01"), call("2027-03-05 09:00", "2027-03-05 17:00")
    (short,) = short_rests([late], [early], [DAILY])
    assert (short.rest, short.last, short.next) == (timedelta(hours=10, minutes=59), late, early)


def test_the_rest_before_and_after_are_both_told() -> None:
    """Article 3: 01:00 to 10:00 is 9 h, 22:00 to 06:00 is 8 h."""
    before, after = call("2027-03-03 14:00", "2027-03-04 01:00"), call("2027-03-05 06:00", "2027-03-05 12:00")
    assert hours(short_rests([before, after], [call("2027-03-04 10:00", "2027-03-04 22:00")], [DAILY])) == [
        9,
        8,
    ]


def test_a_pause_within_a_day_is_no_short_rest() -> None:
    """Article 3 asks for 11 h in 24, not between any two calls: 10 to 13 and 15 to 18 leave 16 h until 10."""
    morning = call("2027-03-04 10:00", "2027-03-04 13:00")
    next_day = call("2027-03-05 10:00", "2027-03-05 13:00")
    assert short_rests([morning, next_day], [call("2027-03-04 15:00", "2027-03-04 18:00")], [DAILY]) == []


def test_a_day_in_three_parts_is_counted_from_its_first() -> None:
    """Article 3: 08:00 to 12:00 and 20:00 to 22:00 leave 10 h at the most until 08:00."""
    morning, next_day = (
        call("2027-03-04 08:00", "2027-03-04 12:00"),
        call("2027-03-05 08:00", "2027-03-05 12:00"),
    )
    assert hours(
        short_rests([morning, next_day], [call("2027-03-04 20:00", "2027-03-04 22:00")], [DAILY])
    ) == [10]


def test_more_than_thirteen_hours_leave_too_little_even_before_a_free_day() -> None:
    """Article 3: 24 less 14 h are 10 h; nothing need follow."""
    (short,) = short_rests([], [call("2027-03-04 08:00", "2027-03-04 22:00")], [DAILY])
    assert (short.rest, short.next) == (10 * HOUR, None)


def test_thirty_hours_on_end_leave_no_rest() -> None:
    assert hours(short_rests([], [call("2027-03-04 08:00", "2027-03-05 14:00")], [DAILY])) == [0]


@pytest.mark.parametrize(
    ("late", "early", "rest"),
    [  # Europe/Berlin, IANA zone data: on 28 March 2027 at 02:00 an hour is missing, on 31 October 2027 one repeats
        (("2027-03-27 14:00", "2027-03-27 22:00"), ("2027-03-28 09:00", "2027-03-28 12:00"), [10]),
        (("2027-10-30 14:00", "2027-10-30 23:00"), ("2027-10-31 09:00", "2027-10-31 12:00"), []),
        (("2027-10-30 14:00", "2027-10-30 23:30"), ("2027-10-31 09:00", "2027-10-31 12:00"), [10.5]),
    ],
)
def test_rest_is_elapsed_time_on_a_night_when_clocks_change(
    late: tuple[str, str], early: tuple[str, str], rest: list[float]
) -> None:
    assert hours(short_rests([call(*late)], [call(*early)], [DAILY])) == rest


def week(days: int, start: str = "10:00", end: str = "20:00") -> list[Call]:
    """The first days of the week of Mon 1 March 2027."""
    return [call(f"2027-03-{day:02} {start}", f"2027-03-{day:02} {end}") for day in range(1, days + 1)]


def test_a_week_with_one_whole_day_off_is_enough() -> None:
    """Article 5: Sat 20:00 to Mon 10:00 are 38 h, more than 35."""
    monday = call("2027-03-08 10:00", "2027-03-08 20:00")
    assert short_rests(week(5), [*week(6)[5:], monday], USUAL) == []


def test_a_seventh_day_in_a_row_is_told() -> None:
    """Article 5: seven days from 10 to 20 leave the nights of 14 h."""
    (short,) = short_rests(week(6), [call("2027-03-07 10:00", "2027-03-07 20:00", "Brass")], USUAL)
    assert (short.rule, short.rest, short.period.start) == (WEEKLY, 14 * HOUR, at("2027-03-01 10:00"))


def test_thirty_four_hours_are_an_hour_too_few_in_a_week() -> None:
    """Articles 3 and 5 together: 24 h and 11 h; Sat 23:00 to Mon 09:00 are 34 h."""
    saturday = call("2027-03-06 12:00", "2027-03-06 23:00")
    monday = call("2027-03-08 09:00", "2027-03-08 19:00")
    assert hours(short_rests([*week(5), monday], [saturday], [WEEKLY])) == [34]


def test_what_was_too_short_already_is_not_blamed_on_a_call_that_takes_nothing_of_it() -> None:
    standing = [call("2027-03-03 14:00", "2027-03-04 02:00"), call("2027-03-04 09:00", "2027-03-04 12:00")]
    assert short_rests(standing, [call("2027-03-04 13:00", "2027-03-04 15:00")], [DAILY]) == []
    assert hours(all_short_rests(standing, [DAILY])) == [7]


def test_a_site_sets_its_own_rule_or_none() -> None:
    late, early = call("2027-03-04 11:00", "2027-03-04 22:00"), call("2027-03-05 09:00", "2027-03-05 17:00")
    assert hours(short_rests([late], [early], rules(12, 0))) == [11]
    assert rules(0, 0) == []


def test_the_sentence_says_how_long_between_what_the_rule_and_who_decides() -> None:
    late = call("2027-03-03 14:00", "2027-03-04 01:00", "Brass")
    (short,) = short_rests([late], [call("2027-03-04 10:00", "2027-03-04 18:00")], USUAL)
    assert sentence("Ida", short, BERLIN) == (
        "Ida would have 9 h of unbroken rest between “Brass” (until Thu 4 March, 01:00) and “Quartet” (from "
        "Thu 4 March, 10:00), in the 24 hours from Wed 3 March, 14:00. The rule here is 11 h (Directive "
        "2003/88/EC, Article 3: 11 h): check local law."
    )


QUARTERS = 15  # minutes
START = at("2027-03-27 00:00")  # the grid lies across a night when an hour is missing
moments = st.integers(0, 4 * 24 * 9)


pairs = st.tuples(moments, st.integers(1, 64))
calm = settings(deadline=None, max_examples=80, suppress_health_check=[HealthCheck.too_slow])


def on_grid(pair: tuple[int, int], title: str) -> Call:
    """A start and a length in quarters of an hour."""
    return Call(Span(grid(pair[0]), grid(pair[0] + pair[1])), title)


def grid(quarter: int) -> datetime:
    return START.astimezone(UTC) + timedelta(minutes=QUARTERS * quarter)


def by_counting(calls: list[Call], period: Span) -> timedelta:
    """The longest run of quarters of an hour that lie in no call, counted one by one."""
    longest = run = 0
    for minute in range(0, int(period.length.total_seconds() // 60), QUARTERS):
        instant = period.start + timedelta(minutes=minute)
        run = 0 if any(instant in call.span for call in calls) else run + QUARTERS
        longest = max(longest, run)
    return timedelta(minutes=longest)


@calm
@given(st.lists(pairs, max_size=9), pairs)
def test_the_shortest_rest_is_what_counting_finds(
    before: list[tuple[int, int]], added: tuple[int, int]
) -> None:
    standing, new = [on_grid(pair, "Standing") for pair in before], on_grid(added, "New")
    calls = [*standing, new]
    starts = [
        c.span.start for c in calls if not any(c.span.start - timedelta(minutes=1) in o.span for o in calls)
    ]
    for rule in USUAL:
        found = short_rests(standing, [new], [rule])
        periods = [Span(start, start + rule.period) for start in set(starts)]
        touching = [period for period in periods if period.overlaps(new.span)]
        rests = {p: by_counting(calls, p) for p in touching}
        made = {
            p: rest
            for p, rest in rests.items()
            if rest < rule.least and (rest < by_counting(standing, p) or own(p, new, calls))
        }
        assert bool(found) == bool(made)
        if made:
            assert min(short.rest for short in found) == min(made.values())
        assert all(rests[short.period] == short.rest for short in found)


def own(period: Span, new: Call, calls: list[Call]) -> bool:
    """Whether work goes on from the start of the period to the new call without a pause."""
    instant = period.start
    while instant < new.span.start:
        if not any(instant in call.span for call in calls):
            return False
        instant += timedelta(minutes=QUARTERS)
    return True


def test_a_rest_that_only_partly_lies_in_the_period_is_said_with_both_lengths() -> None:
    """Article 3: after 14 h 30 min of work 9 h 30 min of the 24 hours are left, however long the night is."""
    long = call("2027-03-06 08:30", "2027-03-06 23:00", "Brass")
    (short,) = all_short_rests([long, call("2027-03-07 10:30", "2027-03-07 18:00")], rules(11, 0))
    assert (short.rest, short.pause) == (timedelta(hours=9, minutes=30), timedelta(hours=11, minutes=30))
    said = sentence("Ida", short, BERLIN)
    assert said.startswith(
        "Ida would have 11 h 30 min of unbroken rest between “Brass” (until Sat 6 March, 23:00)"
    )
    assert (
        "(from Sun 7 March, 10:30), of which 9 h 30 min lie in the 24 hours from Sat 6 March, 08:30." in said
    )
    assert in_short(["Ida"], short) == (
        "Ida: 11 h 30 min of rest before “Quartet”, 9 h 30 min of it count: less than 11 h in 24 hours"
    )
