"""Who books what in the tests of bookings."""

from __future__ import annotations

import re
from html import unescape
from html.parser import HTMLParser
from typing import Any

from django.test import Client as Browser

from bookings.booking import Called, Draft, book
from bookings.models import Client, Job, Session
from studio.models import Person, Role, Room
from tests.house import at, make_person, make_room

DAY = "2027-03-04"


def make_job(client: str = "Tin Harbour", title: str = "Quartet and harmonium", **fields: Any) -> Job:
    return Job.objects.create(client=Client.objects.get_or_create(name=client)[0], title=title, **fields)


def make_draft(room: Room, load_in: str, end: str, downbeat: str = "", **fields: Any) -> Draft:
    """Times as “10:00” on DAY or as “2027-03-05 01:00”, in the zone of the room's site."""
    values: dict[str, Any] = {"title": "Quartet", "setup_minutes": 0, "turnaround_minutes": 0, **fields}
    values["crew"] = tuple(values.pop("crew", ()))
    if "job_id" not in values:
        values["job_id"] = (Job.objects.first() or make_job()).pk
    tz = room.site.tz
    moments = [
        at(wall if len(wall) > 5 else f"{DAY} {wall}", tz) for wall in (load_in, downbeat or load_in, end)
    ]
    return Draft(room=room, load_in=moments[0], downbeat=moments[1], end=moments[2], **values)


def manager() -> Person:
    return Person.objects.filter(roles_held__role=Role.MANAGER).first() or make_person(
        Role.MANAGER, name="Mara"
    )


def make_session(
    room: Room | None = None, load_in: str = "10:00", end: str = "18:00", **fields: Any
) -> Session:
    return book(manager(), make_draft(room or make_room(), load_in, end, **fields))


def called(person: Person, role: str = Role.ENGINEER) -> Called:
    return Called(person.pk, role)


def browser_of(person: Person, **options: Any) -> Browser:
    browser = Browser(**options)
    browser.force_login(person)
    return browser


def filled_in(place: Room | None = None, **changed: Any) -> dict[str, Any]:
    """What a manager types for a day in Berlin."""
    typed: dict[str, Any] = {
        "job": (Job.objects.first() or make_job()).pk,
        "title": "Quartet and harmonium",
        "room": (place or Room.objects.first() or make_room("Weaving Hall")).pk,
        "load_in": "2027-03-04T09:20",
        "downbeat": "2027-03-04T10:00",
        "end": "2027-03-04T19:00",
        "form_key": "6a0c1f6e-7a2f-4a0d-9a50-2f0f4c1f2a11",
    }
    return typed | changed


def said(page: Any) -> str:
    """The words of a page as a person reads them."""
    return " ".join(re.sub(r"<[^>]+>", " ", unescape(page.content.decode())).split())


class Fields(HTMLParser):
    """Collects what a browser would send of a page's forms."""

    def __init__(self) -> None:
        super().__init__()
        self.fields: dict[str, list[str]] = {}
        self.select = self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        a = dict(attrs)
        name, value = a.get("name") or "", a.get("value") or ""
        if tag == "input" and name and (a.get("type") not in ("radio", "checkbox") or "checked" in a):
            self.fields.setdefault(name, []).append(value)
        if tag == "select":
            self.select = name
        if tag == "option" and "selected" in a:
            self.fields.setdefault(self.select, []).append(value)
        if tag == "textarea":
            self.text = name
            self.fields[name] = [""]

    def handle_data(self, data: str) -> None:
        if self.text:
            self.fields[self.text][0] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self.fields[self.text][0] = self.fields[self.text][0].removeprefix("\r\n").removeprefix("\n")
            self.text = ""


def page_fields(desk: Browser, session: Session) -> dict[str, Any]:
    """The form for a session as a browser would send it back untouched, hidden fields included."""
    page = Fields()
    page.feed(desk.get(f"/sessions/{session.pk}/change").content.decode())
    page.fields.pop("q", None)
    return {name: [v.replace("\n", "\r\n") for v in values] for name, values in page.fields.items()}


def sent_back(desk: Browser, session: Session, **changed: Any) -> Any:
    return desk.post(f"/sessions/{session.pk}/change", page_fields(desk, session) | changed)


def refused(desk: Browser, sentence: str, **changed: Any) -> str:
    """Posts the form, expects this sentence, everything kept and nothing booked; gives the page."""
    typed = filled_in(**changed)
    page = desk.post("/sessions/new", typed)
    assert page.status_code == 200
    assert sentence in said(page)
    assert not Session.objects.exists()
    html = page.content.decode()
    if typed["title"].strip():
        assert page.context["form"]["title"].value() == typed["title"]
    assert page.context["form"]["downbeat"].value() == typed["downbeat"]
    return html
