"""From a session's plan to its headphones: what is free in the house, what the list asks, what somebody has chosen."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import Q

from bookings.models import Session
from studio.claims import in_the_way
from studio.models import Channel, Fault, GearModel, GearUnit, Stay
from tasks.catalogue import load_catalogue
from tasks.checklists.sheet import SheetCue
from tasks.cues.asked import asked_mixes, said_mixes
from tasks.cues.planning import Choice, Cue, Output, Phones, Player, cues, players
from tasks.floor.stations import FloorInput, Station, stations
from tasks.models import CueChoice, CuePlace, Plan
from tasks.planning import snapshot as records
from tasks.words.reading import read_here, words_here

LIKE_A_MIX = re.compile(
    r"mix|mezcla|monitor|\bmons?\b|\baux|\bbus|retour|env[ií]o|salida|spi[ae]\b|mandat|uscit|foldback|circuit|uitgang",
    re.IGNORECASE,
)
KINDS = [GearModel.Kind.HEADPHONES, GearModel.Kind.HEADPHONE_AMP]


@dataclass(frozen=True, slots=True)
class Shelf:
    """What of headphones and their amplifiers is free, by the names that the plan uses."""

    units: dict[str, GearUnit] = field(default_factory=dict)
    channels: dict[tuple[str, int], Channel] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Cues:
    """The headphone plan with the rows behind its names."""

    made: tuple[Cue, ...] = ()
    shelf: Shelf = field(default_factory=Shelf)

    @property
    def resource_ids(self) -> set[int]:
        """What a session claims for it: each amplifier with the outputs used, and each pair of headphones."""
        found = set()
        for cue in self.made:
            if cue.output:
                found.add(self.shelf.units[cue.output.unit].resource_id)
                found.add(self.shelf.channels[cue.output.unit, cue.output.number].resource_id)
            if cue.phones:
                found.add(self.shelf.units[cue.phones.tag].resource_id)
        return found


def cues_for(session: Session, made: records.Plan) -> Cues:
    """A plan that isn't saved yet. Constant in queries; none for a list of which nobody wears headphones."""
    found = stations([_input(each) for each in made.inputs], load_catalogue())
    if not found:
        return Cues()
    wearing = who_plays(session, found)
    if all(each.without for each in wearing):
        return Cues(cues(wearing, (), ()))
    shelf = free_now(session)
    outputs, phones = _outputs(shelf), _phones(shelf)
    return Cues(cues(wearing, outputs, phones), shelf)


def who_plays(session: Session, found: Sequence[Station]) -> tuple[Player, ...]:
    chosen = {row.player: Choice(row.mix, row.wears) for row in CueChoice.objects.filter(session=session)}
    return players(found, _asked(session, found), chosen)


def _asked(session: Session, found: Sequence[Station]) -> dict[str, str]:
    """The list is read once more only where something in it looks like a mix."""
    if not LIKE_A_MIX.search(session.instrument_list):
        return {}
    words = words_here()
    said = said_mixes(read_here(session.instrument_list, words).not_inputs)
    return asked_mixes(said, found, lambda text: read_here(text, words).sources) if said else {}


def _input(each: records.PlannedInput) -> FloorInput:
    return FloorInput(each.number, each.label, each.source, each.pickup.value, each.stand or "", each.line)


def free_now(session: Session) -> Shelf:
    """What works, is at the site, stands in no other room for good, and nobody else has in that time. Four queries."""
    rooms = [room.pk for room in session.room.with_parts()]
    reach = Q(home_room__isnull=True) | Q(home_room__in=rooms)
    away = Stay.objects.open().filter(~Q(kind=Stay.Kind.ROOM)).values("unit")
    found = GearUnit.objects.filter(reach, site=session.room.site, retired=False, gear_model__kind__in=KINDS)
    units = list(
        found.exclude(pk__in=away)
        .select_related("gear_model__listening", "home_room", "site")
        .prefetch_related("channels")
        .order_by("tag")
    )
    out = set(_out(session, units))
    ids = [unit.resource_id for unit in units]
    ids += [channel.resource_id for unit in units for channel in unit.channels.all()]
    taken = set(in_the_way(ids, session.whole, but_not=session).values_list("resource_id", flat=True))
    usable = [unit for unit in units if unit.resource_id not in taken and (unit.pk, None) not in out]
    channels = {
        (unit.tag, channel.number): channel
        for unit in usable
        for channel in unit.channels.all()
        if channel.resource_id not in taken and (unit.pk, channel.pk) not in out
    }
    return Shelf({unit.tag: unit for unit in usable}, channels)


