"""When reminders fall due. Expected times are arithmetic on the clock times in each test."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tasks.models import Reminder
from tasks.reminders.rules import Call, Due, Hours, Kind, moved, reminders_of

BERLIN = ZoneInfo("Europe/Berlin")
DOWNBEAT = datetime(2027, 3, 2, 10, tzinfo=UTC)
HOURS = Hours(DOWNBEAT, DOWNBEAT + timedelta(hours=8), DOWNBEAT + timedelta(hours=9))
WHOLE_DAY = Call(1, DOWNBEAT - timedelta(hours=2), HOURS.clear_at)


def at(hour: int, minute: int = 0) -> datetime:
    return datetime(2027, 3, 2, hour, minute, tzinfo=UTC)


def test_an_assistant_has_a_morning_a_phantom_and_a_breakdown_reminder() -> None:
    assert reminders_of(HOURS, [WHOLE_DAY], check_minutes=40, morning_notice_minutes=60) == [
        Due(1, Kind.MORNING, at(7), at(10)),
        Due(1, Kind.PHANTOM, at(9, 20), at(10)),
        Due(1, Kind.BREAKDOWN, at(17, 30), at(19)),
    ]


def test_without_a_checklist_half_an_hour_is_kept_for_the_checks() -> None:
    _, phantom, _ = reminders_of(HOURS, [WHOLE_DAY], check_minutes=0, morning_notice_minutes=60)
    assert phantom.due_at == at(9, 30)


def test_long_checks_never_wake_anybody_before_their_call() -> None:
    _, phantom, _ = reminders_of(HOURS, [WHOLE_DAY], check_minutes=300, morning_notice_minutes=60)
    assert phantom.due_at == WHOLE_DAY.call_at


def test_whoever_comes_after_downbeat_is_not_asked_for_the_phantom_check() -> None:
    late = Call(2, at(14), HOURS.clear_at)
    found = reminders_of(HOURS, [late], check_minutes=40, morning_notice_minutes=60)
    assert [(due.kind, due.due_at) for due in found] == [
        (Kind.MORNING, at(13)),
        (Kind.BREAKDOWN, at(17, 30)),
    ]
    assert found[0].useless_after == at(14)


def test_whoever_has_left_by_then_is_not_asked_to_break_down() -> None:
    early = Call(2, at(8), at(14))
    found = reminders_of(HOURS, [early], check_minutes=40, morning_notice_minutes=60)
    assert [due.kind for due in found] == [Kind.MORNING, Kind.PHANTOM]


def test_notice_is_elapsed_time_when_the_clocks_go_forward() -> None:
    """Berlin, 28 March 2027: 02:00 CET becomes 03:00 CEST at 01:00 UTC (tz database, rule EU)."""
    downbeat = datetime(2027, 3, 28, 5, 30, tzinfo=BERLIN)
    hours = Hours(downbeat, downbeat + timedelta(hours=4), downbeat + timedelta(hours=5))
    call = Call(1, datetime(2027, 3, 28, 3, 30, tzinfo=BERLIN), hours.clear_at)  # 01:30 UTC
    morning = reminders_of(hours, [call], check_minutes=30, morning_notice_minutes=60)[0]
    assert morning.due_at == datetime(2027, 3, 28, 0, 30, tzinfo=UTC)
    assert morning.due_at.astimezone(BERLIN).strftime("%H:%M %Z") == "01:30 CET"


def test_notice_is_elapsed_time_when_the_clocks_go_back() -> None:
    """Berlin, 31 October 2027: 03:00 CEST becomes 02:00 CET at 01:00 UTC (tz database, rule EU)."""
    downbeat = datetime(2027, 10, 31, 5, tzinfo=BERLIN)
    hours = Hours(downbeat, downbeat + timedelta(hours=4), downbeat + timedelta(hours=5))
    call = Call(1, datetime(2027, 10, 31, 3, tzinfo=BERLIN), hours.clear_at)  # 02:00 UTC
    morning = reminders_of(hours, [call], check_minutes=30, morning_notice_minutes=90)[0]
    assert morning.due_at == datetime(2027, 10, 31, 0, 30, tzinfo=UTC)
    assert morning.due_at.astimezone(BERLIN).strftime("%H:%M %Z") == "02:30 CEST"


def test_a_time_without_a_zone_is_refused() -> None:
    naive = DOWNBEAT.replace(tzinfo=None)
    with pytest.raises(ValueError, match="with a zone"):
        reminders_of(Hours(naive, HOURS.end, HOURS.clear_at), [], 40, 60)


minutes = st.integers(1, 12 * 60)


@given(
    st.lists(minutes, min_size=2, max_size=2),
    st.lists(st.tuples(minutes, minutes), max_size=4),
    minutes,
    minutes,
)
def test_nothing_falls_due_when_it_is_of_no_use(
    lengths: list[int], calls: list[tuple[int, int]], check: int, notice: int
) -> None:
    end = DOWNBEAT + timedelta(minutes=lengths[0])
    hours = Hours(DOWNBEAT, end, end + timedelta(minutes=lengths[1]))
    start = DOWNBEAT - timedelta(hours=6)
    people = {
        number: Call(number, start + timedelta(minutes=a), start + timedelta(minutes=a + b))
        for number, (a, b) in enumerate(calls)
    }
    found = reminders_of(hours, people.values(), check, notice)
    assert len({(due.person_id, due.kind) for due in found}) == len(found)
    assert {due.person_id for due in found if due.kind is Kind.MORNING} == people.keys()
    for due in found:
        assert due.due_at < due.useless_after
        assert due.due_at.tzinfo is UTC
        if due.kind is not Kind.MORNING:
            assert people[due.person_id].call_at <= due.due_at < people[due.person_id].until


@pytest.mark.parametrize(
    ("minutes", "again"), [(0, False), (14, False), (15, True), (-14, False), (-15, True)]
)
def test_told_again_from_a_quarter_of_an_hour_on(minutes: int, again: bool) -> None:
    assert moved(DOWNBEAT, DOWNBEAT + timedelta(minutes=minutes)) is again


def test_the_kinds_are_those_of_the_table() -> None:
    assert {kind.value for kind in Kind} == set(Reminder.Kind.values)
