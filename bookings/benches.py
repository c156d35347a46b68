"""Benches of the bookings: each in a database of its own, made for it and thrown away."""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.core.cache import cache
from django.db import connection
from django.db.models import F
from django.test import Client as Browser
from django.test import RequestFactory
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from bookings.benches_of_years import house_of_years
from bookings.calendar import feeds, views
from bookings.calendar.sessions import window_of
from bookings.models import Client, Crew, Feed, Job, Session
from studio.benching import Measured, bench, own_database
from studio.claims import busy_spans
from studio.models import Person, Role, Room, Site
from studio.spans import Span

EVENTS = 10_000
NO_LIMIT = 10**9
TURNS = 5


@bench("free or busy", unit="ms", most_times=3)
def free_or_busy() -> Measured:
    with own_database():
        room = house_of_years().rooms.first()
        week = Span(timezone.now(), timezone.now() + timedelta(weeks=4))
        if room is None:
            raise RuntimeError("the house of years has no room")
        asked = Asked()

        def ask() -> None:
            busy_spans(room.resource_id, week)

        with connection.execute_wrapper(asked):
            ask()
        return Measured(
            value=1000 * best_of(ask),
            baseline=1000 * best_of(asked.again),
            how="when one of 40 rooms with 200,000 sessions is taken in four weeks, "
            f"{len(busy_spans(room.resource_id, week))} spans; baseline: the same SQL by hand",
        )


@bench("board of years", unit="queries", target=12)
def board_of_years() -> Measured:
    with own_database():
        house_of_years()
        browser = Browser(SERVER_NAME="localhost")
        browser.force_login(Person.objects.create_person("desk", "Desk", [Role.MANAGER]))
        address = reverse("bookings:board") + "?view=week"
        browser.get(address)
        asked = Asked()

        def look() -> None:
            if browser.get(address).status_code != 200:
                raise RuntimeError("the board can't be opened")

        with connection.execute_wrapper(asked):
            look()
        seconds, bare = best_of(look), best_of(asked.again)
        return Measured(
            value=len(asked.questions),
            baseline=12,
            how=f"a week of 40 rooms among 200,000 sessions, the whole page in {1000 * seconds:.0f} ms; "
            f"its queries by hand {1000 * bare:.0f} ms, {seconds / bare:.1f} times",
        )


@bench("calendar feed", unit="s", most_times=1.2)
def calendar_feed() -> Measured:
    with own_database():
        feed, now = busy_feed(), timezone.now()
        objects = Calendar.from_ical(feeds.build(feed, now, NO_LIMIT)[0])
        octets = b""

        def cold() -> None:
            nonlocal octets
            cache.clear()
            octets, _ = feeds.build(feed, now, NO_LIMIT)

        return Measured(
            value=best_of(cold, turns=3),
            baseline=best_of(objects.to_ical, turns=2),
            how=f"{len(objects.events)} events read from the database, written and kept, {len(octets)} bytes; "
            "baseline: icalendar's to_ical once over the same events, already made",
        )


@bench("calendar one changed", unit="s", most_times=0.05)
def calendar_one_changed() -> Measured:
    with own_database():
        feed, now = busy_feed(), timezone.now()
        before = feeds.build(feed, now, NO_LIMIT)[0]
        objects = Calendar.from_ical(before)
        session = Session.objects.order_by("pk")[EVENTS // 2]

        def one_changed() -> None:
            title = f"Strings and {time.perf_counter_ns()}"
            Session.objects.filter(pk=session.pk).update(version=F("version") + 1, title=title)
            if title.encode() not in feeds.build(feed, now, NO_LIMIT)[0]:
                raise RuntimeError("the change isn't in the feed")

        return Measured(
            value=best_of(one_changed),
            baseline=best_of(objects.to_ical, turns=2),
            how=f"one session of {EVENTS} has another title: its entry is written anew, the others are kept; "
            "baseline: icalendar's to_ical once over all",
        )


@bench("calendar unchanged", unit="ms", target=2)
def calendar_unchanged() -> Measured:
    with own_database():
        feed = busy_feed()
        browser, address = RequestFactory(), reverse("bookings:feed", args=[feed.token])
        first = views.feed(browser.get(address), feed.token)
        request = browser.get(address, headers={"If-None-Match": first["ETag"]})
        asked = Asked()

        def look_again() -> None:
            if views.feed(request, feed.token).status_code != 304:
                raise RuntimeError("the unchanged feed was built again")

        with connection.execute_wrapper(asked):
            look_again()
        return Measured(
            value=1000 * best_of(look_again, turns=100),
            baseline=1000 * best_of(asked.again, turns=100),
            how=f"a request for a feed of {EVENTS} events answered 304, without the middleware of every page; "
            f"baseline: its {len(asked.questions)} queries alone",
        )


class Asked:
    """Remembers what the database was asked, to ask it again without anything around it."""

    def __init__(self) -> None:
        self.questions: list[tuple[str, Any]] = []

    def __call__(self, execute: Callable[..., Any], sql: str, params: Any, *rest: Any) -> Any:
        self.questions.append((sql, params))
        return execute(sql, params, *rest)

    def again(self) -> None:
        with connection.cursor() as cursor:
            for sql, params in self.questions:
                cursor.execute(sql, params)
                cursor.fetchall()


def busy_feed() -> Feed:
    """A person's feed: EVENTS sessions of one engineer, one an hour, with a client, a job and a note each."""
    site = Site.objects.create(name="Bench", zone="Europe/Berlin")
    room = Room.objects.create(site=site, name="Hall")
    person = Person.objects.create_person("bench", "Somebody", [Role.ENGINEER])
    jobs = [
        Job.objects.create(client=Client.objects.create(name=f"Client {n}"), title=f"Job {n}")
        for n in range(40)
    ]
    start = window_of(timezone.now()).start + timedelta(hours=9)
    sessions = [session_at(start + timedelta(hours=n), room, jobs[n % 40]) for n in range(EVENTS)]
    Session.objects.bulk_create(sessions)
    Crew.objects.bulk_create(
        Crew(session=session, person=person, role=Role.ENGINEER, call_at=session.load_in, until=session.end)
        for session in sessions
    )
    return feeds.make(person)


def session_at(start: datetime, room: Room, job: Job) -> Session:
    end = start + timedelta(hours=6)
    return Session(
        job=job,
        room=room,
        title="Strings and harmonium",
        note="Piano tuned in the morning. " * 4,
        setup_at=start - timedelta(hours=1),
        load_in=start,
        downbeat=start + timedelta(hours=1),
        end=end,
        clear_at=end + timedelta(hours=1),
        uid=uuid.uuid4(),
        made_at=start,
        changed_at=start,
    )


def best_of(work: Callable[[], object], turns: int = TURNS) -> float:
    """Seconds of the quickest turn: the machine's other work only ever slows it down."""
    seconds = []
    for _ in range(turns):
        began = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - began)
    return min(seconds)
