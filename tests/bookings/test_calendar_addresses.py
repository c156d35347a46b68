"""A feed's address is its key: field case f18 of part 1, and who may make, renew and revoke one."""

from __future__ import annotations

import logging
from collections.abc import Iterator

import pytest
import time_machine
from django.test import Client as Browser

from bookings.calendar import feeds
from bookings.models import Feed
from studio.models import Person, Role
from tests.bookings.calendar_cast import (
    TODAY,
    address,
    fetch,
)
from tests.house import make_person, make_room

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def today() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(TODAY, tick=False) as traveller:
        yield traveller


def test_f18_every_dead_address_gets_the_same_answer() -> None:
    room, person, left = make_room(), make_person(Role.TECH), make_person(Role.TECH)
    renewed, revoked = feeds.make(person), feeds.make(person, room)
    of_someone_who_left = feeds.make(left)
    roleless = make_person(Role.TECH)
    of_roleless = feeds.make(roleless, room)
    roleless.roles_held.all().delete()
    living = feeds.renew(person, renewed.pk)
    feeds.revoke(person, revoked.pk)
    Person.objects.filter(pk=left.pk).update(is_active=False)
    tokens = [feed.token for feed in (renewed, revoked, of_someone_who_left, of_roleless)]
    tokens += [
        living.token[:-1],
        living.token + "A",
        living.token.swapcase(),
        living.token[:4],
        "x",
        "%00",
        "é",
    ]
    answers = {
        (response.status_code, response.content, tuple(sorted(response.headers.items())))
        for response in (Browser().get(f"/calendar/{token}.ics") for token in tokens)
    }
    assert len(answers) == 1
    ((status, content, headers),) = answers
    assert status == 404
    assert b"no calendar at this address" in content
    assert "no-store" in dict(headers)["Cache-Control"]
    assert fetch(living).status_code == 200


def test_an_address_is_dead_while_its_owner_is_not_active() -> None:
    person = make_person(Role.ENGINEER)
    feed = feeds.make(person)
    for active, status in [(True, 200), (False, 404), (True, 200)]:
        Person.objects.filter(pk=person.pk).update(is_active=active)
        assert fetch(feed).status_code == status


def test_a_renewed_address_is_another_one_for_the_same_calendar() -> None:
    person = make_person(Role.ENGINEER)
    first = feeds.make(person)
    second = feeds.renew(person, first.pk)
    assert second.token != first.token
    assert second.pk == first.pk
    assert (fetch(first).status_code, fetch(second).status_code) == (404, 200)


def test_one_address_a_person_and_calendar_each_with_160_random_bits() -> None:
    """F18 asks for at least 128; base 64 carries 6 bits a letter (RFC 4648 section 5)."""
    room, ann, ben = make_room(), make_person(Role.TECH), make_person(Role.TECH)
    made = [
        feeds.make(ann),
        feeds.make(ann),
        feeds.make(ann, room),
        feeds.make(ann, room),
        feeds.make(ben, room),
    ]
    assert len({feed.pk for feed in made}) == len({feed.token for feed in made}) == 3
    assert min(len(feed.token) - feeds.FINDING_LETTERS for feed in made) * 6 >= 128


def test_tokens_that_begin_alike_are_told_apart() -> None:
    ann, ben = make_person(Role.TECH, name="Ann"), make_person(Role.TECH, name="Ben")
    for person, token in ((ann, "a_b%cdefgh"), (ben, "a_bCdefghij")):
        Feed.objects.create(owner=person, token=token.replace("%", "-"), made_at=TODAY)
    found = feeds.live("a_bCdefghij")
    assert found is not None
    assert found.owner == ben
    assert feeds.live("aXbCdefghij") is None


def test_nobody_renews_or_revokes_another_persons_address() -> None:
    ann, ben = make_person(Role.TECH), make_person(Role.MANAGER)
    feed = feeds.make(ann)
    for act in (feeds.renew, feeds.revoke):
        with pytest.raises(Feed.DoesNotExist):
            act(ben, feed.pk)
    assert fetch(feed).status_code == 200


def test_no_address_stands_in_the_log(caplog: pytest.LogCaptureFixture) -> None:
    feed = feeds.make(make_person(Role.TECH))
    Feed.objects.all().delete()
    with caplog.at_level(logging.DEBUG):
        fetch(feed)
        Browser().post(address(feed))
    assert "/calendar/" in caplog.text
    assert feed.token not in caplog.text


@pytest.mark.parametrize("method", ["post", "put", "delete", "patch"])
def test_a_feed_is_only_read(method: str) -> None:
    feed = feeds.make(make_person(Role.TECH))
    assert getattr(Browser(), method)(address(feed)).status_code == 405
    assert Browser().head(address(feed)).status_code == 200
