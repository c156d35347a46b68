"""The only door to claims: what it takes, what it refuses, and the lock in the database behind it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.contenttypes.models import ContentType
from django.db import IntegrityError, connection

from studio import claims
from studio.claims import Conflict, Wanted, busy_spans, clashes_with, next_free, release, take, taken_ids
from studio.models import Claim, Resource, Room, Site
from tests.house import at, make_room, make_site, make_stock, span

pytestmark = pytest.mark.django_db
DAY = "2027-03-04"


def hours(start: str, end: str | None) -> Any:
    return span(f"{DAY} {start}", f"{DAY} {end}" if end else None)


def wanted(thing: Any, start: str, end: str | None, **more: Any) -> Wanted:
    return Wanted(thing.resource_id, hours(start, end), Claim.Purpose.SESSION, "Choir", **more)


def test_a_taken_resource_refuses_all_and_changes_nothing() -> None:
    hall, loft, site = make_room("Hall"), make_room("Loft"), make_site()
    take(site, [wanted(hall, "10:00", "12:00")])
    with pytest.raises(Conflict) as conflict:
        take(hall, [wanted(loft, "10:00", "12:00"), wanted(hall, "11:00", "13:00")])
    assert [clash.resource.name for clash in conflict.value.clashes] == ["Hall"]
    assert Claim.objects.count() == 1


def test_neighbours_that_touch_are_both_taken() -> None:
    hall, site = make_room(), make_site()
    take(
        site, [wanted(hall, "10:00", "12:00"), wanted(hall, "12:00", "13:00"), wanted(hall, "09:00", "10:00")]
    )
    assert Claim.objects.count() == 3


def test_an_open_end_stands_in_the_way_of_everything_after_it() -> None:
    hall, site = make_room(), make_site()
    take(site, [wanted(hall, "10:00", None)])
    assert clashes_with([wanted(hall, "09:00", "10:00")]) == []
    assert len(clashes_with([wanted(hall, "23:00", "23:30")])) == 1
    with pytest.raises(Conflict):
        take(hall, [wanted(hall, "08:00", None)])


def test_what_is_given_up_first_may_be_taken_again() -> None:
    hall, site = make_room(), make_site()
    take(site, [wanted(hall, "10:00", "12:00")])
    take(site, [wanted(hall, "11:00", "13:00")], instead=[Claim.Purpose.SESSION])
    assert [claim.span for claim in Claim.objects.all()] == [hours("11:00", "13:00")]


def test_a_refused_exchange_keeps_the_old_claims() -> None:
    hall, site, other = make_room(), make_site(), make_site("Quay House")
    take(site, [wanted(hall, "10:00", "12:00")])
    take(other, [wanted(hall, "12:00", "14:00")])
    with pytest.raises(Conflict):
        take(site, [wanted(hall, "11:00", "13:00")], instead=[Claim.Purpose.SESSION])
    assert [c.span for c in Claim.objects.of(site)] == [hours("10:00", "12:00")]


def test_holds_may_lie_over_anything_and_keep_nobody_out() -> None:
    hall, site = make_room(), make_site()
    take(site, [wanted(hall, "10:00", "12:00")])
    take(site, [wanted(hall, "10:00", "12:00", firm=False)] * 2)
    assert taken_ids(hours("12:00", "13:00")) == set()
    take(site, [wanted(hall, "12:00", "13:00")])


def test_stock_is_refused_when_its_count_is_passed_at_one_instant() -> None:
    booms, site = make_stock(amount=5), make_site()
    take(site, [wanted(booms, "10:00", "12:00", quantity=3)])
    take(site, [wanted(booms, "11:00", "13:00", quantity=2)])
    with pytest.raises(Conflict) as conflict:
        take(site, [wanted(booms, "11:30", "14:00", quantity=1)])
    assert conflict.value.clashes[0].free == 0
    take(site, [wanted(booms, "12:00", "14:00", quantity=3)])


def test_stock_wanted_twice_in_one_go_is_added_up() -> None:
    booms, site = make_stock(amount=5), make_site()
    with pytest.raises(Conflict):
        take(site, [wanted(booms, "10:00", "12:00", quantity=3), wanted(booms, "11:00", "13:00", quantity=3)])


def test_release_gives_back_only_its_own() -> None:
    hall, site, other = make_room(), make_site(), make_site("Quay House")
    take(site, [wanted(hall, "10:00", "12:00")])
    take(other, [wanted(hall, "12:00", "14:00")])
    release(site)
    assert [c.origin for c in Claim.objects.all()] == [other]


def test_next_free_is_the_first_gap_that_is_long_enough() -> None:
    hall, site = make_room(), make_site()
    take(site, [wanted(hall, "10:00", "12:00"), wanted(hall, "13:00", "15:00")])
    after = at(f"{DAY} 09:30")
    assert next_free(hall.resource_id, timedelta(minutes=30), after) == after
    assert next_free(hall.resource_id, timedelta(hours=1), after) == at(f"{DAY} 12:00")
    assert next_free(hall.resource_id, timedelta(hours=2), after) == at(f"{DAY} 15:00")


def test_looking_for_clashes_takes_two_queries_however_much_is_wanted(
    django_assert_num_queries: Any,
) -> None:
    rooms = [make_room(f"Room {number}") for number in range(12)]
    take(make_site(), [wanted(room, "10:00", "12:00") for room in rooms])
    wishes = [wanted(room, "11:00", "13:00") for room in rooms]
    with django_assert_num_queries(2):
        assert len(clashes_with(wishes)) == 12


INSERT = """
INSERT INTO studio_claim
    (resource_id, starts, ends, purpose, firm, exclusive, quantity, reason, origin_type_id, origin_id)