def _out(session: Session, units: Iterable[GearUnit]) -> Iterable[tuple[int, int | None]]:
    faults = Fault.objects.during(session.whole).filter(unit__in=[unit.pk for unit in units])
    return faults.filter(severity=Fault.Severity.OUT).values_list("unit", "channel")


def _outputs(shelf: Shelf) -> list[Output]:
    """Those of the room first, then by tag and number."""
    found = []
    for (tag, number), channel in shelf.channels.items():
        unit = shelf.units[tag]
        found.append((unit.home_room_id is None, tag, channel.number, _output(unit, number)))
    return [each for *_, each in sorted(found, key=lambda row: row[:3])]


def _output(unit: GearUnit, number: int) -> Output:
    figures = getattr(unit.gear_model, "listening", None)
    least = figures.least_load_ohm if figures else None
    return Output(unit.tag, number, least, alone=unit.gear_model.channels == 1)


def _phones(shelf: Shelf) -> list[Phones]:
    pairs = [u for u in shelf.units.values() if u.gear_model.kind == GearModel.Kind.HEADPHONES]
    pairs.sort(key=lambda unit: (unit.home_room_id is None, unit.tag))
    return [phones_of(unit) for unit in pairs]


def phones_of(unit: GearUnit) -> Phones:
    figures = getattr(unit.gear_model, "listening", None)
    return Phones(
        tag=unit.tag,
        model=str(unit.gear_model),
        impedance_ohm=figures.impedance_ohm if figures else None,
        closed=figures.closed if figures else True,
        where=unit.where,
    )


def sheet_cues(found: Cues) -> tuple[SheetCue, ...]:
    """The same in the words of the checklist."""
    return tuple(_sheet_cue(cue, found.shelf) for cue in found.made)


def _sheet_cue(cue: Cue, shelf: Shelf) -> SheetCue:
    tags = [cue.output.unit] if cue.output else []
    tags += [cue.phones.tag] if cue.phones else []
    return SheetCue(
        player=cue.player,
        mix=cue.mix,
        output=cue.output.name if cue.output else "",
        phones=cue.phones.tag if cue.phones else "",
        fetch=tuple((shelf.units[tag].where, tag) for tag in tags),
    )


def keep_cues(plan: Plan, found: Cues) -> None:
    """One query."""
    CuePlace.objects.bulk_create(
        CuePlace(
            plan=plan,
            order=order,
            player=cue.player[:120],
            mix=cue.mix[:40],
            output=found.shelf.channels[cue.output.unit, cue.output.number] if cue.output else None,
            headphones=found.shelf.units[cue.phones.tag] if cue.phones else None,
            why=cue.why[:300],
        )
        for order, cue in enumerate(found.made, start=1)
    )


def cues_of(plan: Plan) -> tuple[Cue, ...]:
    """The headphone plan as it was saved. One query."""
    rows = plan.cues.select_related(
        "output__unit__gear_model__listening",
        "headphones__gear_model__listening",
        "headphones__home_room",
        "headphones__site",
    )
    return tuple(
        Cue(
            row.player,
            row.mix,
            _output(row.output.unit, row.output.number) if row.output else None,
            phones_of(row.headphones) if row.headphones else None,
            row.why,
        )
        for row in rows
    )


def said_of_mixes(session: Session) -> tuple[str, ...]:
    """What the list itself says of monitor mixes. One query."""
    if not LIKE_A_MIX.search(session.instrument_list):
        return ()
    return said_mixes(read_here(session.instrument_list).not_inputs)
