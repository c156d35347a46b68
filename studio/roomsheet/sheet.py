"""What a room's page says: faults and limits of what stands in it, quirks, what stays switched on, what is gone."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.db.models import Q
from django.utils import timezone

from studio.access import Act, require
from studio.clock import say, say_span
from studio.gear.queries import whole_units
from studio.gear.state import ChannelRow, State, channel_rows, state_of
from studio.models import Claim, Fault, GearUnit, Person, Room, RoomNote, Stay
from studio.spans import Span
from studio.whereabouts.where import place_of

Kind = RoomNote.Kind
CLOSED = [Claim.Purpose.CLOSURE, Claim.Purpose.UPKEEP]


class NoteRefused(ValueError):
    """The message is a sentence that says what to do."""


@dataclass(frozen=True, slots=True)
class Wrong:
    """A unit with something open. channels: those that aren't sound."""

    unit: GearUnit
    state: State
    channels: list[ChannelRow]


@dataclass(frozen=True, slots=True)
class Gone:
    """What lives here and is elsewhere."""

    unit: GearUnit
    place: str
    due: str


@dataclass(frozen=True, slots=True)
class Sheet:
    wrong: list[Wrong] = field(default_factory=list)
    closed: list[str] = field(default_factory=list)
    quirks: list[RoomNote] = field(default_factory=list)
    stays: list[RoomNote] = field(default_factory=list)
    gone: list[Gone] = field(default_factory=list)

    @property
    def nothing(self) -> bool:
        return not (self.wrong or self.closed or self.quirks or self.stays or self.gone)


def sheet_of(room: Room) -> Sheet:
    """A constant number of queries, however many things stand in the room and its parts."""
    rooms = room.with_parts()
    away = Stay.objects.open().exclude(room__in=rooms)
    there = Q(home_room__in=rooms) & ~Q(pk__in=away.values("unit"))
    there |= Q(pk__in=Stay.objects.open().filter(room__in=rooms).values("unit"))
    faulty = Fault.objects.open().values("unit")
    units = whole_units().filter(there, retired=False, pk__in=faulty).order_by("tag")
    notes = list(RoomNote.objects.filter(room__in=rooms, ended_at__isnull=True).select_related("room"))
    return Sheet(
        [_wrong(unit) for unit in units],
        _closed(rooms),
        [note for note in notes if note.kind == Kind.QUIRK],
        [note for note in notes if note.kind == Kind.STAYS],
        _gone(rooms),
    )


def _wrong(unit: GearUnit) -> Wrong:
    rows = [row for row in channel_rows(unit) if not row.state.works]
    whole = any(fault.channel_id is None and fault.closed_at is None for fault in unit.faults.all())
    return Wrong(unit, state_of(unit), [] if whole else rows)


def _closed(rooms: list[Room]) -> list[str]:
    """Closures and upkeep that stand now. What they are for isn't said: it may be a session's name."""
    now = timezone.now()
    standing = Claim.objects.firm().filter(purpose__in=CLOSED, resource__in=[r.resource_id for r in rooms])
    found = standing.overlapping(Span(now, None)).filter(starts__lte=now).select_related("resource")
    tz = rooms[0].site.tz
    return [f"{c.resource.name}: {c.get_purpose_display()}, {say_span(c.span, tz)}" for c in found]


def _gone(rooms: list[Room]) -> list[Gone]:
    stays = Stay.objects.open().filter(unit__home_room__in=rooms, unit__retired=False)
    away = stays.exclude(room__in=rooms).select_related("unit", "room__site").order_by("unit__tag")
    tz = rooms[0].site.tz
    return [Gone(s.unit, _place(s), f"due back {say(s.due_at, tz)}" if s.due_at else "") for s in away]


def _place(stay: Stay) -> str:
    """Without who has it: a visitor needs to know only that it isn't here."""
    return place_of(stay) if stay.room else str(stay.get_kind_display())


def add_note(by: Person, room: Room, kind: str, words: str) -> RoomNote:
    """A quirk to know of, or an exception that stays switched on until somebody ends it."""
    require(by, Act.MOVE_GEAR)
    words = " ".join(words.split())
    if not words:
        raise NoteRefused("Say what there is to know, in a few words.")
    if len(words) > 300:
        raise NoteRefused(f"Say it in 300 letters or fewer; these are {len(words)}.")
    return RoomNote.objects.create(room=room, kind=Kind(kind), words=words, since=timezone.now(), by=by)


def end_note(by: Person, note: RoomNote) -> RoomNote:
    """It is so no longer. The first press stands."""
    require(by, Act.MOVE_GEAR)
    RoomNote.objects.filter(pk=note.pk, ended_at__isnull=True).update(ended_at=timezone.now())
    note.refresh_from_db()
    return note
