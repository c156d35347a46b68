"""What the tests of calendar feeds share: a fixed day, fetching a feed, moving a session."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

from django.db import connection
from django.http import HttpResponse
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from bookings.booking import change
from bookings.models import Feed, Session
from studio.models import Room
from tests.bookings.cast import make_draft, make_job, manager
from tests.outside.calendar_reading import Read, read

TODAY = datetime(2027, 3, 2, 9, 30, tzinfo=UTC)  # the cast's sessions are on 4 March 2027


def address(feed: Feed) -> str:
    return reverse("bookings:feed", args=[feed.token])


def fetch(feed: Feed, **headers: str) -> HttpResponse:
    return Browser(headers=headers).get(address(feed))  # type: ignore[return-value]


def fetched(feed: Feed) -> Read:
    response = fetch(feed)
    assert response.status_code == 200
    return read(response.content)


def uids(feed: Feed) -> set[str]:
    return {event.one("UID") for event in fetched(feed).events}


def changed(session: Session, **fields: Any) -> Session:
    """The session moved: times as “11:00” on the cast's day, anything else as make_draft takes it."""
    values = {"load_in": "10:00", "end": "18:00", "title": session.title, "job_id": session.job_id, **fields}
    draft = make_draft(values.pop("room", session.room), values.pop("load_in"), values.pop("end"), **values)
    return change(manager(), session.pk, session.version, draft)


def past_and_coming(room: Room, past: int, coming: int, note: str = "") -> None:
    """Sessions of an hour, one after the other away from today, written straight to the table."""
    job = make_job()
    starts = [TODAY - timedelta(hours=7 * n + 10) for n in range(past)]
    starts += [TODAY + timedelta(hours=20 * n + 1) for n in range(coming)]
    Session.objects.bulk_create(
        Session(
            job=job,
            room=room,
            title=f"Session {n}",
            note=note,
            setup_at=start,
            load_in=start,
            downbeat=start,
            end=start + timedelta(hours=1),
            clear_at=start + timedelta(hours=1),
            uid=uuid4(),
            made_at=TODAY,
            changed_at=TODAY,
        )
        for n, start in enumerate(starts)
    )


def queries(feed: Feed, **headers: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as captured:
        fetch(feed, **headers)
    return len(captured)
