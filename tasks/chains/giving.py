"""Inserts for a planned session: who wishes for what, what there is, and the rows that are kept."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from bookings.models import Session
from tasks.catalogue import load_catalogue
from tasks.chains.look import Racks, look_at_racks
from tasks.checklists.sheet import SheetInsert
from tasks.models import PlannedInput, PlannedInsert
from tasks.planning import snapshot as records
from tasks.planning.chain_records import ChainHouse, ChainNeed, Chains, InsertWish, Spot
from tasks.planning.chains import chains
from tasks.recall import last_of_job

NO_RACKS = Racks((), (), (), {}, {})
Wanted = tuple[InsertWish, ...]


@dataclass(frozen=True, slots=True)
class Given:
    """Who wished for what, what was given, and the rows behind it."""

    house: ChainHouse
    chains: Chains
    racks: Racks

    @property
    def resource_ids(self) -> set[int]:
        """Each unit, and of its channels those that are used: whoever has a channel has the rack."""
        ids = {self.racks.rows[row.unit].resource_id for row in self.chains.inserts}
        spots = {(row.unit, row.channel) for row in self.chains.inserts} & set(self.racks.channels)
        return ids | {self.racks.channels[spot].resource_id for spot in spots}


def inserts_for(session: Session, needs: Iterable[records.Need], made: records.Plan) -> Given:
    """What each planned input is to have inserted. Looks at the racks only where somebody wishes for something."""
    wishing = _wishing(session, needs, made)
    if not any(need.wishes for need in wishing):
        return Given(ChainHouse(wishing, ()), Chains((), ()), NO_RACKS)
    racks = look_at_racks(session.room, session.whole, session)
    house = ChainHouse(_as_before(session, wishing), racks.units, racks.missing, racks.elsewhere)
    return Given(house, chains(house), racks)


def _wishing(session: Session, needs: Iterable[records.Need], made: records.Plan) -> tuple[ChainNeed, ...]:
    """By hand goes before the catalogue and before lead parts; what is chosen for half a pair holds for both."""
    by_number = {need.number: need for need in needs}
    rows = [by_number[row.number] for row in made.inputs if row.number in by_number]
    by_hand = chosen(session)
    found = []
    for need in rows:
        labels = [n.label for n in rows if n is need or (need.pair is not None and n.pair == need.pair)]
        latest = max(
            (by_hand[label] for label in labels if label in by_hand), default=None, key=lambda c: c[0]
        )
        wishes = latest[1] if latest else usual(need.source)
        priority = 0 if latest else need.priority
        found.append(ChainNeed(need.number, need.label, wishes, priority, need.pair))
    return tuple(found)


def usual(source: str) -> Wanted:
    """What the catalogue inserts on a source, by the name that a plan keeps."""
    catalogue = load_catalogue()
    known = catalogue.by_name.get(source)
    return catalogue.chains.of_source.get(known.id, ()) if known else ()


def chosen(session: Session) -> dict[str, tuple[datetime, Wanted]]:
    """By label, when and what; an insert that the catalogue no longer knows is left out."""
    inserts = load_catalogue().chains.inserts
    return {
        wish.label: (wish.at, tuple(inserts[name] for name in wish.inserts if name in inserts))
        for wish in session.chain_wishes.all()
    }


def _as_before(session: Session, needs: tuple[ChainNeed, ...]) -> tuple[ChainNeed, ...]:
    """Each with what it has until now; for a first plan, what it had in the last session of the job."""
    had = _had(session)
    if not had and (last := last_of_job(session)):
        had = _had(last)
    return tuple(
        replace(
            need,
            before=tuple(
                had.get((need.label, place, wish.kind)) for place, wish in enumerate(need.wishes, start=1)
            ),
        )
        for need in needs
    )


def _had(session: Session) -> dict[tuple[str, int, str], Spot]:
    rows = PlannedInsert.objects.filter(input__plan__session=session, unit__isnull=False)
    return {
        (row.input.label, row.place, row.kind): (row.unit.tag, row.channel.number if row.channel else 1)
        for row in rows.select_related("input", "unit", "channel")
        if row.unit
    }


def keep_inserts(given: Given, inputs: Sequence[PlannedInput]) -> list[PlannedInsert]:
    """Save them with the inputs of the plan, which have been saved."""
    by_number = {row.number: row for row in inputs}
    made = [
        PlannedInsert(
            input=by_number[got.number],
            **_of_wish(got.place, got.wish),
            unit=given.racks.rows[got.unit],
            channel=given.racks.channels.get((got.unit, got.channel)),
            settings=[list(pair) for pair in got.settings],
            why=list(got.why),
        )
        for got in given.chains.inserts
    ]
    made += [
        PlannedInsert(
            input=by_number[lost.number],
            **_of_wish(lost.place, lost.wish),
            why=[lost.reason],
            help=list(lost.help),
        )
        for lost in given.chains.unmet
    ]
    made.sort(key=lambda row: (row.input.number, row.place))
    return PlannedInsert.objects.bulk_create(made)


def sheet_inserts(given: Given) -> dict[int, tuple[SheetInsert, ...]]:
    """For the checklist, by the number of the input."""
    units = {unit.tag: unit for unit in given.racks.units}
    found: dict[int, list[SheetInsert]] = {}
    for got in sorted(given.chains.inserts, key=lambda row: (row.number, row.place)):
        unit = units[got.unit]
        fetch = "" if unit.here else given.racks.rows[got.unit].where
        each = SheetInsert(got.unit, got.channel, fetch, unit.valves, got.settings, got.wish.says)
        found.setdefault(got.number, []).append(each)
    return {number: tuple(inserts) for number, inserts in found.items()}


def _of_wish(place: int, wish: InsertWish) -> dict[str, object]:
    return {"place": place, "kind": wish.kind, "name": wish.name, "says": wish.says}
