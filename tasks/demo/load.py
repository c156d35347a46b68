"""Load a house from its files into an empty database: all of it or nothing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from django.db import transaction
from django.utils import timezone

from bookings.models import Client, Session
from studio.models import Fault, GearModel, GearUnit, Person, Room, Site
from tasks.demo.diary import add_jobs, add_sessions, answer_calls
from tasks.demo.entries import DemoError, read_entries
from tasks.demo.floors import add_floors, add_moves, add_settings
from tasks.demo.gear import add_faults, add_models, add_stock, add_units
from tasks.demo.hours import add_leaves, add_week
from tasks.demo.house import House, add_pairs, add_people, add_rooms, add_sites
from tasks.demo.rentals import add_rentals
from tasks.demo.service import add_services
from tasks.demo.sign_in import write_sign_ins

DATA = Path(__file__).parent / "data"


@dataclass(frozen=True, slots=True)
class Loaded:
    """How many of each there are now."""

    sites: int
    rooms: int
    people: int
    models: int
    units: int
    faults: int
    sessions: int

    def __str__(self) -> str:
        return (
            f"{self.sites} sites, {self.rooms} rooms, {self.people} people, {self.models} gear models, "
            f"{self.units} units, {self.faults} faults, {self.sessions} sessions"
        )


def load_house(folder: Path, sign_in_file: Path) -> Loaded:
    """The house of the folder's files, with dates counted from today, and its passwords in sign_in_file.

    Sessions are booked, so plans, checklists and reminders of what isn't over come with them.
    Raises DemoError, and then nothing has been loaded.
    """
    tables = read_entries(folder)
    with transaction.atomic():
        _must_be_empty()
        house = House(now=timezone.now())
        add_sites(house, tables["site"])
        add_rooms(house, tables["room"])
        add_pairs(house, tables["pair"])
        add_floors(house, tables["floor"])
        add_people(house, tables["person"])
        for entry in tables["person"]:
            add_week(house.people[entry.get("username", str)], entry)
        add_models(house, tables)
        add_units(house, tables["units"])
        add_stock(house, tables["stock"])
        add_jobs(house, tables["client"], tables["job"])
        add_faults(house, tables["fault"])
        add_sessions(house, tables["session"])
        add_rentals(house, tables["rental"])
        add_services(house, tables["service"])
        add_moves(house, tables["moved"])
        add_settings(house, tables["setting"])
        answer_calls(house)
        add_leaves(house, tables["leave"])
        write_sign_ins(sign_in_file, house.sign_ins)
    return _counted()


def _must_be_empty() -> None:
    for model in (Site, Person, GearModel, Client):
        if model._default_manager.exists():
            raise DemoError(
                f"This house isn't empty: it already has a {model._meta.verbose_name}. "
                "A demo house needs a database of its own."
            )


def _counted() -> Loaded:
    counted = (Site, Room, Person, GearModel, GearUnit, Fault, Session)
    return Loaded(*(model._default_manager.count() for model in counted))
