"""The ladder of holds, rule by rule (the ladder itself: common practice of live music and studios)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from bookings import holds
from bookings.booking import Stale, book, cancel, change
from bookings.holds import NotNow, ask_about_tomorrow, challenge, confirm, lapse_holds, release
from bookings.ladder import PastHolds, holds_above, ranks
from bookings.models import HoldLetter, Session
from bookings.ranking import ordinal, short_ordinal
from bookings.terms import frozen_terms, owed_if_cancelled
from studio.claims import Conflict
from studio.models import Claim, Role, Room, Site
from tests.bookings.cast import called, make_draft, make_job, make_session, manager
from tests.bookings.hold_cast import clock, fresh, hold, told
from tests.house import at, make_person, make_room, make_site

__all__ = ["clock"]
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def hall() -> Room:
    return make_room("Weaving Hall")


def rank_of(session: Session) -> int:
    return ranks([fresh(session)], timezone.now())[session.pk]


def test_holds_rank_in_the_order_of_asking_and_count_no_double_booking(hall: Room) -> None:
    three = [hold(hall) for _ in range(3)]
    assert [rank_of(each) for each in three] == [1, 2, 3]
    assert not Claim.objects.firm().exists()
    assert [each.pk for each in holds_above(fresh(three[2]), timezone.now())] == [three[0].pk, three[1].pk]


def test_holds_on_a_composite_and_its_part_share_a_ladder_and_other_rooms_do_not() -> None:
    booth = make_room("Booth")
    hall = make_room("Hall", parts=[booth])
    assert rank_of(hold(booth)) == 1
    assert rank_of(hold(hall)) == 2
    assert rank_of(hold(make_room("Loft"))) == 1


def test_setup_and_turnaround_count_and_holds_that_only_touch_do_not(hall: Room) -> None:
    hold(hall, "10:00", "14:00", turnaround_minutes=60)
    assert rank_of(hold(hall, "15:00", "16:00")) == 1
    assert rank_of(hold(hall, "16:00", "18:00", setup_minutes=60)) == 2
    assert rank_of(hold(hall, "15:00", "16:00", setup_minutes=30)) == 3


def test_a_hold_over_two_short_ones_is_second_and_not_third(hall: Room) -> None:
    """It waits behind one at each instant, so its worst place is the second; nowhere is there a third."""
    hold(hall, "10:00", "12:00"), hold(hall, "14:00", "16:00")
    assert rank_of(hold(hall, "10:00", "18:00")) == 2


def test_a_hold_that_shares_only_an_hour_with_the_one_above_has_that_place_as_a_whole(hall: Room) -> None:
    first, second = hold(hall, "10:00", "12:00"), hold(hall, "11:00", "15:00")
    third = hold(hall, "14:00", "16:00")
    assert [rank_of(each) for each in (first, second, third)] == [1, 2, 2]
    release(manager(), first.pk)
    assert [rank_of(each) for each in (second, third)] == [1, 2]


def test_a_hold_stands_as_long_as_the_house_lets_it_and_at_the_latest_until_load_in(hall: Room) -> None:
    later = hold(hall, "2027-04-04 10:00", "2027-04-04 12:00")
    assert later.lapses_at == at("2027-03-08 18:00")  # seven days on, when the office closes
    assert hold(hall).lapses_at == at("2027-03-04 10:00")
    agreed = hold(hall, hold_until=date(2027, 3, 2))
    assert agreed.lapses_at == at("2027-03-02 18:00")
    assert agreed.history.get().words == "Held until Tue 2 March, 18:00."


def test_a_hold_falls_when_it_lapses_and_those_below_move_up(
    hall: Room, clock: time_machine.Traveller
) -> None:
    first, second = hold(hall, hold_until=date(2027, 3, 1)), hold(hall)
    clock.move_to(at("2027-03-01 17:59"))
    assert lapse_holds() == 0
    clock.move_to(at("2027-03-01 18:00"))
    assert (lapse_holds(), lapse_holds()) == (1, 0)
    first = fresh(first)
    assert (first.cancelled, first.cancelled_because) == (
        True,
        "The hold lapsed: it stood until Mon 1 March, 18:00.",
    )
    assert told(first) == ["booked", "fell"]
    assert not Claim.objects.of(first).exists()
    assert rank_of(second) == 1


def test_a_hold_whose_time_is_over_stands_in_nobody_s_way_before_the_tick(
    hall: Room, clock: time_machine.Traveller
) -> None:
    first, second = hold(hall, hold_until=date(2027, 3, 1)), hold(hall)
    clock.move_to(at("2027-03-01 18:30"))
    assert rank_of(second) == 1
    with pytest.raises(NotNow, match="The hold lapsed"):
        confirm(manager(), first.pk, first.version)
    confirm(manager(), second.pk, second.version)
    assert fresh(first).cancelled


def test_a_challenge_asks_those_above_in_order_until_the_challenger_is_first(
    hall: Room, clock: time_machine.Traveller
) -> None:
    first, second, third = hold(hall), hold(hall), hold(hall, title="Larkspur")
    challenge(manager(), third.pk)
    assert fresh(first).answer_by == at("2027-03-02 11:00")
    assert fresh(second).answer_by is None
    clock.move_to(at("2027-03-02 11:00"))
    lapse_holds()
    assert fresh(first).cancelled_because == (
        "The hold fell: no answer to the challenge came by Tue 2 March, 11:00."
    )
    assert fresh(second).answer_by == at("2027-03-03 11:00")
    clock.move_to(at("2027-03-03 11:05"))
    lapse_holds()
    assert told(second) == ["booked", "asked", "fell"]
    assert told(third) == ["booked", "challenges", "first"]
    assert (rank_of(third), fresh(third).challenged_at) == (1, None)


def test_challenging_twice_is_challenging_once_and_the_first_challenges_nobody(hall: Room) -> None:
    first, second = hold(hall), hold(hall)
    for _ in range(2):
        challenge(manager(), second.pk)
    assert told(second) == ["booked", "challenges"]
    with pytest.raises(NotNow, match="No hold stands above this one"):
        challenge(manager(), first.pk)


def test_no_deadline_lies_after_the_hold_s_own_expiry(hall: Room) -> None:
    first, second = hold(hall, hold_until=date(2027, 3, 1)), hold(hall)
    challenge(manager(), second.pk)
    assert fresh(first).answer_by == at("2027-03-01 18:00")


def test_keeping_a_challenged_hold_is_confirming_it_and_the_others_fall(hall: Room) -> None:
    first, second = hold(hall), hold(hall)
    challenge(manager(), second.pk)
    confirm(manager(), first.pk, first.version)
    assert fresh(first).status == Session.Status.CONFIRMED
    assert (fresh(first).answer_by, fresh(first).confirmed_at) == (None, timezone.now())
    assert told(second) == ["booked", "challenges", "fell"]
    assert "“Tin Harbour” was confirmed for this time" in fresh(second).cancelled_because


def test_a_challenge_that_is_withdrawn_leaves_the_one_above_in_peace(hall: Room) -> None:
    first, second = hold(hall), hold(hall)
    challenge(manager(), second.pk)
    release(manager(), second.pk, "found another day")
    assert fresh(first).answer_by is None
    assert told(first) == ["booked", "asked", "not challenged"]
    assert fresh(second).cancelled_because == "The hold was released: found another day"


def test_cancelling_the_challenger_ends_the_challenge_as_well(hall: Room) -> None:
    first, second = hold(hall), hold(hall)
    challenge(manager(), second.pk)
    cancel(manager(), second.pk, 1, "no")
    assert fresh(first).answer_by is None


def test_a_second_challenger_gives_no_new_deadline(hall: Room, clock: time_machine.Traveller) -> None:
    first, second, third = hold(hall), hold(hall), hold(hall)
    challenge(manager(), second.pk)
    clock.shift(timedelta(hours=1))
    challenge(manager(), third.pk)
    assert fresh(first).answer_by == at("2027-03-02 11:00")
    assert told(first) == ["booked", "asked"]


def test_a_booking_that_overrules_the_one_above_puts_the_challenger_first(hall: Room) -> None:
    first, second = hold(hall, "10:00", "14:00"), hold(hall, "12:00", "18:00")
    challenge(manager(), second.pk)
    book(manager(), make_draft(hall, "10:00", "11:00"), overrule="the owner's own date")
    assert fresh(first).cancelled
    assert (fresh(second).challenged_at, told(second)) == (None, ["booked", "challenges", "first"])


def test_confirming_past_a_standing_hold_is_refused_and_leaves_nothing(hall: Room) -> None:
    first, second = hold(hall), hold(hall)
    for reason in ("", "   "):
        with pytest.raises(PastHolds) as refusal:
            confirm(manager(), second.pk, second.version, reason)
    assert [each.pk for each in refusal.value.holds] == [first.pk]
    assert fresh(second).status == Session.Status.HELD
    assert told(second) == ["booked"]


def test_a_manager_overrules_with_a_written_reason_that_is_kept(hall: Room) -> None:
    first, second = hold(hall), hold(hall, title="Larkspur")
    confirm(manager(), second.pk, second.version, "paid in full")
    assert told(second) == ["booked", "confirmed", "overruled"]
    assert second.history.first().words == "Confirmed past “Tin Harbour”, because: paid in full"
    assert told(first) == ["booked", "fell"]
    firm = Claim.objects.firm().filter(resource=hall.resource)
    assert {claim.origin_id for claim in firm} == {second.pk}


def test_a_confirmed_session_kills_what_it_covers_in_part_and_nothing_else(hall: Room) -> None:
    mine = hold(hall, "10:00", "14:00")
    part, apart = hold(hall, "13:00", "18:00"), hold(hall, "14:00", "18:00")
    confirm(manager(), mine.pk, mine.version)
    assert fresh(part).cancelled
    assert not fresh(apart).cancelled


def test_confirming_what_is_taken_is_refused_in_the_usual_sentences(hall: Room) -> None:
    edda = make_person(Role.ENGINEER, name="Edda")
    mine = hold(hall, crew=[called(edda)])
    make_session(make_room("Loft"), "12:00", "13:00", crew=[called(edda)])
    with pytest.raises(Conflict):
        confirm(manager(), mine.pk, mine.version)
    assert fresh(mine).status == Session.Status.HELD
    assert told(mine) == ["booked"]


def test_confirming_an_old_version_is_stale_and_what_fell_is_too(hall: Room) -> None:
    mine = hold(hall)
    with pytest.raises(Stale):
        confirm(manager(), mine.pk, mine.version + 1)
    release(manager(), mine.pk)
    with pytest.raises(Stale):
        confirm(manager(), mine.pk, fresh(mine).version)


def test_booking_over_a_standing_hold_is_refused_unless_a_reason_is_written(hall: Room) -> None:
    first = hold(hall)
    draft = make_draft(hall, "12:00", "14:00", title="Larkspur")
    with pytest.raises(PastHolds):
        book(manager(), draft)
    session = book(manager(), draft, overrule="the owner's own date")
    assert told(session) == ["booked", "overruled"]
    assert fresh(first).cancelled


def test_moving_a_confirmed_session_over_a_hold_is_refused_in_the_same_way(hall: Room) -> None:
    session = make_session(hall, "10:00", "12:00")
    first = hold(hall, "12:00", "14:00")
    longer = make_draft(hall, "10:00", "13:00")
    with pytest.raises(PastHolds):
        change(manager(), session.pk, 1, longer)
    change(manager(), session.pk, 1, longer, "agreed by telephone")
    assert fresh(first).cancelled


def test_a_hold_may_wait_behind_a_booking_and_does_not_disturb_it(hall: Room) -> None:
    session = make_session(hall, "10:00", "12:00")
    waits = hold(hall, "10:00", "12:00")
    change(manager(), session.pk, 1, make_draft(hall, "10:00", "11:30", title="Shorter"))
    assert not fresh(waits).cancelled
    with pytest.raises(Conflict):
        confirm(manager(), waits.pk, waits.version)
    cancel(manager(), session.pk, 2, "rain")
    confirm(manager(), waits.pk, waits.version)


def test_a_hold_that_moves_asks_anew_and_one_that_gets_shorter_keeps_its_place(
    hall: Room, clock: time_machine.Traveller
) -> None:
    first, second = hold(hall), hold(hall)
    clock.shift(60)
    shorter = replace(make_draft(hall, "10:00", "17:00"), status=Session.Status.HELD)
    change(manager(), first.pk, 1, shorter)
    assert (rank_of(first), rank_of(second)) == (1, 2)
    change(manager(), first.pk, 2, replace(shorter, end=at("2027-03-04 19:00")))
    assert (rank_of(first), rank_of(second)) == (2, 1)
    assert "its place in line counts from now" in first.history.first().words


def test_a_challenger_that_moves_to_another_site_leaves_the_one_above_in_peace(hall: Room) -> None:
    first, second = hold(hall), hold(hall)
    challenge(manager(), second.pk)
    quay = make_room("Loft", make_site("Quay", "Asia/Kathmandu"))
    change(manager(), second.pk, 1, make_draft(quay, "10:00", "18:00"))
    assert (fresh(first).answer_by, fresh(second).challenged_at) == (None, None)


def test_a_hold_that_cannot_fall_stops_no_other(
    hall: Room,
    clock: time_machine.Traveller,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    bad, good = hold(hall, hold_until=date(2027, 3, 1)), hold(hall, hold_until=date(2027, 3, 1))
    let_go = holds.let_go

    def breaks(session: Session, *args: Any) -> None:
        if session.pk == bad.pk:
            raise KeyError("a mistake of ours")
        let_go(session, *args)

    clock.move_to(at("2027-03-01 18:00"))
    monkeypatch.setattr(holds, "let_go", breaks)
    assert lapse_holds() == 1
    assert "could not fall" in caplog.text
    assert (fresh(bad).cancelled, fresh(good).cancelled) == (False, True)
    monkeypatch.undo()
    assert lapse_holds() == 1


def test_changing_a_hold_never_confirms_it(hall: Room) -> None:
    first, second = hold(hall), hold(hall)
    change(manager(), second.pk, 1, make_draft(hall, "10:00", "12:00"))
    assert fresh(second).status == Session.Status.HELD
    assert not fresh(first).cancelled


def test_releasing_twice_is_releasing_once_and_a_booking_is_not_released(hall: Room) -> None:
    first = hold(hall)
    for _ in range(2):
        release(manager(), first.pk)
    assert told(first) == ["booked", "released"]
    with pytest.raises(NotNow, match="is confirmed"):
        release(manager(), make_session(hall).pk)


def test_only_a_manager_takes_these_steps(hall: Room) -> None:
    first, edda = hold(hall), make_person(Role.ENGINEER)
    with pytest.raises(PermissionDenied):
        confirm(edda, first.pk, 1)
    with pytest.raises(PermissionDenied):
        challenge(edda, first.pk)
    with pytest.raises(PermissionDenied):
        release(edda, first.pk)
    assert told(first) == ["booked"]


def test_the_terms_of_the_day_stay_with_the_session_when_the_house_changes_its_own(hall: Room) -> None:
    mine = hold(hall)
    assert frozen_terms(mine) is None
    confirm(manager(), mine.pk, mine.version)
    Site.objects.update(cancel_steps="48 h: 100 %", deposit_percent=0)
    terms = frozen_terms(fresh(mine))
    assert terms
    assert terms.steps == [(72, 50), (24, 100)]
    assert terms.words == (
        "Cancelling: 50 % with 72 h of notice or less, 100 % with 24 h or less. "
        "Notice must come in writing, by e-mail or letter. Deposit: 50 %."
    )


@pytest.mark.parametrize(
    ("hours", "percent", "amount"),
    [(80, 0, "0.00"), (60, 50, "500.00"), (20, 100, "1000.00"), (72, 50, "500.00")],
)
def test_the_fee_goes_by_the_step_that_the_notice_falls_in(
    hall: Room, hours: int, percent: int, amount: str
) -> None:
    """1000 cancelled with 80, 60 and 20 hours of notice: 0, 500, 1000 (common practice, no single source)."""
    job = make_job(hourly_rate=Decimal("100.00"))
    hours_of_day = {"load_in": "2027-03-10 08:00", "downbeat": "2027-03-10 09:00", "end": "2027-03-10 18:00"}
    session = make_session(hall, **hours_of_day, job_id=job.pk)
    owed = owed_if_cancelled(fresh(session), session.load_in - timedelta(hours=hours))
    assert owed
    assert (owed.percent, owed.amount) == (percent, Decimal(amount))


def test_cancelling_writes_down_what_is_owed_and_releasing_a_hold_owes_nothing(
    hall: Room, clock: time_machine.Traveller
) -> None:
    job = make_job(hourly_rate=Decimal("90.00"))
    session = make_session(hall, "10:00", "19:00", job_id=job.pk)
    clock.move_to(at("2027-03-03 15:00"))
    cancel(manager(), session.pk, 1, "the singer has a cold")
    assert session.history.first().words.splitlines()[1] == (
        "By the terms it was confirmed under, 19 h before load-in: 100 % of 810.00 EUR is owed, 810.00 EUR."
    )
    held = hold(hall)
    cancel(manager(), held.pk, 1, "no")
    assert held.history.first().words == "Cancelled: no"


def test_at_the_hour_that_the_house_sets_each_hold_for_tomorrow_is_asked_once(
    hall: Room, clock: time_machine.Traveller
) -> None:
    manager()
    hold(hall), hold(hall, "2027-03-05 10:00", "2027-03-05 12:00"), make_session(make_room("Loft"))
    clock.move_to(at("2027-03-03 15:59"))
    assert ask_about_tomorrow() == 0
    clock.move_to(at("2027-03-03 16:00"))
    assert [ask_about_tomorrow(), ask_about_tomorrow()] == [1, 1]
    assert HoldLetter.objects.filter(kind="decide").count() == 1


def test_ordinals_in_words() -> None:
    assert [ordinal(n) for n in (1, 2, 10, 11)] == ["first", "second", "tenth", "11th"]
    assert [short_ordinal(n) for n in (1, 2, 3, 4, 11, 12, 13, 21, 111)] == [
        *("1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "111th")
    ]
