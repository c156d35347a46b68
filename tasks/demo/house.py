"""Sites, rooms and people of the files, and what is known by name while a house is being loaded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import models

from bookings.models import Client, Job, Session, SessionKind
from studio.models import GearModel, GearUnit, Person, Role, Room, RoomPair, Site
from tasks.demo.entries import DemoError, Entry
from tasks.demo.sign_in import SignIn, new_password, quick_hash

M = TypeVar("M", bound=models.Model)


@dataclass
class House:
    """What has been made so far, by the names that the files use. `now` is one instant for the whole load."""

    now: datetime
    sites: dict[str, Site] = field(default_factory=dict)
    rooms: dict[str, Room] = field(default_factory=dict)
    people: dict[str, Person] = field(default_factory=dict)
    models: dict[str, GearModel] = field(default_factory=dict)
    units: dict[str, GearUnit] = field(default_factory=dict)
    clients: dict[str, Client] = field(default_factory=dict)
    jobs: dict[str, Job] = field(default_factory=dict)
    kinds: dict[str, dict[str, SessionKind]] = field(default_factory=dict)  # of each site, by their names
    sessions: dict[str, Session] = field(default_factory=dict)  # the last of each title
    sign_ins: list[SignIn] = field(default_factory=list)

    def today(self, site: Site) -> date:
        """The date on the site's calendar."""
        return self.now.astimezone(site.tz).date()

    @property
    def manager(self) -> Person:
        """Who books everything: the first manager."""
        for person in self.people.values():
            if Role.MANAGER in person.roles:
                return person
        raise DemoError("Nobody is a manager; give one [[person]] the role “manager”.")

    def site(self, entry: Entry) -> Site:
        return entry.find(self.sites, entry.get("site", str), "site")


def checked(entry: Entry, thing: M, leave_out: Sequence[str] = ()) -> M:
    """The thing, after its own rules have found nothing wrong. Raises DemoError in the words of the rule."""
    try:
        thing.full_clean(exclude={"resource", *leave_out})
    except ValidationError as error:
        said = [f"{key}: {_plain(thing, key, texts)}" for key, texts in error.message_dict.items()]
        raise entry.wrong("; ".join(said)) from None
    return thing


def _plain(thing: models.Model, key: str, texts: list[str]) -> str:
    """The rule's words, with the choices where only some words will do."""
    names = {each.name: each for each in thing._meta.get_fields()}
    choices = getattr(names.get(key), "choices", None)
    hint = [f"Use one of {', '.join(str(value) for value, _ in choices if value)}."] if choices else []
    return " ".join([*texts, *hint])


def saved(entry: Entry, thing: M, leave_out: Sequence[str] = ()) -> M:
    checked(entry, thing, leave_out).save()
    return thing


def given(entry: Entry, *keys: str) -> dict[str, Any]:
    """Those of the keys that the entry has."""
    return {key: entry.values[key] for key in keys if key in entry.values}


def once(entry: Entry, known: dict[str, M], name: str, thing: M) -> M:
    """Keep a thing under its name, which must be new however it is written."""
    if name.casefold() in {each.casefold() for each in known}:
        raise entry.wrong(f"{name!r} stands in the files twice; rename one of the two.")
    known[name] = thing
    return thing


def add_sites(house: House, entries: Sequence[Entry]) -> None:
    for entry in entries:
        entry.only("name", "zone")
        site = Site(name=entry.get("name", str), zone=entry.get("zone", str))
        saved(entry, once(entry, house.sites, site.name, site))
        house.kinds[site.name] = {kind.name: kind for kind in site.session_kinds.all()}


def add_rooms(house: House, entries: Sequence[Entry]) -> None:
    """Rooms in the order of the file, then what the composites are made of."""
    numbers = [
        *("setup_minutes", "turnaround_minutes", "lines", "recorder_inputs", "people"),
        *("cable_run_m", "patch_points", "mains_outlets", "mains_v", "circuit_a"),
    ]
    for order, entry in enumerate(entries, start=1):
        entry.only("site", "name", "remark", "parts", "quiet", *numbers)
        name, site = entry.get("name", str), house.site(entry)
        room = Room(site=site, name=name, order=order, **given(entry, "remark", *numbers))
        if quiet := entry.clocks("quiet"):
            room.quiet_from, room.quiet_until = quiet
        saved(entry, once(entry, house.rooms, name, room))
    for entry in entries:
        add_parts(house, entry)


def add_parts(house: House, entry: Entry) -> None:
    room = house.rooms[entry.get("name", str)]
    for name in entry.texts("parts"):
        part = entry.find(house.rooms, name, "room")
        if part.site_id != room.site_id:
            raise entry.wrong(f"{name} belongs to another site; take it out of the parts.")
        if room in part.with_parts():
            raise entry.wrong(f"{name} is made of this room, or is this room; take it out of the parts.")
        room.parts.add(part)


def add_pairs(house: House, entries: Sequence[Entry]) -> None:
    """What joins two rooms of a site."""
    keys = ("tie_lines", "sight", "cue_feed", "sound_carries", "remark")
    for entry in entries:
        entry.only("rooms", *keys)
        names = entry.texts("rooms")
        rooms = [entry.find(house.rooms, name, "room") for name in names]
        if len(set(names)) != 2 or rooms[0].site_id != rooms[1].site_id:
            raise entry.wrong("rooms holds two rooms of one site, like [“Hall”, “Booth”].")
        first, second = sorted(rooms, key=lambda room: room.pk)
        saved(entry, RoomPair(first=first, second=second, **given(entry, *keys)))


def add_people(house: House, entries: Sequence[Entry]) -> None:
    for entry in entries:
        entry.only("username", "name", "roles", "about", "site", "email", "phone", "freelance", "week")
        fields = {"site": house.site(entry), **given(entry, "email", "phone", "freelance")}
        person = Person(username=entry.get("username", str), name=entry.get("name", str), **fields)
        checked(entry, once(entry, house.people, person.username, person), leave_out=["password"])
        roles, about, password = _roles(entry), entry.get("about", str, ""), new_password()
        made = Person.objects.create_person(person.username, person.name, roles, **fields)
        Person.objects.filter(pk=made.pk).update(password=quick_hash(password))
        house.people[made.username] = made
        house.sign_ins.append(SignIn(made.username, password, made.name, roles, str(made.site), about))


def _roles(entry: Entry) -> list[str]:
    roles = entry.texts("roles")
    for role in roles:
        if role not in Role.values:
            raise entry.wrong(f"roles has {role!r}; use {', '.join(Role.values)}.")
    return roles
