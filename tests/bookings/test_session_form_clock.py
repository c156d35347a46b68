"""The booking form on the site's clock: days, zones, and the nights when the clocks change."""

from __future__ import annotations

import pytest
from django.test import Client as Browser

from bookings.models import Session
from tests.bookings.cast import (
    filled_in,
    refused,
    sent_back,
)
from tests.house import at, make_room, make_site

pytestmark = pytest.mark.django_db


def test_an_end_on_the_next_day_is_allowed(desk: Browser) -> None:
    desk.post("/sessions/new", filled_in(end="2027-03-05T02:00"))
    assert Session.objects.get().end == at("2027-03-05 02:00")


def test_72_hours_are_allowed(desk: Browser) -> None:
    desk.post("/sessions/new", filled_in(load_in="2027-03-04T10:00", end="2027-03-07T10:00"))
    assert Session.objects.count() == 1


def test_seconds_that_a_browser_adds_are_dropped(desk: Browser) -> None:
    """Field case F58."""
    desk.post("/sessions/new", filled_in(downbeat="2027-03-04T10:00:13.500"))
    assert Session.objects.get().downbeat == at("2027-03-04 10:00")


def test_the_time_is_the_site_s_wherever_the_browser_is(desk: Browser) -> None:
    """New York in early March is five hours behind UTC (tzdata 2026, northamerica: rule US)."""
    pier = make_room("Pier Room", make_site("Quay House", "America/New_York"))
    desk.post("/sessions/new", filled_in(pier))
    assert Session.objects.get().downbeat.isoformat() == "2027-03-04T15:00:00+00:00"


def test_a_time_that_doesn_t_exist_is_refused(desk: Browser) -> None:
    """29 March 2026, 02:00 to 03:00 in Berlin (tzdata 2026, europe: rule EU)."""
    night = {"load_in": "2026-03-29T02:30", "downbeat": "2026-03-29T04:00", "end": "2026-03-29T08:00"}
    sentence = "There is no 02:30 on Sun 29 March 2026: the clocks go forward over it."
    html = refused(desk, sentence, **night)
    assert "load_in_which" not in html


def test_a_time_that_exists_twice_is_asked_and_then_taken_as_answered(desk: Browser) -> None:
    """25 October 2026, 02:00 to 03:00 in Berlin: first at +2, then at +1 (tzdata 2026, europe: rule EU)."""
    night = {"load_in": "2026-10-25T01:00", "downbeat": "2026-10-25T02:30", "end": "2026-10-25T06:00"}
    html = refused(desk, "02:30 on Sun 25 October 2026 comes twice: the clocks go back.", **night)
    assert html.count('name="downbeat_which"') == 2
    assert "the first 02:30 (00:30 UTC)" in html
    assert "the second 02:30 (01:30 UTC)" in html
    desk.post("/sessions/new", filled_in(**night, downbeat_which="second"))
    assert Session.objects.get().downbeat.isoformat() == "2026-10-25T01:30:00+00:00"


def test_an_hour_before_the_change_and_the_same_hour_after_are_in_order(desk: Browser) -> None:
    """Elapsed time decides, not the look of the clock: 02:50 summer time comes before 02:10 winter time."""
    night = {"load_in": "2026-10-25T02:50", "downbeat": "2026-10-25T02:50", "end": "2026-10-25T02:10"}
    which = {"load_in_which": "first", "downbeat_which": "first", "end_which": "second"}
    desk.post("/sessions/new", filled_in(**night, **which))
    session = Session.objects.get()
    assert (session.end - session.downbeat).total_seconds() == 20 * 60


def test_editing_keeps_which_of_the_two_hours_it_was(desk: Browser) -> None:
    night = {"load_in": "2026-10-25T01:00", "downbeat": "2026-10-25T02:30", "end": "2026-10-25T06:00"}
    desk.post("/sessions/new", filled_in(**night, downbeat_which="second"))
    before = Session.objects.get()
    sent_back(desk, before, note="as it was")
    after = Session.objects.get()
    assert (after.downbeat, after.note) == (before.downbeat, "as it was")
