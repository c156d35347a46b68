"""Floors of rooms, sources moved by hand, and units as they were set, written as in the house's own forms."""

from __future__ import annotations

import io
from collections.abc import Sequence
from math import cos, pi, sin

from PIL import Image, ImageDraw

from studio.floors.forms import FloorForm
from studio.floors.shapes import bounds
from studio.floors.views import keep_floor
from studio.models import RoomFloor
from studio.photos.keeping import keep_photo
from studio.photos.pictures import cleaned
from tasks.demo.entries import Entry
from tasks.demo.house import House
from tasks.floor.moving import Moves, keep_moves
from tasks.follow import replan_stale
from tasks.models import UnitSetting
from tasks.recalling.keeping import restore_ahead

OF_FLOOR = ("use", "outline", "boxes", "doors", "windows", "fixed")


def add_floors(house: House, entries: Sequence[Entry]) -> None:
    for entry in entries:
        entry.only("room", *OF_FLOOR)
        room = entry.find(house.rooms, entry.get("room", str), "room")
        form = FloorForm({name: entry.get(name, str, "") for name in OF_FLOOR}, room=room, row=None)
        if not form.is_valid():
            said = [f"{name}: {text}" for name, texts in form.errors.items() for text in texts]
            raise entry.wrong("; ".join(said))
        keep_floor(room, form)


def add_moves(house: House, entries: Sequence[Entry]) -> None:
    """across and down are from the left and from the top of a room."""
    for entry in entries:
        entry.only("session", "room", "source", "across", "down", "by")
        session = entry.find(house.sessions, entry.get("session", str), "session")
        room = entry.find(house.rooms, entry.get("room", str), "room")
        left, top, _, _ = bounds(RoomFloor.objects.get(room=room).as_area().outline)
        at = left + float(entry.values["across"]), top + float(entry.values["down"])
        by = entry.find(house.people, entry.get("by", str), "person")
        keep_moves(by, session, Moves({entry.get("source", str): at}, frozenset()))


def add_settings(house: House, entries: Sequence[Entry]) -> None:
    """hours: where the knobs in the picture point, as on a clock; without them there is no picture."""
    for entry in entries:
        entry.only("session", "unit", "words", "hours", "by")
        session = entry.find(house.sessions, entry.get("session", str), "session")
        unit = entry.find(house.units, entry.get("unit", str), "unit")
        by = entry.find(house.people, entry.get("by", str), "person")
        words = entry.get("words", str).strip()
        row = UnitSetting.objects.create(session=session, unit=unit, words=words, by=by, at=session.end)
        if hours := entry.get("hours", list, []):
            row.photos.add(keep_photo(by, unit, panel([float(hour) for hour in hours])))
        restore_ahead(session)
    replan_stale()


def panel(hours: Sequence[float]) -> bytes:
    """The drawn face of a unit as a JPEG: one knob for each hour of the clock at which it points."""
    image = Image.new("RGB", (200 * len(hours) + 100, 300), (58, 60, 58))
    draw = ImageDraw.Draw(image)
    for number, hour in enumerate(hours):
        x, y, turn = 150 + 200 * number, 150, hour / 12 * 2 * pi
        draw.ellipse((x - 70, y - 70, x + 70, y + 70), fill=(20, 20, 18), outline=(200, 196, 180), width=4)
        draw.line((x, y, x + 62 * sin(turn), y - 62 * cos(turn)), fill=(244, 239, 228), width=9)
    kept = io.BytesIO()
    image.save(kept, "PNG")
    return cleaned(kept.getvalue())