VALUES (%s, %s, %s, 'session', %s, %s, 1, 'by hand', %s, 1)
"""


def insert_by_hand(
    room: Room, start: str, end: str | None, firm: bool = True, exclusive: bool = True
) -> None:
    """Past every line of our own code."""
    moments = hours(start, end)
    values = [connection.ops.adapt_datetimefield_value(moment) for moment in (moments.start, moments.end)]
    kind = ContentType.objects.get_for_model(Site).pk
    with connection.cursor() as cursor:
        cursor.execute(INSERT, [room.resource_id, *values, firm, exclusive, kind])


@pytest.mark.parametrize(
    ("start", "end"),
    [
        ("10:00", "12:00"),
        ("11:59", "13:00"),
        ("09:00", "10:01"),
        ("10:30", "11:00"),
        ("09:00", "13:00"),
        ("11:00", None),
        ("09:00", None),
    ],
)
def test_the_database_itself_refuses_an_overlap(start: str, end: str | None) -> None:
    hall = make_room()
    take(make_site(), [wanted(hall, "10:00", "12:00")])
    with pytest.raises(IntegrityError, match="studio_claim_no_overlap"):
        insert_by_hand(hall, start, end)


@pytest.mark.parametrize(
    ("start", "end", "more"),
    [
        ("12:00", "13:00", {}),
        ("09:00", "10:00", {}),
        ("12:00", None, {}),
        ("10:00", "12:00", {"firm": False}),
        ("10:00", "12:00", {"exclusive": False}),
    ],
)
def test_the_database_takes_what_does_not_overlap(start: str, end: str | None, more: dict[str, bool]) -> None:
    hall = make_room()
    take(make_site(), [wanted(hall, "10:00", "12:00")])
    insert_by_hand(hall, start, end, **more)
    assert Claim.objects.count() == 2


@pytest.mark.parametrize(
    "change",
    [
        "starts = (SELECT starts FROM studio_claim ORDER BY id LIMIT 1)",
        "resource_id = (SELECT resource_id FROM studio_claim ORDER BY id LIMIT 1)",
        "ends = NULL",
        "firm = TRUE",
        "exclusive = TRUE",
    ],
)
def test_the_database_refuses_a_change_that_makes_an_overlap(change: str) -> None:
    hall, loft, site = make_room("Hall"), make_room("Loft"), make_site()
    take(site, [wanted(hall, "10:00", "12:00")])
    if change.startswith("starts"):
        take(site, [wanted(hall, "13:00", "14:00")])
    elif change.startswith("ends"):
        take(site, [wanted(hall, "08:00", "09:00")])
    elif change.startswith("resource"):
        take(site, [wanted(loft, "11:00", "13:00")])
    else:
        column = change.split()[0]
        insert_by_hand(hall, "11:00", "13:00", **{column: False})
    with pytest.raises(IntegrityError, match="studio_claim_no_overlap"), connection.cursor() as cursor:
        cursor.execute(f"UPDATE studio_claim SET {change} WHERE id = (SELECT MAX(id) FROM studio_claim)")  # noqa: S608


def test_an_overlap_that_slips_past_the_look_is_still_a_conflict_with_its_reason(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As if another transaction had written between the look and the write."""
    hall, site = make_room("Hall"), make_site()
    take(site, [wanted(hall, "10:00", "12:00")])
    look, looks = claims._clashes, []

    def blind_at_first(*args: Any, **options: Any) -> Any:
        looks.append(1)
        return [] if len(looks) == 1 else look(*args, **options)

    monkeypatch.setattr(claims, "_clashes", blind_at_first)
    with pytest.raises(Conflict) as conflict:
        take(make_site("Quay House"), [wanted(hall, "11:00", "13:00")])
    assert [clash.resource.name for clash in conflict.value.clashes] == ["Hall"]
    assert Claim.objects.count() == 1


def test_a_claim_ends_after_it_starts_and_takes_something() -> None:
    hall = make_room()
    with pytest.raises(IntegrityError, match="studio_claim_ends_after_start"):
        insert_by_hand_backwards(hall)


def insert_by_hand_backwards(room: Room) -> None:
    kind = ContentType.objects.get_for_model(Site).pk
    values = [connection.ops.adapt_datetimefield_value(at(f"{DAY} {hour}")) for hour in ("12:00", "10:00")]
    with connection.cursor() as cursor:
        cursor.execute(INSERT, [room.resource_id, *values, False, False, kind])


def test_only_counted_things_have_a_capacity_above_one() -> None:
    with pytest.raises(IntegrityError, match="studio_resource_exclusive_is_one"):
        Resource.objects.create(kind=Resource.Kind.ROOM, name="Hall", exclusive=True, capacity=2)


def test_busy_spans_are_the_firm_claims_in_order_as_few_as_they_can_be() -> None:
    room, site = make_room(), make_site()
    firm = [("12:00", "13:00"), ("10:00", "11:00"), ("11:00", "12:00"), ("15:00", None)]
    take(site, [wanted(room, *pair) for pair in firm])
    take(site, [wanted(room, "13:00", "14:00", firm=False)])
    assert busy_spans(room.resource_id, hours("09:00", None)) == [
        hours("10:00", "13:00"),
        hours("15:00", None),
    ]
    assert busy_spans(room.resource_id, hours("13:00", "15:00")) == []
